"""How each command is typed: its arguments in one line, and examples that work as they stand."""

from __future__ import annotations

import re
import sys
from typing import IO, TYPE_CHECKING, Any, cast

if TYPE_CHECKING:
    from cyclopts.help import HelpEntry, HelpPanel
    from rich.console import Console, ConsoleOptions

ARGUMENTS = {
    "begin": "[FILE]",
    "run": "CASE",
    "compare": "CASE [MORE...]",
    "water": "CASE --flux TEXT",
    "spacing": "CASE --flux TEXT",
    "house": "PATH",
    "study": "CASE --inputs TEXT...",
    "warmup": "CASE",
    "explore": "[CASE]",
    "lesson": "[NAME]",
    "check": "CASE",
    "keys": "[SECTION]",
    "materials": "[NAME]",
    "verify": "[NAMES...]",
    "report": "FOLDER",
    "view": "RUN",
    "export": "RUN --to WORD",
}
"""What follows the command's name, before its options."""

_OAK, _VINYL, _CARPET, _HOUSE = (
    "cases/demo/family-oak.toml",
    "cases/demo/kitchen-vinyl.toml",
    "cases/demo/bedroom-carpet.toml",
    "cases/house/demo-house.toml",
)

EXAMPLES = {
    "begin": (
        "",
        'den.toml --joists "19.2 in" --covering tile --supply 110degF',
        "loft.toml --joists 400mm --plates hung --below outdoors",
        "my-house.toml --house",
    ),
    "run": (_VINYL, f"{_VINYL} --units ip", f"{_VINYL} --uncertainty", f"{_CARPET} --air resolved --fineness coarse"),
    "compare": (
        f"{_VINYL} --spacing 9in,12in,none",
        f"{_VINYL} --vary plates.drop=25mm,50mm",
        f"{_VINYL} {_OAK}",
    ),
    "water": (f'{_OAK} --flux "60 W/m^2"', f'{_OAK} --flux "19 Btu/(h*ft^2)"'),
    "spacing": (f'{_OAK} --flux "52 W/m^2" --ripple 2.5K', f'{_OAK} --flux "52 W/m^2" --supply 45degC'),
    "house": (_HOUSE, f"{_HOUSE} --layout-only", f"{_HOUSE} --template"),
    "study": (f"{_VINYL} --inputs air.film_factor=0.7..1.4",),
    "warmup": (_OAK, f"{_OAK} --spacing 225mm,450mm,none", "cases/in-time/night-setback.toml"),
    "explore": ("", _OAK, _HOUSE),
    "lesson": ("", "heat-rises", "growing-gap --values 10,18"),
    "check": (_OAK, _HOUSE),
    "keys": ("plates", "plates.bond", "blocks", "units"),
    "materials": ("oak", "carpet"),
    "verify": ("plane-wall", "pipe-row --full"),
    "report": ("runs/kitchen-vinyl",),
    "view": ("runs/kitchen-vinyl", "runs/kitchen-vinyl --out kitchen.html"),
    "export": ("runs/kitchen-vinyl --to vtu", "runs/kitchen-vinyl --to csv"),
}
"""What may follow the command's name; cases that come with the program, and folders that such runs leave."""

_PLACEHOLDERS = {"STR": "TEXT", "INT": "NUMBER", "CHOICE": "WORD"}


def usage_of(command: str) -> str:
    """The line that shows how a command is typed."""
    return f"Usage: joistbay {command} {ARGUMENTS[command]} [OPTIONS]"


def examples_of(command: str) -> str:
    """Examples of a command, a line each."""
    lines = [f"  joistbay {command} {rest}".rstrip() for rest in EXAMPLES[command]]
    return "\n".join(["Examples:" if len(lines) > 1 else "Example:", *lines])


def print_panel(console: Console, options: ConsoleOptions, panel: HelpPanel) -> None:
    """Print a panel of arguments: texts flow over the width, whatever lines they have in the code."""
    from cyclopts.help import DefaultFormatter

    DefaultFormatter()(console, options, panel.copy(entries=[_plain(entry) for entry in panel.entries]))


def _plain(entry: HelpEntry) -> HelpEntry:
    """An entry in plain words: its text in one piece, and what to give instead of the name of a type."""
    text: Any = getattr(entry.description, "primary_renderable", None)
    if text is not None:
        text.plain = " ".join(text.plain.split())
    kind, dots, _ = (entry.metavar or "").partition("...")
    return entry.copy(metavar=f"{_PLACEHOLDERS.get(kind, kind)}{dots}" or None)


class _Trimmed:
    """Standard output, whose lines end with their last letter: the library fills them up with spaces."""

    def write(self, text: str) -> int:
        return sys.stdout.write(re.sub(r" +(?=\n)", "", text))

    def __getattr__(self, name: str) -> Any:
        return getattr(sys.stdout, name)


def trimming_console() -> Console:
    """Where help is printed."""
    from rich.console import Console

    return Console(file=cast("IO[str]", _Trimmed()))
