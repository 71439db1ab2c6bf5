"""The door of the command line: which commands there are, and what happens when something goes wrong.

Commands are imported when they are called, so that `joistbay --help` answers at once.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from difflib import get_close_matches
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from sim.cli.environment import settle_environment, stands_nowhere
from sim.cli.errors import BAD_INPUT, FAILED, STOPPED, exit_code_of, say_error
from sim.cli.first_word import first_word
from sim.cli.keeping import NotKeptError
from sim.cli.letters import settle_streams
from sim.cli.stopping import forget, heed_signals, say_when_stopped, stopped_line
from sim.cli.streams import heed_no_deaf_reader, settle_closed
from sim.cli.usage import examples_of, print_panel, trimming_console, usage_of
from sim.machine.gate import was_interrupted
from sim.machine.remarks import show_remarks_plainly
from sim.machine.shipped import shipped

if TYPE_CHECKING:
    from cyclopts import App, CycloptsError

# Small dense solves inside loops must not wait for threads; the heavy loops are threaded by other means.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

_COMMANDS = {
    "begin": "Write a first case file, to be filled in.",
    "run": "Solve one case; keep report, fields and pictures.",
    "compare": "Plate spacings, or other choices, side by side.",
    "water": "The water for a heat flux, and the limit reached first.",
    "spacing": "The widest plate spacing for a heat flux, within limits.",
    "house": "A whole house: water and plates of each room, circuits, pump.",
    "study": "Uncertain inputs: intervals of the results, what matters most.",
    "warmup": "A case in time: warm-up, setback, thermostat, weather.",
    "explore": "Change a bay or a house by hand on a page in the browser.",
    "lesson": "Ten lessons for a class, each with picture, worksheet and key.",
    "check": "Show what a case models, without solving it.",
    "keys": "List the keys of a case file, with defaults and meaning.",
    "materials": "List the materials library.",
    "verify": "Problems with a known answer: computed against published.",
    "report": "A stored run as one page to hand over, HTML and PDF.",
    "view": "A stored run as a scene to turn in the browser.",
    "export": "Write a run for other programs: vtu, xdmf or csv.",
}

_HELP = "Wood floors heated by warm water in the joist bays: heat up and down, floor temperatures, plates."

_EXAMPLES = """Examples:
  joistbay begin my-bay.toml --joists "16 in" --covering oak
  joistbay check cases/demo/kitchen-vinyl.toml
  joistbay run cases/demo/kitchen-vinyl.toml
  joistbay compare cases/demo/kitchen-vinyl.toml --spacing 9in,12in,none
  joistbay water cases/demo/family-oak.toml --flux "60 W/m^2"
  joistbay spacing cases/demo/family-oak.toml --flux "52 W/m^2" --ripple 2.5K
  joistbay warmup cases/demo/family-oak.toml --spacing 225mm,450mm,none
  joistbay house cases/house/demo-house.toml
  joistbay explore cases/demo/family-oak.toml

Cases that begin with cases/ come with the program; they need not be here.
`joistbay COMMAND --help` explains one command."""


LONGEST_LINE = 400
"""Characters of what is said about arguments [-]."""


def build_app(shows_help: bool = False) -> App:
    """The application with all its commands, none of them imported yet; lines of help end with their last letter."""
    from cyclopts import App

    app = App(
        name="joistbay",
        usage="Usage: joistbay COMMAND",
        console=trimming_console() if shows_help else None,
        help=_HELP,
        help_epilogue=_EXAMPLES,
        help_format="plaintext",
        help_formatter=_whole_sentences,
        version=_version,
        suppress_keyboard_interrupt=False,
    )
    for place, (name, summary) in enumerate(_COMMANDS.items()):
        app.command(
            f"sim.cli.{name}:{name}",
            name=name,
            help=summary,
            usage=usage_of(name),
            help_epilogue=examples_of(name),
            help_formatter=print_panel,
            sort_key=place,
        )
    return app


def _whole_sentences(console: Any, options: Any, panel: Any) -> None:
    """Help whose sentences run on where their lines end in our sources."""
    from cyclopts.help import DefaultFormatter

    for entry in panel.entries:
        if text := getattr(entry.description, "primary_renderable", None):
            text.plain = " ".join(text.plain.split())
    DefaultFormatter()(console, options, panel)


def _version() -> str:
    from importlib.metadata import version

    return f"joistbay {version('joistbay')}"


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    argv : sequence of str or None
        Arguments after the program's name; None takes those of this process.

    Returns
    -------
    int
        0 done, 1 a run that failed, 2 bad input (nothing was written), 130 stopped by Ctrl-C. As a program (argv
        None) a signal ends the process at once, with 128 and its number.
    """
    forget()
    show_remarks_plainly()
    if argv is None:
        settle_closed()
        heed_no_deaf_reader()
        heed_signals()
        settle_environment()
        if stands_nowhere():
            say_error("joistbay: the folder you are in is no more; go to one that is there")
            return BAD_INPUT
    from cyclopts import CycloptsError

    settle_streams()
    tokens = [_at_home(token) for token in (sys.argv[1:] if argv is None else argv)]
    if argv is None and tokens and tokens[0] in _COMMANDS:
        first_word.await_(tokens[0])
    try:
        app = build_app(shows_help=not {"--help", "-h"}.isdisjoint(tokens or ["-h"]))
        result = app(tokens, exit_on_error=False, print_error=False, result_action="return_value")
        sys.stdout.flush()
        say_when_stopped("everything was done")
    except KeyboardInterrupt:
        say_error(stopped_line())
        return STOPPED
    except BrokenPipeError:
        return _reader_left()
    except CycloptsError as error:
        say_error(f"joistbay: {_brief(usage_line(error))} ({_where_to_look(tokens)})")
        return BAD_INPUT
    except Exception as error:
        if was_interrupted(error):
            say_error(stopped_line())
            return STOPPED
        if isinstance(error, NotKeptError):
            _show_all_the_same(error)
        code = exit_code_of(error)
        if code is not None:
            say_error(_in_typed_units(str(error), tokens) if code == FAILED else str(error))
        elif isinstance(error, OSError) or "cannot cache function" in str(error):
            say_error(_what_the_machine_refused(error))
        else:
            raise
        return FAILED if code is None else code
    finally:
        first_word.spoken()
    return int(result or 0)


def _in_typed_units(text: str, tokens: Sequence[str]) -> str:
    """What failed, in the one system of units that was asked for; in both where none was.

    >>> _in_typed_units("water of 95.0 °C (203.0 °F) gives less", ["water", "den.toml", "--units", "ip"])
    'water of 203.0 °F gives less'
    """
    from sim.results.spelling import in_one_system

    typed = " ".join(tokens).replace("--units=", "--units ").split()
    after = [word for name, word in pairwise(typed) if name == "--units"]
    return in_one_system(text, after[-1]) if after and after[-1] in ("si", "ip") else text  # type: ignore[arg-type]


def _show_all_the_same(error: NotKeptError) -> None:
    """Show results that could not be saved, as far as the output is taken: it may go to the same full disk."""
    try:
        error.show()
        sys.stdout.flush()
    except OSError as refused:
        say_error(_what_the_machine_refused(refused))


def _at_home(token: str) -> str:
    """A path such as cases/demo/family-oak.toml where there is none: the case of that name that comes with us."""
    found = shipped(token) if token.startswith("cases/") else None
    if found is None:
        return token
    say_error(f"joistbay: {token} is not here; taken from those that come with the program, {found}")
    return str(found)


def _what_the_machine_refused(error: Exception) -> str:
    """In one line what the machine did not let us do, as on a full disk or without access; output ends there."""
    if not isinstance(error, OSError):
        return "joistbay: no folder for compiled kernels can be written; set NUMBA_CACHE_DIR to one that can"
    try:
        sys.stdout.flush()
    except OSError:
        _reader_left()
        return f"joistbay: the output cannot be written ({error.strerror or error})"
    return f"joistbay: {f'{error.filename}: ' if error.filename else ''}{error.strerror or error}"


def usage_line(error: CycloptsError) -> str:
    """What is wrong with the arguments, in one line with the nearest name where there is one."""
    from cyclopts.exceptions import MissingArgumentError, UnknownCommandError, UnknownOptionError, UnusedCliTokensError

    unused = error.unused_tokens or [""]
    if isinstance(error, UnusedCliTokensError):
        return f'too many arguments: "{unused[0]}" was not expected'
    if isinstance(error, UnknownCommandError) and unused[0].startswith("-"):
        return f'unknown option "{unused[0]}"'
    if isinstance(error, UnknownCommandError):
        near = get_close_matches(unused[0], _COMMANDS, n=1)
        known = f'did you mean "{near[0]}"?' if near else f"commands: {', '.join(_COMMANDS)}"
        return f'unknown command "{unused[0]}"; {known}'
    if isinstance(error, MissingArgumentError) and error.argument is not None:
        return f"{error.keyword} needs a value" if error.keyword else f"{error.argument.name} is missing"
    text = " ".join(str(error).split()).rstrip(".")
    if isinstance(error, UnknownOptionError):
        word = error.token.keyword or error.token.value
        if os.path.lexists(word):
            return f'"{word}" reads as an option; write ./{word} for the file of that name'
        if text.endswith(f"Did you mean {word}?"):
            return f'behind "--" no option is read; put {word} before it'
    return text[:1].lower() + text[1:]


def _brief(line: str) -> str:
    """A line without the middle of what is far too long to be read."""
    return line if len(line) <= LONGEST_LINE else f"{line[: LONGEST_LINE // 2]} ... {line[-LONGEST_LINE // 2 :]}"


def _where_to_look(tokens: Sequence[str]) -> str:
    command = f" {tokens[0]}" if tokens and tokens[0] in _COMMANDS else ""
    return f"see joistbay{command} --help"


def _reader_left() -> int:
    """The reader of our output has closed it (`joistbay keys | head`): keep the shutdown flush quiet."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return FAILED
