"""The chain: from a case to its report, one value after the other.

    Case → Geometry → Grid → Cells → System → Solution → Balance → Report

`prepare` goes as far as the equations, `solve_model` from there to the report, `solve` does both.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from time import perf_counter
from typing import TYPE_CHECKING, Generic, TypeVar

from sim.bay.cells import Cells, fill_cells
from sim.bay.geometry import Geometry
from sim.bay.grid import Fineness, Grid, build_grid
from sim.build_up import build_geometry, build_up, mesh_fineness
from sim.case.bay_case import Case
from sim.case.blocks_case import BlocksCase
from sim.machine.brief import Brief, head_of, small_tree
from sim.machine.notebook import card, folded
from sim.machine.threads import single_threaded_blas
from sim.results.report import Report, summarise
from sim.solver.assemble import build_system
from sim.solver.assemble_cavity import RAYS_PER_PATCH, SEED
from sim.solver.balance import Balance, audit
from sim.solver.learned_air import with_learned_films
from sim.solver.state import State
from sim.solver.steady import Listener, Solution, SteadyOptions, solve_steady
from sim.solver.system import System
from sim.solver.worst import placed, worst_place

if TYPE_CHECKING:
    from pathlib import Path

    import xarray

    from sim.airflow.domain import Domain
    from sim.case.load import AnyCase
    from sim.resolved.air import ResolvedAir, RoundListener
    from sim.resolved.settings import AirSettings

CaseT = TypeVar("CaseT", bound=Case | BlocksCase)
"""The kind of case that a model or a result is of."""


class NotConvergedError(Exception):
    """The outer iteration stopped before residual and imbalance were small; the message says where it stood."""


@dataclass(frozen=True, slots=True, repr=False)
class Result(Generic[CaseT]):
    """Everything that a run produced, from the case to the report."""

    case: CaseT
    geometry: Geometry
    grid: Grid
    cells: Cells
    solution: Solution
    balance: Balance
    report: Report
    air: ResolvedAir | None = None

    @property
    def fields(self) -> xarray.Dataset:
        """Temperatures [K], heat fluxes [W/m²] and materials as a labelled dataset; each says its unit and meaning."""
        from sim.results.fields import build_fields

        said = {"title": self.case.title or self.case.name, **build_up(self.case).said_of_fields()}
        return build_fields(self.geometry, self.cells, self.solution, self.air, **said)

    @property
    def frames(self) -> xarray.Dataset | None:
        """Pictures of the start of resolved air, if any were asked for."""
        from sim.results.air_fields import frames_dataset
        from sim.results.fields import outlines

        if self.air is None or not self.air.frames.times:
            return None
        title, kept = self.case.title or self.case.name, self.air.frames
        return frames_dataset(
            self.air.domain, kept.times, kept.fields, outlines=outlines(self.geometry), title=title
        )

    @property
    def floor(self) -> xarray.DataArray:
        """Floor surface temperature [K] on the plan; NaN where there is no floor."""
        from sim.results.fields import floor_kelvin

        return floor_kelvin(self.cells, self.solution)

    def __repr__(self) -> str:
        return small_tree(head_of(self), [*self.report.headlines(), ("has", "report, balance, fields, floor, case")])

    def _repr_html_(self) -> str:
        balance, case = folded("Balance", self.balance._repr_html_()), folded("Case", self.case._repr_html_())
        return card(f"Result {self.case.name}", self.report._repr_html_(), balance, case)

    def __str__(self) -> str:
        return f"{self.solution}\n{self.balance}\n{self.report}"


@dataclass(frozen=True, slots=True, repr=False)
class Model(Brief, Generic[CaseT]):
    """A case made ready to solve; `refinement` is how much finer its mesh is than the case asks for."""

    case: CaseT
    geometry: Geometry
    grid: Grid
    cells: Cells
    system: System
    seconds: float = 0.0
    refinement: float = 1.0

    @property
    def plane(self) -> bool:
        """Whether nothing varies along y, so that air flows in the plane of x and z."""
        return self.grid.shape[1] == 1

    def air_domain(self) -> Domain:
        """The air's own grid when it is resolved; ValueError when it cannot be."""
        from sim.resolved.domain import build_air_domain, check_obstacles

        settings = air_settings(self.case, self.refinement, self.plane)
        return check_obstacles(build_air_domain(self.cells, settings.sizes, settings.slip))

    @property
    def by_learned_films(self) -> bool:
        """Whether the air follows the learned films."""
        return self.system.cavity is not None and self.system.cavity.walls.learned is not None

    def with_supply(self: Model[Case], supply: float) -> Model[Case]:
        """The same bay fed with water of another temperature [K]; mesh and view factors are kept."""
        case = self.case.with_(**{"water.supply": supply})
        return replace(self, case=case, system=self.system.with_term(self.system.water.with_supply(supply)))

    def __str__(self) -> str:
        return f"{self.grid}\n{self.cells}\n{self.system}"


def prepare(
    case: CaseT, fineness: Fineness | None = None, *, ray_seed: int | None = SEED, rays: int = RAYS_PER_PATCH
) -> Model[CaseT]:
    """Geometry, grid, cells and equations of a case, without solving.

    View factors are traced with rays; another `ray_seed` shows how much of a result is their scatter, and fewer `rays`
    a patch are quicker and scatter more. A seed of None traces none and draws no learned
    films: such a model is to be looked at, not to be solved.

    Raises
    ------
    ValueError : the case is one of air alone, which has no such equations: `sim.solve_air` follows its flow.
    """
    if case.air_alone:
        raise ValueError(f"{case.name}: is a case of air alone; sim.solve_air follows its flow")
    began = perf_counter()
    geometry = build_geometry(case)
    own = mesh_fineness(case)
    grid = build_grid(geometry, fineness or own)
    cells = fill_cells(geometry, grid)
    system = build_system(geometry, cells, case.air.model, case.air.film_factor, ray_seed, rays)
    if build_up(case).takes_learned_films():
        system = system if ray_seed is None else with_learned_films(system, cells)
    elif case.air.taught_by is not None:
        system = _calibrated(system, cells, case.path, case.air.taught_by)
    refinement = own.focus / fineness.focus if fineness else 1.0
    model = Model(case, geometry, grid, cells, system, perf_counter() - began, refinement)
    if case.air.is_resolved:
        model.air_domain()
    return model


def _calibrated(system: System, cells: Cells, case_path: str | None, folder: str) -> System:
    """The system with the films that a run with resolved air has taught."""
    from sim.resolved.calibration import apply_calibration
    from sim.resolved.calibration_file import read_calibration

    return apply_calibration(system, cells, read_calibration(case_path, folder))


def solve_model(
    model: Model[CaseT],
    *,
    options: SteadyOptions | None = None,
    listener: Listener | None = None,
    start: State | None = None,
    air_listener: RoundListener | None = None,
    air_checkpoint: Path | None = None,
) -> Result[CaseT]:
    """Solve a prepared case, audit it and report; see `solve`.

    With resolved air, `air_listener` hears of its rounds and `air_checkpoint` is the file that a stopped run goes
    on from; on a device, where a run takes less time than is worth keeping, it is not written.
    """
    case, air = model.case, None
    with placed(case.name, model.system, model.cells):
        if case.air.is_resolved:
            solution, air = _resolve(model, options, air_listener, air_checkpoint)
        else:
            with single_threaded_blas():
                solution = solve_steady(model.system, options, listener, start)
    return conclude(model, solution, air)


def conclude(model: Model, solution: Solution, air: ResolvedAir | None) -> Result:
    """Audit and report of a solved case.

    Raises
    ------
    NotConvergedError : the passes ended too early.
    BalanceError : the energy audit does not close.
    """
    case = model.case
    if not solution.converged:
        raise NotConvergedError(
            f"{case.name}: {solution.stop_reason}, so nothing is reported; {worst_place(solution, model.cells)}; "
            f"another mesh.fineness or a change of that part may settle it\n{solution}"
        )
    solution = replace(solution, seconds=solution.seconds | {"prepare": model.seconds})
    balance = audit(solution.balance)
    kind = build_up(case)
    numbers = partial(kind.values, model.geometry, model.cells)
    films = {} if air is None else kind.films(model.cells, solution, air.mean_temperature)
    report = summarise(case.name, numbers, solution, air, films)
    return Result(case, model.geometry, model.grid, model.cells, solution, balance, report, air)


def _resolve(
    model: Model[CaseT], options: SteadyOptions | None, listener: RoundListener | None, checkpoint: Path | None
) -> tuple[Solution, ResolvedAir]:
    """Solids and computed air together."""
    from sim.airflow.device.seam import choose_backend
    from sim.resolved.checkpoint import resolve_with_checkpoint

    settings = air_settings(model.case, model.refinement, model.plane)
    if backend := choose_backend(model.case.air.device):
        from sim.resolved.on_device import resolve_on_device

        return resolve_on_device(backend, model.system, model.cells, settings, options, listener)
    return resolve_with_checkpoint(model.system, model.cells, settings, checkpoint, options, listener)


def air_settings(case: AnyCase, refinement: float = 1.0, plane: bool = False) -> AirSettings:
    """How a case wants its air resolved; `refinement` divides the sizes of its cells.

    `plane` says that the flow has two dimensions.
    """
    from sim.resolved.settings import AirSettings

    air, described = case.air, build_up(case)
    return AirSettings(
        sizes=described.air_sizes(plane).refined(refinement),
        slip=described.planes_of_symmetry(),
        subgrid=air.subgrid,
        scheme=described.scheme(),
        error=air.error,
        longest=air.longest,
        frames=(air.frames, air.frames_until or air.longest),
        air=described.air,
        companion=air.companion,
        loss=described.film_loss(),
        unseen=described.unseen_ripple() / refinement**2,
        mirrors=described.mirrors(),
        map_path=described.floor_path(),
        starts=described.starts(),
    )


def solve(
    case: CaseT,
    *,
    fineness: Fineness | None = None,
    options: SteadyOptions | None = None,
    listener: Listener | None = None,
) -> Result[CaseT]:
    """Solve a case in steady state.

    Parameters
    ----------
    case : Case or BlocksCase
    fineness : mesh sizes in place of the case's own.
    options : when to stop.
    listener : called with each outer pass.

    Returns
    -------
    Result with report, fields and the audited balance.

    Raises
    ------
    NotConvergedError : the passes ended too early.
    BalanceError : the energy audit does not close to 1e-6 of the heat supplied.
    """
    return solve_model(prepare(case, fineness), options=options, listener=listener)
