"""Options that several commands share."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter

UnitChoice = Literal["si", "ip", "both"]
DeviceWord = Literal["cpu", "gpu", "auto"]
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
        Units of tables and pictures; "both" draws pictures in SI.
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
