"""Cavity air and solids together: rounds of flow, each answered by the solids and their radiation.

    films solution                  where everything starts, with a little disorder
      rounds of flow                explicit steps; walls held, their heat flows averaged
      solids and radiation          implicit, steady: what they store does not matter for a steady mean
      walls to the flow             by overlapping areas
    until the running means of all heat flows are steady

A bay's flow has two starts that differ in their random warmth, each with its own solids, so that they are independent
of each other and may march side by side; what they gave comes together in the means.

The solids see each face's heat as q̄ + h (T − T̄): what the flow gave at the temperature that it was given, and how
that heat answers to a change. With h near the true answer a few rounds suffice; whatever it is, it drops out once T
no longer changes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from sim.airflow.box import Limits, march_on
from sim.airflow.domain import Domain
from sim.airflow.flow import resting_flow
from sim.airflow.frames import Frames
from sim.airflow.step import Stepper, build_stepper
from sim.airflow.stepping import FlowMaker, FlowStepper, Followed, FollowedFlow, Look
from sim.airflow.subgrid import VREMAN
from sim.airflow.walls import find_walls
from sim.bay.cells import Cells
from sim.machine.threads import one_thread_each, single_threaded_blas
from sim.resolved.air import ResolvedAir, RoundListener
from sim.resolved.contact import find_contact
from sim.resolved.course import SOLIDS, Course, answer_of_solids, both_halves
from sim.resolved.domain import build_air_domain, cells_under
from sim.resolved.held import cavity_of
from sim.resolved.means import Evidence, Round, Starts, at_the_end, was_known, weigh, windows_of
from sim.resolved.mirror import Mirror, find_mirror, surface_temperatures
from sim.resolved.open_errors import with_errors
from sim.resolved.settings import AirSettings
from sim.resolved.window import FieldMeans, mean_flow
from sim.solver.multigrid import KeptHierarchy
from sim.solver.steady import Solution, SteadyOptions, solve_steady
from sim.solver.system import System
from sim.solver.terms.cavity import SETTLING

Array = NDArray[np.float64]

STIFFNESS = 1.0 / 3.0
"""Least answer h of a face's heat to its temperature, over the half cell's conductance: a ripple of the wall as fine
as the grid is answered by nearly that conductance, and would grow from round to round if h were much smaller."""

DISORDER = 0.1
"""Random warmth of the air at the start over the span of its walls' temperatures: with little or none symmetric flows
stay in patterns that more would end, and which one they begin in hangs on the mesh (`docs/air-mesh.md`)."""

WATER, HELD = "water", "from "
"""Names of flows into the build-up: of all water, and how that of a body held at a temperature begins."""


def resolve_air(
    system: System,
    cells: Cells,
    settings: AirSettings,
    *,
    options: SteadyOptions | None = None,
    listener: RoundListener | None = None,
    courses: Sequence[Course[Stepper]] = (),
) -> tuple[Solution, ResolvedAir]:
    """Steady mean of solids and flow.

    Parameters
    ----------
    system, cells : the solids, with the cavity's films as a start.
    options : for the last solution of the solids.
    listener : called after each round of all starts; it may keep the courses' state for a restart.
    courses : where the starts of an earlier run stopped; by default new ones. What is behind comes up with the others.

    Returns
    -------
    Solution of the solids with the air's mean heat held, and the air. `stop_reason` of the air is "steady" or "time".

    Raises
    ------
    FlowError : the flow ran into values that mean nothing.
    DivergedError : the solids did.
    """
    began = perf_counter()
    courses = courses or lay_out_starts(system, cells, settings)
    with one_thread_each(len(courses)) as side_by_side:
        while not (reason := why_done(courses)):
            fewest = min(len(course.rounds) for course in courses)
            side_by_side(take_round, [course for course in courses if len(course.rounds) == fewest])
            if listener and alike(courses):
                listener(courses[0].rounds[-1], evidence_of(courses), perf_counter() - began)
    return finish(courses, options, reason, perf_counter() - began)


def evidence_of(courses: Sequence[Course[FollowedFlow]]) -> Evidence:
    """How steady the means of all starts are after the last round."""
    return weigh(_rounds(courses), *_weights(courses))


def _rounds(courses: Sequence[Course[FollowedFlow]]) -> Starts:
    return [course.rounds for course in courses]


def _weights(courses: Sequence[Course[FollowedFlow]]) -> tuple[float, int, Mirror]:
    """What `weigh` needs beside the rounds."""
    supplied = float(np.mean([_supplied(course.rounds[-1]) for course in courses]))
    return supplied, courses[0].settings.least_rounds, courses[0].mirror


def alike(courses: Sequence[Course[FollowedFlow]]) -> bool:
    """Whether all starts have taken equally many rounds."""
    return len({len(course.rounds) for course in courses}) == 1


def why_done(courses: Sequence[Course[FollowedFlow]]) -> str:
    """"steady" or "time" where the rounds so far are enough, else nothing."""
    if not courses[0].rounds or not alike(courses):
        return ""
    settings = courses[0].settings
    steady = evidence_of(courses).steady(settings.error, settings.imbalance)
    if steady and (not settings.errors or was_known(_rounds(courses), settings.error, *_weights(courses))):
        return "steady"
    return "" if courses[0].rounds[-1].time < settings.longest * (1.0 - 1e-9) else "time"


def lay_out_starts(system: System, cells: Cells, settings: AirSettings) -> list[Course[Stepper]]:
    """All starts of a flow that settings ask for."""
    with one_thread_each(settings.starts) as side_by_side:
        return side_by_side(partial(lay_out, system, cells, settings), range(settings.starts))


def lay_out(system: System, cells: Cells, settings: AirSettings, start: int = 0) -> Course[Stepper]:
    """Films solution, air grid, contact and resting air at the films' temperatures, but for a start's disorder."""
    return lay_out_for(build_stepper, system, cells, settings, start)


def lay_out_for(
    follow: FlowMaker[Followed], system: System, cells: Cells, settings: AirSettings, start: int = 0
) -> Course[Followed]:
    """The same with a flow that is followed wherever `follow` does."""
    cavity, kept = cavity_of(system), KeptHierarchy()
    with single_threaded_blas():
        films = solve_steady(system, SOLIDS, kept=kept)
    heat = films.flows.walls
    assert heat is not None
    domain = build_air_domain(cells, settings.sizes, settings.slip)
    walls = find_walls(domain)
    contact = find_contact(cells, cavity, domain, walls)
    air = settings.air(float(np.mean(films.state.air)))
    layers = _zone_temperature(cells, films.state.air, domain)
    rest = resting_flow(domain, layers + _disorder(domain, heat.temperature, start))
    surface, eddies = contact.to_air(heat.temperature), VREMAN if settings.subgrid else 0.0
    with single_threaded_blas():
        stepper = follow(domain, air, surface, rest, settings.scheme, eddies)
    stiff = contact.mean_on_solid(STIFFNESS * air.conductivity / walls.distance)
    film = np.maximum(heat.slope / cavity.walls.area, stiff)
    first, frames, means = np.zeros(walls.count), Frames(*settings.frames), FieldMeans.none(stepper)
    frames.keep(0.0, stepper.state)
    mirror = find_mirror(system, domain, walls, heat.temperature, settings.map_path, settings.mirrors)
    starts = film, replace(films.state, air=np.empty(0)), first, heat.temperature
    return Course(system, cells, settings, stepper, contact, *starts, [], means, frames, mirror, kept)


def _disorder(domain: Domain, surface: Array, start: int) -> Array:
    """A little random warmth, the same in every run, another in each start [K] (nx, ny, nz)."""
    noise = np.random.default_rng(start).standard_normal(domain.shape)
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
    solution = answer_of_solids(course, course.heat, course.wall, options, course.kept)
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


def _path_flows(solution: Solution) -> dict[str, float]:
    """Heat flows whose means are to be steady [W]: out by path; in, of all water together or of each held body."""
    balance = solution.balance
    flows = {str(path): flow for path, flow in balance.delivered.items() if path != SETTLING}
    if any(run.feed for run in solution.system.runs):
        return flows | {WATER: sum(balance.supplied.values())}
    return flows | {f"{HELD}{body}": flow for body, flow in balance.supplied.items()}


def _supplied(record: Round) -> float:
    """Heat put in [W]: of water, or of all bodies and paths that give heat."""
    if record.flows.get(WATER):
        return record.flows[WATER]
    inwards = [flow if path.startswith(HELD) else -flow for path, flow in record.flows.items()]
    return sum(flow for flow in inwards if flow > 0.0)


def _zone_temperature(cells: Cells, zones: Array, domain: Domain) -> Array:
    """Films' air temperature in the cells of the air's grid [K]."""
    return np.append(zones, float(np.mean(zones)))[cells.zone[cells_under(cells, domain.centres)]]


def finish(
    courses: Sequence[Course[FollowedFlow]], options: SteadyOptions | None, reason: str, seconds: float
) -> tuple[Solution, ResolvedAir]:
    """Solids with the heat of the whole windows, and the air as a value; `seconds`: spent so far [s].

    Where there are several starts, its last flow and its pictures are the first one's.
    """
    course, windows = courses[0], windows_of(_rounds(courses))
    heat, wall = both_halves(course, [one for window in windows for one in window])
    solution = answer_of_solids(course, heat, wall, options, course.kept)
    evidence, stepper = at_the_end(evidence_of(courses)), course.stepper
    air = ResolvedAir(
        domain=stepper.domain,
        walls=stepper.walls,
        contact=course.contact,
        properties=stepper.air,
        mean=mean_flow([one.means.flow(one.stepper) for one in courses]),
        now=stepper.flow(reason),
        heat=heat,
        wall=course.contact.to_air(wall),
        starts=tuple(tuple(one.rounds) for one in courses),
        frames=course.frames,
        evidence=evidence,
        stop_reason=reason,
        seconds=seconds,
        unseen=course.settings.unseen,
        mirror=course.mirror,
    )
    if course.settings.errors:
        air = with_errors(course, air, windows, wall)
    zones = zone_means(course.cells, air)
    return replace(solution, state=replace(solution.state, air=zones)), air


def zone_means(cells: Cells, air: ResolvedAir) -> Array:
    """Mean temperature of the resolved air in each of the films' zones [K] (zones,)."""
    zone = np.where(air.domain.air, cells.zone[cells_under(cells, air.domain.centres)], -1)
    volume = np.where(zone >= 0, air.domain.volumes, 0.0)
    count = len(cells.zone_names)
    total = np.bincount(zone.ravel() + 1, volume.ravel(), count + 1)[1:]
    heat = np.bincount(zone.ravel() + 1, (volume * air.mean.temperature).ravel(), count + 1)[1:]
    whole = float(heat.sum() / total.sum())
    return np.where(total > 0.0, heat / np.maximum(total, 1e-300), whole)
