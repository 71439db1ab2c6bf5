"""The keys of a case of blocks: any rectilinear build-up of boxes, with faces, tubes, contacts and probes."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from sim.case.blocks_air import AirSheet, BlocksAir
from sim.case.blocks_parts import Block, BlockContact, Face, Probe, is_held
from sim.case.blocks_time import BlocksTime
from sim.case.blocks_tube import BlockTube
from sim.case.case_keys import CaseKeys
from sim.case.conditions import Mesh
from sim.case.fields import NONE, key

AXES = ("x", "y", "z")


class BlocksKeys(CaseKeys):
    """All parts of a case of blocks, each checked by itself; SI and kelvin throughout."""

    kind: Literal["blocks"] = key("blocks", "boxes")
    name: str = key("case", "short name, the stem of the file")
    path: str | None = key(None, "the file it came from")
    title: str = key("", "one line for people")
    boxes: Annotated[tuple[Block, ...], Field(min_length=1)] = key(
        ..., "boxes of solids or air; where two overlap, the later one stands", alias="box"
    )
    faces: Annotated[tuple[Face, ...], Field()] = key(
        (), "what is known on a plane: a temperature, a heat flux, a film", alias="face"
    )
    tubes: tuple[BlockTube, ...] = key((), "round tubes along an axis", alias="tube")
    contacts: tuple[BlockContact, ...] = key((), "contact resistances in a plane between boxes", alias="contact")
    probes: tuple[Probe, ...] = key((), "points whose temperatures are told", alias="probe")
    sheets: tuple[AirSheet, ...] = key((), "thin sheets in air", alias="sheet")
    air: BlocksAir = Field(default_factory=BlocksAir, description="air in the cavities")
    mesh: Mesh = Field(default_factory=Mesh, description="cells")
    time: Annotated[BlocksTime | None, NONE] = key(None, 'how long it is followed in time, or "none"')

    @property
    def air_alone(self) -> bool:
        """Whether only the flow of the air is computed: `sim.solve_air` solves such a case, `sim.solve` all others."""
        held = all(box.air or is_held(box) for box in self.boxes)
        dry = all(tube.inner_diameter is None for tube in self.tubes)
        radiates = any(is_held(box) and box.emissivity is not None for box in self.boxes)
        radiates = radiates or any(face.towards_cavity is not None for face in self.faces)
        radiates = radiates or any(sheet.emissivity is not None for sheet in self.sheets)
        return self.air.is_resolved and held and dry and not radiates and any(box.air for box in self.boxes)

    @property
    def extent(self) -> tuple[tuple[float, float], ...]:
        """From and to along x, y and z [m], over all boxes."""
        spans = [[getattr(box, axis) for box in self.boxes] for axis in AXES]
        return tuple((min(low for low, _ in span), max(high for _, high in span)) for span in spans)

    @property
    def air_length(self) -> float:
        """Length in Nusselt and Rayleigh numbers [m]; 1 where the case is dimensionless."""
        if self.air.rayleigh:
            return 1.0
        return float(self.air.length or self.extent[2][1] - self.extent[2][0])

    @property
    def air_extent(self) -> tuple[float, float, float]:
        """Extents along x, y and z [m] of all boxes of air together; zeros without any."""
        x, y, z = ([end for box in self.boxes if box.air for end in getattr(box, axis)] or [0.0] for axis in AXES)
        return max(x) - min(x), max(y) - min(y), max(z) - min(z)

    @property
    def stated_temperatures(self) -> tuple[float, ...]:
        """Every temperature that the case states for surfaces, ambients and tubes [K]."""
        given = [value for face in self.faces for value in (face.temperature, face.ambient)]
        given += [value for tube in self.tubes for value in (tube.temperature, tube.supply)]
        given += [box.temperature for box in self.boxes] + [sheet.temperature for sheet in self.sheets]
        return tuple(value for value in given if value is not None)

    @property
    def named_files(self) -> dict[str, str | None]:
        """By dotted key the files and run folders beside it that it names, which its results rest on."""
        return {"air.calibration": self.air.calibration, "air.start_from": self.air.start_from}
