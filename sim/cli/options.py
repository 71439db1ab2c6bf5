"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal

from cyclopts import Parameter

from sim.machine import devices


def _whole(kind: Any, tokens: Sequence[Any]) -> int:
    """A count as it was typed; one with a fraction is refused, where the library would round it without a word."""
    text = tokens[0].value
    try:
        return int(text)
    except ValueError:
        raise ValueError(f'got "{text}"; must be a whole number') from None


WholeNumber = Annotated[int, Parameter(converter=_whole)]
"""An option that counts something."""

UnitChoice = Literal["si", "ip", "both"]
AirWord = Literal["films", "correlations", "still", "resolved"]
DeviceWord = devices.DeviceWord
FinenessWord = Literal["coarse", "normal", "fine", "finest"]


@Parameter(name="*")
@dataclass(frozen=True, slots=True)
class Output:
    """What to make of the results.

    Parameters
    ----------
    out
        Folder to make; below runs/ when left out. Earlier results there are replaced.
    units
        Units of tables and pictures; "both" draws pictures in those that the case file speaks, else in SI.
    json
        Print JSON instead of tables.
    no_pictures
        Draw nothing.
    """

    out: Path | None = None
    units: UnitChoice = "both"
    json: Annotated[bool, Parameter(negative=(), show_default=False)] = False
    no_pictures: Annotated[bool, Parameter(negative=(), show_default=False)] = False


USUAL = Output()
"""The options when none is given."""


@Parameter(name="*")
@dataclass(frozen=True, slots=True)
class PagedOutput(Output):
    """The same, for commands that write their results as a page to hand over as well.

    Parameters
    ----------
    out
        Folder to make; below runs/ when left out. Earlier results there are replaced.
    units
        Units of tables, pictures and page; "both" draws in those that the case file speaks.
    json
        Print JSON instead of tables.
    no_pictures
        Draw nothing.
    no_page
        Write no page (report.html) beside the results.
    """

    no_page: Annotated[bool, Parameter(negative=(), show_default=False)] = False


USUAL_PAGED = PagedOutput()
"""Its options when none is given."""
