"""The materials library: one row a material, each with its source, read from ``materials.toml``."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import lru_cache
from importlib.resources import files
from types import MappingProxyType
from typing import TYPE_CHECKING, Annotated, Any, NotRequired, TypedDict

from pydantic import AfterValidator, BeforeValidator

from sim.case.fields import refuse
from sim.case.quantities import format_value
from sim.machine.brief import Brief

LIMITED = ("floor coverings", "tube")
"""Families whose rows must say how warm they may get."""

NO_LIMIT = "none"
"""Says that no standard or guide is known to state a highest temperature."""


@dataclass(frozen=True, slots=True, repr=False)
class Material(Brief):
    """A solid.

    Parameters
    ----------
    name : str
        Name in the library.
    conductivity : tuple of float, (3,)
        Across the joists (x), along them (y) and upwards (z) [W/(m K)]; one number may be given for all.
    density : float
        [kg/m3].
    specific_heat : float
        [J/(kg K)].
    emissivity : float
        Long-wave emissivity of the surface, 0 to 1.
    source : str
        Where the numbers come from.
    note : str
        Anything a user should know.
    family : str
        Group in the listing.
    conductivity_range : tuple of float or None, (2,)
        Lowest and highest published conductivity [W/(m K)], where known.
    validity : str
        For which product or state the row holds.
    highest_C : float or None
        Highest temperature of a covering's surface, or of the water in a tube [°C]; None where none is known.
    highest_source : str
        Who says so.
    """

    name: str
    conductivity: tuple[float, float, float]
    density: float
    specific_heat: float
    emissivity: float
    source: str = ""
    note: str = ""
    family: str = ""
    conductivity_range: tuple[float, float] | None = None
    validity: str = ""
    highest_C: float | None = None
    highest_source: str = ""

    if TYPE_CHECKING:  # a checker shall take the one number that may stand for all three

        def __init__(
            self,
            name: str,
            conductivity: float | tuple[float, float, float],
            density: float,
            specific_heat: float,
            emissivity: float,
            **more: Any,
        ) -> None: ...

    def __post_init__(self) -> None:
        object.__setattr__(self, "conductivity", three(self.conductivity))

    def with_conductivity(self, conductivity: float | tuple[float, float, float]) -> Material:
        """The same material with another conductivity [W/(m K)], one value or three."""
        return replace(self, conductivity=three(conductivity))

    @property
    def simplest_conductivity(self) -> float | tuple[float, float, float]:
        """One value when all directions are equal, else three [W/(m K)]."""
        return self.conductivity[0] if len(set(self.conductivity)) == 1 else self.conductivity

    def __str__(self) -> str:
        along = ", ".join(format_value(value, "conductivity") for value in dict.fromkeys(self.conductivity))
        mass, heat = format_value(self.density, "density"), format_value(self.specific_heat, "specific heat")
        return f"{self.name}: {along}, {mass}, {heat}, emissivity {self.emissivity:g}"


def three(conductivity: float | Sequence[float]) -> tuple[float, float, float]:
    """Spread one conductivity over the three axes; three stay as they are."""
    if not isinstance(conductivity, Sequence):
        return conductivity, conductivity, conductivity
    across, along, up = conductivity
    return across, along, up


TRADE_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "drywall": "gypsum board",
        "plasterboard": "gypsum board",
        "subfloor": "plywood",
        "subflooring": "plywood",
        "underlayment": "plywood",
        "MDF": "medium-density fibreboard",
        "SPF": "spruce-pine-fir",
        "lumber": "softwood joist",
        "hardwood": "oak",
        "red oak": "oak",
        "white oak": "oak",
        "Douglas fir": "Douglas fir-larch",
        "sheathing": "plywood",
        "gypsum": "gypsum board",
        "batt insulation": "glass wool batt",
        "cork": "cork flooring",
        "foil": "aluminium foil, bright",
        "hardwood flooring": "oak",
        "hardwood strip": "oak",
        "engineered hardwood": "engineered wood",
        "engineered oak": "engineered wood",
        "parquet": "engineered wood",
        "bamboo flooring": "bamboo",
        "laminate flooring": "laminate",
        "pine": "softwood flooring",
        "softwood": "softwood flooring",
        "glass wool": "glass wool batt",
        "fibreglass": "glass wool batt",
        "stone wool": "mineral wool batt",
        "LVP": "vinyl plank",
        "LVT": "vinyl plank",
        "luxury vinyl plank": "vinyl plank",
        "luxury vinyl tile": "vinyl plank",
        "vinyl": "sheet vinyl",
        "tile": "ceramic tile",
        "porcelain tile": "ceramic tile",
        "porcelain": "ceramic tile",
        "travertine": "limestone",
        "screed": "cement screed",
        "calcium sulphate screed": "anhydrite screed",
        "gypsum screed": "anhydrite screed",
        "carpet pad": "carpet cushion, foam",
        "cement board": "cement backer board",
        "backer board": "cement backer board",
        "thinset": "cement mortar",
        "fiberglass": "glass wool batt",
        "fiberglass batt": "glass wool batt",
        "rock wool": "mineral wool batt",
        "mineral wool": "mineral wool batt",
        "extruded polystyrene": "XPS",
        "expanded polystyrene": "EPS",
        "polyiso": "PIR board, foil faced",
    }
)
"""Words of the trade, and the row that is meant by each; a builder who knows better names the row itself."""

NEAREST: Mapping[str, str] = MappingProxyType(
    dict.fromkeys(("maple", "ash", "beech", "birch", "hickory", "walnut", "cherry", "mahogany", "teak"), "oak")
    | dict.fromkeys(("fir", "larch", "spruce", "cedar"), "softwood flooring")
)
"""Floors that people lay and the library lacks, and the row that is nearest in kind: proposed, never taken for them."""


@lru_cache(maxsize=1)
def load_materials() -> Mapping[str, Material]:
    """The library by name, in the order of the file.

    Returns
    -------
    mapping of str to Material
        Read-only.
    """
    rows = tomllib.loads(files("sim.case").joinpath("materials.toml").read_text("utf-8"))["material"]
    return MappingProxyType({row["name"]: read_row(row) for row in rows})


class MaterialRow(TypedDict):
    """A row of the file: what is left out is not known, or goes without saying."""

    name: str
    family: str
    source: str
    conductivity: float | list[float]
    density: float
    specific_heat: float
    emissivity: float
    note: NotRequired[str]
    validity: NotRequired[str]
    conductivity_range: NotRequired[list[float]]
    highest_C: NotRequired[float | str]
    highest_source: NotRequired[str]


def read_row(row: MaterialRow) -> Material:
    """A material from its row of the file.

    Raises
    ------
    ValueError
        A floor covering or a tube does not say how warm it may get, or the row has a key that none has.
    """
    if unknown := sorted(row.keys() - MaterialRow.__annotations__.keys()):
        raise ValueError(f"materials.toml: {row['name']}: {unknown[0]} is not known")
    if row["family"] in LIMITED and "highest_C" not in row:
        raise ValueError(f'materials.toml: {row["name"]}: highest_C is missing; give it in °C, or "none"')
    published, highest = row.get("conductivity_range"), row.get("highest_C", NO_LIMIT)
    return Material(
        name=row["name"],
        conductivity=three(row["conductivity"]),
        density=row["density"],
        specific_heat=row["specific_heat"],
        emissivity=row["emissivity"],
        source=row["source"],
        note=row.get("note", ""),
        family=row["family"],
        conductivity_range=(published[0], published[1]) if published else None,
        validity=row.get("validity", ""),
        highest_C=None if highest == NO_LIMIT else float(highest),
        highest_source=row.get("highest_source", ""),
    )


def _plain(name: str) -> str:
    plain = " ".join(name.lower().replace("-", " ").replace("_", " ").split())
    return plain.replace("aluminum", "aluminium").replace("fiberboard", "fibreboard")


@lru_cache(maxsize=1)
def _by_plain_name() -> dict[str, Material]:
    library = load_materials()
    words = {_plain(word): library[name] for word, name in TRADE_WORDS.items()}
    return words | {_plain(name): material for name, material in library.items()}


def words_for(material: Material) -> tuple[str, ...]:
    """Words of the trade by which a material is found too."""
    return tuple(word for word, name in TRADE_WORDS.items() if name == material.name)


def find_material(name: str) -> Material:
    """A material by name or word of the trade; capitals, dashes and the spelling of aluminium do not matter.

    Raises
    ------
    KeyError
        There is none of that name.
    """
    return _by_plain_name()[_plain(name)]


def nearest_in_kind(name: str) -> str:
    """The row that is nearest to a floor which the library lacks; empty where nothing is known of it."""
    return next((row for word, row in NEAREST.items() if word in _plain(name).split()), "")


def known_material(name: str) -> str:
    """The name as the library writes it, or a report to pydantic with the nearest names."""
    library = _by_plain_name()
    if _plain(name) in library:
        return library[_plain(name)].name
    own_way = "; for one that is not there name the nearest and state its conductivity"
    if nearest := nearest_in_kind(name):
        refuse("no such material in the library", f'nearest in kind is "{nearest}"{own_way}')
    own = [_plain(known) for known in load_materials()]
    near = get_close_matches(_plain(name), own, n=3, cutoff=0.5) or get_close_matches(_plain(name), library, n=1)
    hint = " or ".join(f'"{library[match].name}"' for match in near)
    known = f"did you mean {hint}?" if near else "joistbay materials lists them"
    is_slip = bool(get_close_matches(_plain(name), own, n=1, cutoff=0.8))
    refuse("no such material in the library", f"{known}{'' if is_slip else own_way}")


def _name_of(given: object) -> object:
    """The name of a material of the library that was given itself, as a script may do; other values stay."""
    if not isinstance(given, Material):
        return given
    if load_materials().get(given.name) != given:
        refuse("is a material of your own", "name the nearest of the library, and beside it your conductivity")
    return given.name


MaterialName = Annotated[str, BeforeValidator(_name_of), AfterValidator(known_material)]
