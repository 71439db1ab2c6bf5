"""Sections of a case file around the bay itself: water, room, space below, air model, mesh, comparison."""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from sim.case.errors import Problem
from sim.case.fields import (
    NONE,
    Distance,
    Emissivity,
    Film,
    Length,
    MassFlow,
    Quantity,
    Temperature,
    TemperatureDifference,
    fill,
    given,
    key,
    refuse_section,
    worked_out,
)
from sim.case.quantities import ZERO_CELSIUS, format_value
from sim.case.section import Section
from sim.case.timing import ResponsiveRoom
from sim.machine.devices import DeviceWord

GLYCOL_LIMIT = 0.5
"""Largest mass share of propylene glycol."""
WATER_SUPPLY = ZERO_CELSIUS + 5.0, ZERO_CELSIUS + 95.0
"""Range of water that enters a tube [K]."""
Supply = Annotated[float, Quantity("temperature", at_least=WATER_SUPPLY[0], at_most=WATER_SUPPLY[1])]
FilmFactor = Annotated[float, Quantity("fraction", at_least=0.2, at_most=5.0)]
AirCell = Annotated[float, Quantity("length", at_least=2e-4, at_most=0.2)]
Glycol = Annotated[float, Quantity("fraction", at_least=0.0, at_most=GLYCOL_LIMIT)]


class SupplyWater(Section):
    """The water that arrives at the bay."""

    glycol: Glycol = key(0.0, "mass share of propylene glycol")
    supply: Supply = key(..., "temperature of the water entering the bay")
    flow: MassFlow | None = key(
        None, "flow through the tube; a volume flow counts at the supply temperature; instead of drop"
    )
    drop: TemperatureDifference | None = worked_out(
        "5.5 K unless flow is given", "how much cooler the water comes back from the whole circuit, instead of flow"
    )
    circuit_length: Distance = key(60.0, "length of tube over which the water falls by drop")

    @model_validator(mode="after")
    def _one_of_flow_and_drop(self) -> Self:
        if self.flow is not None and given(self, "drop") and self.drop is not None:
            refuse_section(
                [
                    Problem(
                        "drop",
                        f"{format_value(self.drop, 'temperature difference')} and a flow",
                        "flow and drop exclude each other",
                        "leave one out",
                    )
                ]
            )
        if self.flow is None and self.drop is None:
            fill(self, drop=5.5)
        return self


class Room(Section):
    """The heated room above; with a `node` it responds to the floor in a warm-up."""

    temperature: Temperature = key(..., "room temperature")
    law: Literal["standard", "fixed", "split"] = key(
        "standard", "8.92 dT^1.1 (EN 1264-2), a fixed coefficient, or radiation and convection apart"
    )
    coefficient: Film | None = key(None, 'film coefficient of the floor, radiation included, for law "fixed"')
    convective: Film | None = key(None, 'film coefficient of the floor without radiation, for law "split"')
    emissivity: Emissivity = key(0.9, 'emissivity of the floor for law "split"')
    radiant_temperature: Temperature | None = worked_out(
        'the room temperature, with law "split"', 'mean temperature of the room\'s surfaces for law "split"'
    )
    node: Annotated[ResponsiveRoom | None, NONE] = key(None, 'a room that the floor warms in time, or "none"')

    @model_validator(mode="after")
    def _fits_law(self) -> Self:
        problems = [
            *self._coefficient_for("coefficient", "fixed"),
            *self._coefficient_for("convective", "split"),
        ]
        refuse_section(problems)
        if self.radiates_apart and self.radiant_temperature is None:
            fill(self, radiant_temperature=self.temperature)
        return self

    @property
    def radiates_apart(self) -> bool:
        """Whether it takes up radiation and convection by laws of their own."""
        return self.law == "split"

    def _coefficient_for(self, name: str, law: str) -> list[Problem]:
        value = getattr(self, name)
        if self.law == law and value is None:
            return [Problem(name, "", f'missing; law "{law}" needs it', 'write e.g. "8 W/(m^2*K)"')]
        if self.law != law and value is not None:
            return [
                Problem(
                    name,
                    format_value(value, "film coefficient"),
                    f'law "{self.law}" does not use it',
                    f'set law = "{law}" or leave it out',
                )
            ]
        return []


FILMS_BELOW = {"heated room": 1 / 0.17, "unheated space": 1 / 0.17, "outdoors": 1 / 0.04, "adiabatic": 0.0}
"""Surface films below [W/(m2 K)]: ISO 6946 Rsi 0.17 for heat flow down, Rse 0.04."""


class Below(Section):
    """The space under the bay."""

    kind: Literal["heated room", "unheated space", "outdoors", "adiabatic"] = key(
        "heated room", "what lies below"
    )
    temperature: Temperature = worked_out(
        "that of the room above, for a heated room", "air temperature below"
    )
    film: Annotated[float, Quantity("film coefficient", at_least=0.0, at_most=1e5)] = worked_out(
        "1/0.17 indoors, 1/0.04 outdoors (ISO 6946)", "film at the underside, radiation included"
    )

    @model_validator(mode="after")
    def _film_of_kind(self) -> Self:
        if not given(self, "film"):
            fill(self, film=FILMS_BELOW[self.kind])
        return self


class Air(Section):
    """How the air in the bay is modelled."""

    model: Literal["films", "correlations", "still", "resolved"] = key(
        "films",
        "films: convection as computed flows taught it, by correlations where they did not; correlations: only those; "
        "still: air only conducts; resolved: its flow is computed",
    )
    film_factor: FilmFactor = key(1.0, "multiplies the films on all cavity walls, for studies of what they matter")
    calibration: Annotated[str | None, NONE] = key(
        None, "run folder of resolved air whose films are used instead of the correlations, beside the case file"
    )
    cell: AirCell | None = key(None, "largest cell of resolved air; left out: as suits the cavity and mesh.fineness")
    wall_cell: AirCell | None = key(
        None, "cell of resolved air at walls; left out: as suits the cavity and mesh.fineness"
    )
    subgrid: bool = key(True, "eddies finer than the cells of resolved air by Vreman's model")
    longest: Annotated[float, Quantity("time", above=0.0, at_most=36000.0)] = key(
        600.0,
        "resolved air stops after so much simulated time, in a bay of each of its two starts, even if its means are "
        "not steady yet",
    )
    frames: Annotated[int, Field(ge=0, le=500)] = key(0, "pictures of the start of resolved air to keep for a movie")
    frames_until: Annotated[float, Quantity("time", above=0.0, at_most=36000.0)] = worked_out(
        "longest; of air alone as soon as nothing changes any more", "simulated time of the last of these pictures"
    )
    device: DeviceWord = key(
        "cpu", "where resolved air is followed: cpu: processor; gpu: accelerator; auto: accelerator if there is one"
    )
    error: Annotated[float, Quantity("fraction", at_least=1e-4, at_most=0.2)] = key(
        0.01, "standard error of the mean heat flows at which resolved air is steady"
    )
    companion: bool = key(
        True, "resolved air is computed on cells twice as large first: a bound on what the mesh costs"
    )

    @property
    def is_resolved(self) -> bool:
        """Whether the flow of the air is computed."""
        return self.model == "resolved"

    @property
    def is_still(self) -> bool:
        """Whether the air only conducts."""
        return self.model == "still"

    @property
    def taught_by(self) -> str | None:
        """The run folder whose films are used, None where the correlations are."""
        return self.calibration if self.model in ("films", "correlations") else None


class Mesh(Section):
    """How finely the bay is cut into cells."""

    fineness: Literal["coarse", "normal", "fine", "finest"] = key("normal", "one word for all sizes")
    across: Length | None = key(None, "largest cell across the joists (x)")
    along: Length | None = key(None, "largest cell along the joists (y)")
    through: Length | None = key(None, "largest cell upwards (z)")
    layer_cells: Annotated[int, Field(ge=1, le=64)] | None = key(
        None, "least number of cells through each layer"
    )


CompareSpacing = Annotated[
    Annotated[float, Quantity("distance", above=0.0, at_most=50.0)] | None, NONE
]


class NamedChoice(Section):
    """One choice of a comparison: a name, and the keys that it changes."""

    title: Annotated[str, Field(min_length=1, max_length=60)] = key(..., "name of the choice")
    changes: dict[str, Any] = key(
        {},
        'what it changes, such as { "floor.covering.0.material" = "carpet", "floor.covering.0.thickness" = "10 mm" }; '
        "left out, it is the case as written",
    )


class Compare(Section):
    """What `joistbay compare` shows when nothing else is asked for, and what is wished."""

    spacing: tuple[CompareSpacing, ...] = key((), 'plate spacings, "none" for no plates')
    flux: Annotated[float, Quantity("heat flux", above=0.0, at_most=1000.0)] | None = key(
        None, "upward heat flux that is wished for; choices are compared at it"
    )
    ripple: TemperatureDifference | None = key(None, "largest difference between warmest and coolest spot of the floor")
    choices: tuple[NamedChoice, ...] = key(
        (), "choices by name, shown instead of plate spacings; the case as written comes first", alias="choice"
    )
