"""Cavity air and solids together: rounds of flow, each answered by the solids and their radiation.

    films solution                  where everything starts, with a little disorder
      rounds of flow                explicit steps; walls held, their heat flows averaged
      solids and radiation          implicit, steady: what they store does not matter for a steady mean
      walls to the flow             by overlapping areas
    until the running means of all heat flows are steady

The solids see each face's heat as q̄ + h (T − T̄): what the flow gave at the temperature that it was given, and how
that heat answers to a change. With h near the true answer a few rounds suffice; whatever it is, it drops out once T
no longer changes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from time import perf_counter
from typing import TYPE_CHECKING, Generic

import numpy as np
from numpy.typing import NDArray

from sim.airflow.box import Limits, march_on
from sim.airflow.domain import Domain
from sim.airflow.flow import AirProperties, Flow, resting_flow
from sim.airflow.frames import Frames
from sim.airflow.layers import cell_shares
from sim.airflow.step import Stepper, build_stepper
from sim.airflow.stepping import FlowMaker, FlowStepper, Followed, FollowedFlow, Look
from sim.airflow.subgrid import VREMAN
from sim.airflow.walls import WallFaces, find_walls
from sim.bay.cells import Cells
from sim.machine.threads import side_by_side, single_threaded_blas
from sim.resolved.contact import FaceOverlaps, find_contact
from sim.resolved.domain import build_air_domain, cells_under
from sim.resolved.held import cavity_of, hold_air
from sim.resolved.means import Evidence, Round, at_the_end, batches, mean_heat, was_known, weigh, window_start
from sim.resolved.mirror import Mirror, find_mirror, surface_temperatures
from sim.resolved.settings import RESIDUAL, AirSettings
from sim.resolved.thinner import thinner_answer
from sim.resolved.window import FieldMeans
from sim.solver.assemble_cavity import REPEATS, SEED, with_other_rays
from sim.solver.state import State
from sim.solver.steady import Solution, SteadyOptions, solve_steady
from sim.solver.system import System
from sim.solver.terms.cavity import SETTLING

if TYPE_CHECKING:
    from sim.resolved.companion import Companion

Array = NDArray[np.float64]

STIFFNESS = 1.0 / 3.0
"""Least answer h of a face's heat to its temperature, over the half cell's conductance: a ripple of the wall as fine
as the grid is answered by nearly that conductance, and would grow from round to round if h were much smaller."""

DISORDER = 0.1
"""Random warmth of the air at the start over the span of its walls' temperatures: with little or none symmetric flows
stay in patterns that more would end, and which one they begin in hangs on the mesh (`docs/air-mesh.md`)."""

SOLIDS = SteadyOptions(residual=RESIDUAL, imbalance=1e-4, linear_tolerance=1e-2)
"""The solids' answer within a round; the last one is solved as strictly as any steady state. What a pass more changes
lies below: in a whole bay heat flows up and down by two parts in a million, the water's by one in twenty thousand,
where standard errors are one in a thousand and more."""


@dataclass(frozen=True, slots=True, eq=False)
class ResolvedAir:
    """The air that belongs to a solution: its grid, its mean and last flow, and the evidence.

    `heat` (air faces,) [W] and `wall` (air faces,) [K] are means over the window and, where the build-up is its own
    mirror image, over both halves; `lopsided` is what the solids answer without the latter. `batches` are what they
    answer to the means of the window's pieces, whose spread is the standard error of any number; `thinner` what they
    answer to films without what the mesh may have added, `other_rays` to view factors by other rays; `coarser` is the
    same on larger cells, without which a share `unseen` of a floor's ripple stays open; `too_coarse`: they are too few.
    """

    domain: Domain
    walls: WallFaces
    contact: FaceOverlaps
    properties: AirProperties
    mean: Flow
    now: Flow
    heat: Array
    wall: Array
    rounds: tuple[Round, ...]
    frames: Frames
    evidence: Evidence
    stop_reason: str
    seconds: float
    batches: tuple[Solution, ...] = ()
    thinner: Solution | None = None
    lopsided: Solution | None = None
    other_rays: tuple[Solution, ...] = ()
    coarser: Companion | None = None
    unseen: float = 0.0
    too_coarse: bool = False

    @property
    def mean_temperature(self) -> float:
        """Volume mean of the air's mean temperature [K]."""
        inside = self.domain.air
        return float(np.average(self.mean.temperature[inside], weights=self.domain.volumes[inside]))

    @property
    def cell_shares(self) -> Array:
        """Cell over layer thickness at every wall face (n,) [-]; see `sim.airflow.layers`."""
        mean, k = self.mean.temperature, self.properties.conductivity
        return cell_shares(self.domain, self.walls, self.heat, self.wall, mean, k)

    def __str__(self) -> str:
        return (
            f"Resolved air: {self.stop_reason} after {self.now.steps:,} steps, {self.seconds:.0f} s\n"
            f"{self.domain}\n{self.evidence}"
        )


RoundListener = Callable[[Round, Evidence, float], None]
"""Hears of every round: the round, the evidence so far and the seconds spent."""


@dataclass(slots=True, eq=False)
class Course(Generic[Followed]):
    """What the rounds work on. Made by `lay_out`; not a value."""

    system: System
    cells: Cells
    settings: AirSettings
    stepper: Followed
    contact: FaceOverlaps
    film: Array
    state: State
    heat: Array
    wall: Array
    rounds: list[Round]
    means: FieldMeans
    frames: Frames
    mirror: Mirror


def resolve_air(
    system: System,
    cells: Cells,
    settings: AirSettings,
    *,
    options: SteadyOptions | None = None,
    listener: RoundListener | None = None,
    course: Course[Stepper] | None = None,
) -> tuple[Solution, ResolvedAir]:
    """Steady mean of solids and flow.

    Parameters
    ----------
    system, cells : the solids, with the cavity's films as a start.
    options : for the last solution of the solids.
    listener : called after each round; it may keep the course's state for a restart.
    course : where an earlier run stopped; by default a new one.

    Returns
    -------
    Solution of the solids with the air's mean heat held, and the air. `stop_reason` of the air is "steady" or "time".

    Raises
    ------
    FlowError : the flow ran into values that mean nothing.
    DivergedError : the solids did.
    """
    began = perf_counter()
    course = course or lay_out(system, cells, settings)
    while not (reason := why_done(course)):
        record = take_round(course)
        if listener:
            listener(record, evidence_of(course), perf_counter() - began)
    return finish(course, options, reason, perf_counter() - began)


def evidence_of(course: Course[FollowedFlow]) -> Evidence:
    """How steady the means are after the last round."""
    return weigh(course.rounds, *_weights(course))


def _weights(course: Course[FollowedFlow]) -> tuple[float, int, Callable[[Array], Array]]:
    """What `weigh` needs beside the rounds."""
    return _supplied(course.rounds[-1]), course.settings.least_rounds, course.mirror.of_surface


def why_done(course: Course[FollowedFlow]) -> str:
    """"steady" or "time" where the rounds so far are enough, else nothing."""
    if not course.rounds:
        return ""
    settings = course.settings
    steady = evidence_of(course).steady(settings.error, settings.imbalance)
    if steady and (not settings.errors or was_known(course.rounds, settings.error, *_weights(course))):
        return "steady"
    return "" if course.rounds[-1].time < settings.longest * (1.0 - 1e-9) else "time"


def lay_out(system: System, cells: Cells, settings: AirSettings) -> Course[Stepper]:
    """Films solution, air grid, contact and resting air at the films' temperatures, but for a little disorder."""
    return lay_out_for(build_stepper, system, cells, settings)


def lay_out_for(follow: FlowMaker[Followed], system: System, cells: Cells, settings: AirSettings) -> Course[Followed]:
    """The same with a flow that is followed wherever `follow` does."""
    cavity = cavity_of(system)
    with single_threaded_blas():
        films = solve_steady(system, SOLIDS)
    heat = films.flows.walls
    assert heat is not None
    domain = build_air_domain(cells, settings.sizes, settings.slip)
    walls = find_walls(domain)
    contact = find_contact(cells, cavity, domain, walls)
    air = settings.air(float(np.mean(films.state.air)))
    layers = _zone_temperature(cells, films.state.air, domain)
    start = resting_flow(domain, layers + _disorder(domain, heat.temperature))
    surface, eddies = contact.to_air(heat.temperature), VREMAN if settings.subgrid else 0.0
    with single_threaded_blas():
        stepper = follow(domain, air, surface, start, settings.scheme, eddies)
    stiff = contact.mean_on_solid(STIFFNESS * air.conductivity / walls.distance)
    film = np.maximum(heat.slope / cavity.walls.area, stiff)
    first, frames, means = np.zeros(walls.count), Frames(*settings.frames), FieldMeans.none(stepper)
    frames.keep(0.0, stepper.state)
    mirror = find_mirror(system, domain, walls, heat.temperature, settings.map_path, settings.mirrors)
    starts = film, replace(films.state, air=np.empty(0)), first, heat.temperature
    return Course(system, cells, settings, stepper, contact, *starts, [], means, frames, mirror)


def _disorder(domain: Domain, surface: Array) -> Array:
    """A little random warmth, the same in every run [K] (nx, ny, nz)."""
    noise = np.random.default_rng(0).standard_normal(domain.shape)
    return DISORDER * float(np.ptp(surface)) * np.where(domain.air, noise, 0.0)


def take_round(course: Course[Stepper]) -> Round:
    """Flow for one round, the solids' answer, and the walls' new temperatures for the next."""
    began = course.stepper.time
    return answer_round(course, _flow_round(course, round_time(course)), began)


def answer_round(course: Course[FollowedFlow], heat: Array, began: float) -> Round:
    """The solids' answer to the heat (air faces,) [W] of a round of flow that began at some time [s]."""
    wall = course.state.wall
    weight = 1.0 if not course.rounds else course.settings.forget
    course.heat = (1.0 - weight) * course.heat + weight * heat
    course.wall = (1.0 - weight) * course.wall + weight * wall
    options = replace(SOLIDS, residual=course.settings.residual)
    solution = _answer(course, course.heat, course.wall, options)
    course.state = solution.state
    course.stepper.set_wall_temperature(course.contact.to_air(solution.state.wall))
    record = Round(
        len(course.rounds) + 1, course.stepper.time, course.stepper.time - began, course.stepper.steps, heat, wall,
        _path_flows(solution), _surface(course, solution),
    )  # fmt: skip
    course.rounds.append(record)
    return record


def _surface(course: Course[FollowedFlow], solution: Solution) -> Array:
    """Temperatures of the outer surface whose ripple is watched [K]; empty where none is."""
    path = course.settings.map_path
    return surface_temperatures(course.system, solution.flows.surfaces, path) if path else np.empty(0)


def _flow_round(course: Course[Stepper], duration: float) -> Array:
    """March the flow for a round; mean heat flow from every wall face into the air [W]."""
    stepper, heat = course.stepper, np.zeros(course.contact.overlap.shape[0])
    began = last = stepper.time
    number = len(course.rounds) + 1
    course.means = course.means.for_round(number, stepper)

    def sample(look: Look, stepper: FlowStepper) -> None:
        nonlocal last
        span, last = look.time - last, look.time
        heat[:] += span * stepper.heat_flow()
        course.means.add(number, span, stepper.state)
        course.frames(look, stepper)

    with single_threaded_blas():
        march_on(stepper, Limits(began + duration, 0.0, stepper.steps + 10**9, None, 10), sample)
    return heat / (stepper.time - began)


def round_time(course: Course[FollowedFlow]) -> float:
    """Length of a round [s]."""
    domain, air = course.stepper.domain, course.stepper.air
    stored = air.heat_capacity * float(domain.volumes[domain.air].sum())
    touched = np.where(course.contact.on_solid > 0.0, cavity_of(course.system).walls.area, 0.0)
    answer = float(np.sum(course.film * touched))
    left = course.settings.longest - course.stepper.time
    return min(stored / answer / course.settings.rounds_a_renewal, left)


def _answer(course: Course[FollowedFlow], heat: Array, wall: Array, options: SteadyOptions | None) -> Solution:
    """The solids' steady state with what the flow gave at some wall temperatures."""
    with single_threaded_blas():
        held = hold_air(course.system, course.contact, course.film, heat, wall)
        return solve_steady(held, options, None, course.state)


def _path_flows(solution: Solution) -> dict[str, float]:
    """Heat flows whose means are to be steady [W]: out by path, and what water or isothermal tubes give."""
    balance = solution.balance
    source = "water" if any(run.feed for run in solution.system.runs) else "tubes"
    paths = {path: flow for path, flow in balance.delivered.items() if path != SETTLING}
    return {**paths, **({source: sum(balance.supplied.values())} if balance.supplied else {})}


def _supplied(record: Round) -> float:
    """Heat put in [W]: of water or isothermal tubes, or of all paths that give heat."""
    given = record.flows.get("water") or record.flows.get("tubes")
    return given or -sum(min(flow, 0.0) for flow in record.flows.values())


def _zone_temperature(cells: Cells, zones: Array, domain: Domain) -> Array:
    """Films' air temperature in the cells of the air's grid [K]."""
    return np.append(zones, float(np.mean(zones)))[cells.zone[cells_under(cells, domain.centres)]]


def finish(
    course: Course[FollowedFlow], options: SteadyOptions | None, reason: str, seconds: float
) -> tuple[Solution, ResolvedAir]:
    """Solids with the heat of the whole window, and the air as a value."""
    window = course.rounds[window_start(len(course.rounds)) :]
    heat, wall = _both_halves(course, window)
    solution = _answer(course, heat, wall, options)
    supplied = sum(solution.balance.supplied.values()) or solution.balance.heat_in
    evidence = at_the_end(weigh(course.rounds, supplied, course.settings.least_rounds, course.mirror.of_surface))
    stepper = course.stepper
    air = ResolvedAir(
        domain=stepper.domain,
        walls=stepper.walls,
        contact=course.contact,
        properties=stepper.air,
        mean=course.means.flow(stepper),
        now=stepper.flow(reason),
        heat=heat,
        wall=course.contact.to_air(wall),
        rounds=tuple(course.rounds),
        frames=course.frames,
        evidence=evidence,
        stop_reason=reason,
        seconds=seconds,
        unseen=course.settings.unseen,
    )
    if course.settings.errors:
        air = _with_errors(course, air, window, wall)
    zones = zone_means(course.cells, air)
    return replace(solution, state=replace(solution.state, air=zones)), air


def _with_errors(
    course: Course[FollowedFlow], air: ResolvedAir, window: Sequence[Round], wall: Array
) -> ResolvedAir:
    """The air with the solids' answers that tell how well its numbers are known; `wall`: of the solids' faces [K]."""
    pieces = batches(window, course.settings.least_rounds)
    thinner, *answers = side_by_side([
        lambda: thinner_answer(course, air, wall, SOLIDS),
        *(partial(_other_rays, course, air.heat, wall, SEED + repeat) for repeat in range(1, REPEATS + 1)),
        *(partial(_answer, course, *_both_halves(course, piece), SOLIDS) for piece in pieces),
        *((partial(_answer, course, *mean_heat(window), SOLIDS),) if course.mirror.planes else ()),
    ])
    rays, told = answers[:REPEATS], answers[REPEATS:]
    batched, lopsided = tuple(told[: len(pieces)]), next(iter(told[len(pieces) :]), None)
    return replace(air, thinner=thinner, lopsided=lopsided, other_rays=tuple(rays), batches=batched)


def _other_rays(course: Course[FollowedFlow], heat: Array, wall: Array, seed: int) -> Solution:
    """The solids' answer with other rays behind the view factors."""
    cavity = with_other_rays(cavity_of(course.system), course.cells, seed)
    return _answer(replace(course, system=course.system.with_term(cavity)), heat, wall, SOLIDS)


def _both_halves(course: Course[FollowedFlow], rounds: Sequence[Round]) -> tuple[Array, Array]:
    """Mean heat of the air's faces [W] and temperature of the solids' [K] over rounds, and over mirror images."""
    heat, wall = mean_heat(rounds)
    return course.mirror.of_air(heat), course.mirror.of_solid(wall)


def zone_means(cells: Cells, air: ResolvedAir) -> Array:
    """Mean temperature of the resolved air in each of the films' zones [K] (zones,)."""
    zone = np.where(air.domain.air, cells.zone[cells_under(cells, air.domain.centres)], -1)
    volume = np.where(zone >= 0, air.domain.volumes, 0.0)
    count = len(cells.zone_names)
    total = np.bincount(zone.ravel() + 1, volume.ravel(), count + 1)[1:]
    heat = np.bincount(zone.ravel() + 1, (volume * air.mean.temperature).ravel(), count + 1)[1:]
    whole = float(heat.sum() / total.sum())
    return np.where(total > 0.0, heat / np.maximum(total, 1e-300), whole)
