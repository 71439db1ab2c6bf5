"""Joist bays under wood floors, heated by warm water: heat up and down, floor temperatures, plate spacings.

    import joistbay

    case = joistbay.load_bay("cases/demo/family-oak.toml")
    result = joistbay.solve(case)
    print(result.report)                                     numbers for people, SI and IP
    result.floor                                             floor surface [K] as a labelled array
    joistbay.compare(case, "plates.spacing", ["9 in", "12 in", "none"], workers=2)
    joistbay.solve_many([case.with_({"plates.width": f"{w} in"}) for w in (4, 5, 6)], workers=2)
    joistbay.water(case, flux="60 W/m^2").supply             supply temperature [K]

Numbers given to and held by cases are in SI and kelvin; texts carry their unit ("9 in", "50 degC"), and so do keys of
reports (`ripple_K`, `surface_peak_C`). Each name is imported when it is first used. `dir(joistbay)` lists the names.
"""

from __future__ import annotations

from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from joistbay.choices import compare, water, widest_spacing
    from joistbay.houses import load_house, solve_house
    from joistbay.many import solve_many
    from joistbay.runs import load_bay, load_blocks, load_case, read_run, save, warm_up
    from joistbay.views import view
    from sim.airflow.watch import FlowError
    from sim.case import BlocksCase, Case, CaseError, Material, load_materials, parse_case
    from sim.case.house_case import House
    from sim.house.bay_solver import HouseError
    from sim.house.plan import HousePlan
    from sim.problems.air_run import AirRun
    from sim.problems.at_rest import solve_at_rest as solve
    from sim.problems.blocks_in_time import InTime
    from sim.problems.calibration import calibrate
    from sim.problems.warm_up import WarmUp
    from sim.results.export import export_run
    from sim.results.report import Report
    from sim.results.stored import KeptRun
    from sim.run import Model, NotConvergedError, Result, prepare, solve_model
    from sim.solver.balance import Balance, BalanceError
    from sim.solver.switching import MarchError
    from sim.store.run_folder import StoreError
    from sim.study.compare import ComparedChoice, Comparison
    from sim.study.side_by_side import SideBySide
    from sim.study.spacing import NoSpacingError, WidestSpacing
    from sim.study.water import NeededWater, UnreachableError
    from viz.air_section import draw_air_section
    from viz.air_streams import draw_air_streams
    from viz.air_sweep import draw_air_sweep
    from viz.cutaway import draw_cutaway
    from viz.floor_map import draw_floor_map, draw_floor_maps
    from viz.profiles import draw_profiles
    from viz.section import draw_section
    from viz.time_series import draw_time_series

_HOMES = {
    "joistbay.choices": ("compare", "water", "widest_spacing"),
    "joistbay.houses": ("load_house", "solve_house"),
    "joistbay.many": ("solve_many",),
    "joistbay.runs": ("load_bay", "load_blocks", "load_case", "read_run", "save", "warm_up"),
    "joistbay.views": ("view",),
    "sim.airflow.watch": ("FlowError",),
    "sim.case": ("BlocksCase", "Case", "CaseError", "Material", "load_materials", "parse_case"),
    "sim.case.house_case": ("House",),
    "sim.house.bay_solver": ("HouseError",),
    "sim.house.plan": ("HousePlan",),
    "sim.problems.air_run": ("AirRun",),
    "sim.problems.at_rest": ("solve",),
    "sim.problems.blocks_in_time": ("InTime",),
    "sim.problems.calibration": ("calibrate",),
    "sim.problems.warm_up": ("WarmUp",),
    "sim.results.export": ("export_run",),
    "sim.results.report": ("Report",),
    "sim.results.stored": ("KeptRun",),
    "sim.run": ("Model", "NotConvergedError", "Result", "prepare", "solve_model"),
    "sim.solver.balance": ("Balance", "BalanceError"),
    "sim.solver.switching": ("MarchError",),
    "sim.store.run_folder": ("StoreError",),
    "sim.study.compare": ("ComparedChoice", "Comparison"),
    "sim.study.side_by_side": ("SideBySide",),
    "sim.study.spacing": ("NoSpacingError", "WidestSpacing"),
    "sim.study.water": ("NeededWater", "UnreachableError"),
    "viz.air_section": ("draw_air_section",),
    "viz.air_streams": ("draw_air_streams",),
    "viz.air_sweep": ("draw_air_sweep",),
    "viz.cutaway": ("draw_cutaway",),
    "viz.floor_map": ("draw_floor_map", "draw_floor_maps"),
    "viz.profiles": ("draw_profiles",),
    "viz.section": ("draw_section",),
    "viz.time_series": ("draw_time_series",),
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}
_CALLED = {"solve": "solve_at_rest"}
"""Names that are shorter here than at home."""

__all__ = [
    "AirRun",
    "Balance",
    "BalanceError",
    "BlocksCase",
    "Case",
    "CaseError",
    "ComparedChoice",
    "Comparison",
    "FlowError",
    "House",
    "HouseError",
    "HousePlan",
    "InTime",
    "KeptRun",
    "MarchError",
    "Material",
    "Model",
    "NeededWater",
    "NoSpacingError",
    "NotConvergedError",
    "Report",
    "Result",
    "SideBySide",
    "StoreError",
    "UnreachableError",
    "WarmUp",
    "WidestSpacing",
    "calibrate",
    "compare",
    "draw_air_section",
    "draw_air_streams",
    "draw_air_sweep",
    "draw_cutaway",
    "draw_floor_map",
    "draw_floor_maps",
    "draw_profiles",
    "draw_section",
    "draw_time_series",
    "export_run",
    "load_bay",
    "load_blocks",
    "load_case",
    "load_house",
    "load_materials",
    "parse_case",
    "prepare",
    "read_run",
    "save",
    "solve",
    "solve_house",
    "solve_many",
    "solve_model",
    "view",
    "warm_up",
    "water",
    "widest_spacing",
]


def _refuse_strangers() -> None:
    """ImportError in one line where another sim or viz, as a script beside the notebook, hides ours."""
    for name in ("sim", "viz"):
        found = find_spec(name)
        origin = Path(found.origin).resolve() if found and found.origin else None
        if origin is None or origin.parent.parent != Path(__file__).resolve().parents[1]:
            here = f"{origin} hides" if origin else "nothing stands for"
            raise ImportError(f"{here} the package {name} that joistbay is made of: rename that file, and start anew")


_refuse_strangers()


def __getattr__(name: str) -> Any:
    """Import a public name when it is first used."""
    if name == "__version__":
        return import_module("importlib.metadata").version("joistbay")
    if name not in _HOME_OF:
        from difflib import get_close_matches

        near = get_close_matches(name, __all__, n=1)
        hint = f"; did you mean {near[0]!r}?" if near else ""
        raise AttributeError(f"module 'joistbay' has no attribute {name!r}{hint}")
    value = getattr(import_module(_HOME_OF[name]), _CALLED.get(name, name))
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
