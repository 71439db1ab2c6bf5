"""Bays that come with the program, to begin with."""

from __future__ import annotations

from dataclasses import dataclass

from sim.case.bay_case import Case
from sim.case.load import parse_case
from sim.case.quantities import format_value
from sim.case.read_file import read_text
from sim.machine.shipped import SHIPPED
from sim.results.notation_used import units_written

ON_THE_SHELF = (
    "demo/family-oak", "demo/kitchen-vinyl", "demo/bathroom-tile", "demo/bedroom-carpet",
    "arrangements/hung-bare", "arrangements/tight-plates",
)  # fmt: skip
"""Short ones that answer at once: of one plate pitch."""


@dataclass(frozen=True, slots=True)
class ShelvedBay:
    """A bay that can be opened: its short name, its case, and the units that its file speaks."""

    name: str
    case: Case
    units: str = "si"

    def as_dict(self) -> dict[str, object]:
        """For the page: title, and a line about it in the units of its file."""
        return {"name": self.name, "title": self.case.title, "line": self._line(self.units.upper())}

    def _line(self, system: str) -> str:
        case = self.case
        joists = f"joists {format_value(case.bay.joist_spacing, 'length', system)} apart"
        plates = "no plates"
        if case.plates is not None:
            plates = f"plates every {format_value(case.plates.spacing, 'length', system)}, {case.plates.position}"
        return f"{joists}; {plates}; water {format_value(float(case.water.supply), 'temperature', system)}"


def shelf() -> list[ShelvedBay]:
    """The bays to begin with; those whose file is not installed are left out."""
    paths = [SHIPPED / f"{name}.toml" for name in ON_THE_SHELF]
    texts = {path: read_text(path) for path in paths if path.is_file()}
    cases = [(parse_case(text, path.stem, str(path)), units_written(text)) for path, text in texts.items()]
    return [ShelvedBay(bay.name, bay, units) for case, units in cases if (bay := case.joist_bay) is not None]
