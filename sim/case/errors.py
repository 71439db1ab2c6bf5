"""What is wrong with a case file, said so that a person can mend it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sim.machine.brief import Brief, small_tree

LONGEST_PATH = 300
"""Characters of a path that are told."""

MOST_SHOWN = 20
"""Problems of one file that are told; a file with more is wrong as a whole."""


def visible(text: str) -> str:
    """Text without characters that steer a terminal: those are written out, line breaks apart.

    >>> visible("a\\x1b[2Jb")
    'a\\\\x1b[2Jb'
    """
    return "".join(c if c.isprintable() or c == "\n" else c.encode("unicode_escape").decode() for c in text)


def name_shown(path: object) -> str:
    """A path for a message: in one line, and without what steers a terminal.

    >>> name_shown("a\\nb.toml")
    'a\\\\nb.toml'
    """
    return visible(str(path)).replace("\n", "\\n")


def shortened(text: str, most: int = 60) -> str:
    """Text in one line of at most `most` characters for a message, whatever was given."""
    line = visible(" ".join(text[: 4 * most].split()))
    return line if len(line) <= most else line[: most - 3] + "..."


@dataclass(frozen=True, slots=True, repr=False)
class Problem(Brief):
    """One thing wrong in a case file.

    Parameters
    ----------
    key : str
        Path of the key, such as ``plates.width``; empty when the file as a whole is meant.
    given : str
        What stood there, as text; empty when nothing did.
    rule : str
        The rule it breaks.
    way_out : str
        What to write instead; may be empty.
    """

    key: str
    given: str
    rule: str
    way_out: str = ""

    def __str__(self) -> str:
        return "; ".join(
            part for part in (self.given and f"got {visible(self.given)}", self.rule, self.way_out) if part
        )


class CaseError(ValueError):
    """A case cannot be used; carries every problem found at one stage of checking.

    Parameters
    ----------
    path : str
        The file, or the name of the case when it has no file.
    problems : iterable of Problem
        At least one problem.
    called : mapping
        What a person calls the sections of lists, by their place, such as ``room "Bath"`` for ``room[3]``: messages
        say that instead.
    """

    def __init__(self, path: str, problems: Iterable[Problem], called: Mapping[str, str] | None = None) -> None:
        self.path = path
        self.problems = tuple(problems)
        self.called = dict(called or {})
        super().__init__(path, self.problems, self.called)

    def __repr__(self) -> str:
        return small_tree(f"CaseError {self.path}", [(problem.key, str(problem)) for problem in self.problems])

    def __str__(self) -> str:
        shown = self.problems[:MOST_SHOWN]
        keys = [self.spoken(problem.key) for problem in shown]
        width = min(max(map(len, keys), default=0), 36)
        lines = [
            f"  {shortened(key, 100):<{width}}   {problem}" if key else f"  {problem}"
            for key, problem in zip(keys, shown, strict=True)
        ]
        count = len(self.problems)
        if count > len(shown):
            lines.append(f"  and {count - len(shown):,} more")
        path = self.path if len(self.path) <= LONGEST_PATH else shortened(self.path, LONGEST_PATH)
        return "\n".join([path, *lines, f"{count:,} problem{'s' * (count != 1)}. Nothing was run."])

    def spoken(self, key: str) -> str:
        """A key with its sections by name, inner ones before those that they lie in."""
        for place in sorted(self.called, key=len, reverse=True):
            key = key.replace(place, self.called[place])
        return key
