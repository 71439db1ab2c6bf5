"""Joist bays under wood floors, heated by warm water: heat up and down, floor temperatures, plate spacings.

    import sim

    case = sim.load_case("cases/demo/kitchen-vinyl.toml")
    result = sim.solve(case)
    print(result.report)                   numbers for people
    result.floor                           floor-surface temperature [K] as a labelled array
    sim.save_result(result, "runs/kitchen-vinyl")

    print(sim.compare(case, "plates.spacing", ["9 in", "12 in", "none"]))

Each name is imported when it is first used, so `import sim` is quick. `dir(sim)` lists the names.
"""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import sim.machine.frozen  # noqa: F401  (results can be sent to other processes)
from sim.machine.kernels import find_place

if TYPE_CHECKING:
    from sim.case import CaseError, load_case, load_materials, parse_case
    from sim.case.house_load import load_house
    from sim.house.solve_house import solve_house
    from sim.problems.air_run import AirRun, save_air, solve_air
    from sim.problems.blocks_in_time import InTime, follow_blocks, save_in_time
    from sim.problems.calibration import calibrate
    from sim.problems.save_result import save_result
    from sim.problems.warm_up import WarmUp, warm_up
    from sim.results.export import export_run
    from sim.run import NotConvergedError, Result, prepare, solve, solve_model
    from sim.solver.balance import BalanceError
    from sim.store.run_folder import StoreError, read_run
    from sim.study.compare import Comparison, compare
    from sim.study.many import solve_many
    from sim.study.save_comparison import save_comparison
    from sim.study.water import UnreachableError, required_supply

find_place(Path(__file__).parent)

_HOMES = {
    "sim.case": ("CaseError", "load_case", "load_materials", "parse_case"),
    "sim.house.solve_house": ("solve_house",),
    "sim.case.house_load": ("load_house",),
    "sim.results.export": ("export_run",),
    "sim.store.run_folder": ("StoreError", "read_run"),
    "sim.run": ("NotConvergedError", "Result", "prepare", "solve", "solve_model"),
    "sim.solver.balance": ("BalanceError",),
    "sim.problems.air_run": ("AirRun", "save_air", "solve_air"),
    "sim.problems.blocks_in_time": ("InTime", "follow_blocks", "save_in_time"),
    "sim.problems.calibration": ("calibrate",),
    "sim.study.compare": ("Comparison", "compare"),
    "sim.study.many": ("solve_many",),
    "sim.problems.save_result": ("save_result",),
    "sim.problems.warm_up": ("WarmUp", "warm_up"),
    "sim.study.save_comparison": ("save_comparison",),
    "sim.study.water": ("UnreachableError", "required_supply"),
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}

__all__ = [
    "AirRun",
    "BalanceError",
    "CaseError",
    "Comparison",
    "InTime",
    "NotConvergedError",
    "Result",
    "StoreError",
    "UnreachableError",
    "WarmUp",
    "calibrate",
    "compare",
    "export_run",
    "follow_blocks",
    "load_case",
    "load_house",
    "load_materials",
    "parse_case",
    "prepare",
    "read_run",
    "required_supply",
    "save_air",
    "save_comparison",
    "save_in_time",
    "save_result",
    "solve",
    "solve_air",
    "solve_house",
    "solve_many",
    "solve_model",
    "warm_up",
]


def __getattr__(name: str) -> Any:
    """Import a public name when it is first used."""
    if name == "__version__":
        return import_module("importlib.metadata").version("joistbay")
    if name not in _HOME_OF:
        raise AttributeError(f"module 'sim' has no attribute {name!r}")
    value = getattr(import_module(_HOME_OF[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
