"""A house from its file to its layouts: the chain that joins the modules of this folder.

    place_house     bays in the plan, circuits by length
    with_flows      the flow in every bay, from its room's load
    curves          every bay with every spacing: a few solves each, alike bays once
    solve_rooms     from the top of the house down: spacing, needed water, what the hottest water gives
    find_supplies   the neediest room sets the water; one that its floor cannot serve within limits has no say
    _layout         output, circuits, manifolds, weather, the source's limits
    try_remedies    where a room falls short
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import repeat
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.case.constants import ZERO_CELSIUS
from sim.case.errors import CaseError, Problem
from sim.case.house_called import by_name
from sim.case.house_table import blaming
from sim.case.unused import kept_unused
from sim.house.bay_solver import BaySolver, flux_of
from sim.house.curve import fall_of, losses_of
from sim.house.door import ordering_problems, water_problems
from sim.house.drop import mean_excess
from sim.house.loads import design_load
from sim.house.outdoors import Winter, outdoor_points, ratio_or_nan, season
from sim.house.place import PlacedRoom, bay_cases, place_house, plates_in, with_flows, with_outlines
from sim.house.plan import HousePlan, Remedy, RoomNeed, RoomResult, SourceLayout
from sim.house.remedies import ShortRoom, panel, try_remedies
from sim.house.rooms import Rooms, RoomState, solve_rooms
from sim.house.schemes import Option, Scheme, check_spacings, schemes, spaced
from sim.house.season import SeasonResult, climate_of
from sim.house.service import OpenRoom, join_manifolds, mixed_return, run_room
from sim.house.sources import Source, load_sources
from sim.house.suitable import suits
from sim.house.supply import Supplies, find_supplies, has_a_say, without_short
from sim.rules.limits import hold, limits_for

if TYPE_CHECKING:
    from sim.case.house_case import House
    from sim.case.house_parts import Variant


@dataclass(frozen=True, slots=True)
class HouseWish:
    """What is wanted besides the file: one of its variants (empty for none), the mesh of the bays, device, remedies."""

    variant: str = ""
    fineness: str | None = None
    device: str | None = None
    remedies: bool = True


AS_WRITTEN = HouseWish()

_ROUNDS, _SETTLED = 5, 0.02
"""How often supplies are sought again, and the change [K] below which they have settled."""


def check_house(house: House, wish: HouseWish = AS_WRITTEN) -> tuple[tuple[PlacedRoom, ...], tuple[Source, ...]]:
    """Everything that can be wrong before a bay is solved.

    Raises
    ------
    CaseError
        As `place_house`; an unknown variant; a heat source without a profile, or too cool for a room; a negative
        load; a plate spacing that no plate of the house allows.
    """
    with by_name(house.called):
        try:
            with blaming(house.origins):
                return _checked(house, wish)
        except CaseError as error:
            if not wish.variant or any(problem.key == "variant" for problem in error.problems):
                raise
            raise _with_variant(error, wish.variant) from error


def _with_variant(error: CaseError, variant: str) -> CaseError:
    """What is wrong with a house, and of which of its variants that is said."""
    said = [replace(problem, key=f"with variant {variant}: {problem.key}") for problem in error.problems]
    return CaseError(error.path, said)


def check_variants(house: House) -> None:
    """Every variant's bays, also of those that nobody asked for; `check_house` with its name places them too.

    Raises
    ------
    CaseError
        A change of a variant that does not fit a room's bay, once for each room. What is wrong without any is left to
        `check_house`, or it would be told once a variant.
    """
    anyway = bay_cases(house, None)[1] if house.variants else ()
    found = dict.fromkeys(
        problem
        for number, variant in enumerate(house.variants)
        for problem in _wrong_variant(house, number, variant, anyway)
    )
    if found:
        raise CaseError(house.path or house.name, found, house.called)


def _wrong_variant(house: House, number: int, variant: Variant, anyway: Sequence[Problem]) -> Iterator[Problem]:
    """What of a variant does not fit, or that nothing in any room reads it."""
    where = f"variant[{number}].change"
    cases, problems = bay_cases(house, variant.change)
    for problem in (one for one in problems if one not in anyway):
        yield replace(problem, key=_of_variant(problem.key, where))
    idle = [{problem.key: problem for problem in kept_unused(case)} for case in cases]
    if not problems and all(own.keys() >= variant.change.keys() for own in idle):
        for key in variant.change:
            yield replace(idle[0][key], key=f"{where} {key}")


def _of_variant(key: str, where: str) -> str:
    """A key that names the variant, also where a rule blames what the room has beside the variant's change."""
    return key.replace("variant.change", where, 1) if key.startswith("variant.change") else f"{where} with {key}"


def _checked(house: House, wish: HouseWish) -> tuple[tuple[PlacedRoom, ...], tuple[Source, ...]]:
    placed = place_house(house, _change(house, wish))
    loads = [design_load(house, room) for room in house.rooms]
    check_spacings(house, [room.case for room in placed])
    profiles = _profiles(house)
    climate_of(house)
    circuits = [circuit for room in placed for circuit in room.split.circuits]
    wanted = schemes(house, profiles)
    if problems := [*ordering_problems(house, circuits), *water_problems(house, wanted, loads)]:
        raise CaseError(house.path or house.name, problems)
    return placed, profiles


def solve_house(house: House, solver: BaySolver, wish: HouseWish = AS_WRITTEN) -> HousePlan:
    """Lay a house out for each of its heat sources.

    Parameters
    ----------
    house : as loaded.
    solver : solves bays and remembers them.
    wish : a variant, and the mesh; the house as written when left out.

    Raises
    ------
    CaseError
        As `check_house`.
    HouseError
        A bay could not be solved.
    """
    with solver.workers_kept():
        return _laid_out(house, solver, wish)


def _laid_out(house: House, solver: BaySolver, wish: HouseWish) -> HousePlan:
    """The chain."""
    placed, profiles = check_house(house, wish)
    loads = tuple(design_load(house, room) for room in house.rooms)
    placed = with_flows(house, placed, loads)
    own, options = _options(house, placed, solver)
    rooms = Rooms(house, placed, loads, own, options)
    wanted = schemes(house, profiles)
    states, supplies = _settled(rooms, wanted, solver)
    needs = tuple(states[0][number].need for number in range(len(placed)))
    short = [room for own in states[1:] for room in _short(own)]
    remedies = iter(try_remedies(short, solver)) if wish.remedies else repeat(())
    laid_out = zip(wanted[1:], states[1:], supplies[1:], strict=True)
    layouts = tuple(_layout(rooms, *entry, remedies) for entry in laid_out)
    bays = tuple(bay for room in placed for bay in room.bays)
    counts = (solver.made, solver.asked, solver.taken_up)
    return HousePlan(with_outlines(house, placed), wish.variant, bays, needs, layouts, *counts)


def _settled(
    rooms: Rooms, wanted: Sequence[Scheme], solver: BaySolver
) -> tuple[list[dict[int, RoomState]], list[Supplies]]:
    """States and supplies of all schemes; repeated where a room at its floor's limit gets cooler water than that.

    What it then sends down to the room below is less, and that room may ask for a little more.
    """
    house, caps = rooms.house, [dict[int, float]() for _ in wanted]
    for _ in range(_ROUNDS):
        states = solve_rooms(rooms, wanted, solver, caps)
        supplies = [find_supplies(house, scheme, own) for scheme, own in zip(wanted, states, strict=True)]
        found = [
            {number: supply.of(house.rooms[number]) for number, state in own.items() if state.limited}
            for supply, own in zip(supplies, states, strict=True)
        ]
        found[0] = {}
        if _same(caps, found):
            break
        caps = found
    return states, supplies


def _same(old: Sequence[Mapping[int, float]], new: Sequence[Mapping[int, float]]) -> bool:
    """Whether supplies have settled."""
    return all(
        first.keys() == second.keys() and all(abs(first[key] - second[key]) < _SETTLED for key in first)
        for first, second in zip(old, new, strict=True)
    )


def solve_needs(house: House, solver: BaySolver, wish: HouseWish = AS_WRITTEN) -> tuple[RoomNeed, ...]:
    """Only what the rooms need as written: the water for each; raises as `solve_house`."""
    placed, _ = check_house(house, wish)
    loads = tuple(design_load(house, room) for room in house.rooms)
    placed = with_flows(house, placed, loads)
    cases = [room.case for room in placed]
    own = tuple(
        Option(None if case.plates is None else case.plates.spacing, case, curve)
        for case, curve in zip(cases, solver.curves(cases), strict=True)
    )
    rooms = Rooms(house, placed, loads, own, tuple((option,) for option in own))
    states = solve_rooms(rooms, schemes(house, ())[:1], solver)[0]
    return tuple(states[number].need for number in range(len(placed)))


def _change(house: House, wish: HouseWish) -> dict[str, Any]:
    """The values that a wish puts into every bay."""
    mesh = {} if wish.fineness is None else {"mesh.fineness": wish.fineness}
    mesh |= {} if wish.device is None else {"air.device": wish.device}
    if not wish.variant:
        return mesh
    for entry in house.variants:
        if entry.name == wish.variant:
            return mesh | entry.change
    known = ", ".join(entry.name for entry in house.variants) or "none"
    problem = Problem("variant", f'"{wish.variant}"', "there is no variant of that name", f"known: {known}")
    raise CaseError(house.path or house.name, [problem])


def _profiles(house: House) -> tuple[Source, ...]:
    """The sources to lay out for, in the order of the file."""
    own = house.design.profiles
    known = load_sources(None if own is None else Path(house.path or ".").parent / own)
    if not house.sources:
        return tuple(known.values())
    problems = [
        Problem(f"source[{number}].name", f'"{entry.name}"', "no such heat source", f"known: {', '.join(known)}")
        for number, entry in enumerate(house.sources)
        if entry.name not in known
    ]
    if problems:
        raise CaseError(house.path or house.name, problems)
    return tuple(known[entry.name] for entry in house.sources)


def _options(
    house: House, placed: Sequence[PlacedRoom], solver: BaySolver
) -> tuple[tuple[Option, ...], tuple[tuple[Option, ...], ...]]:
    """Every room's own bay, and its bay with every spacing to choose from."""
    wanted = [spaced(house, room.case) for room in placed]
    curves = iter(solver.curves([case for choices in wanted for _, case in choices]))
    options = tuple(tuple(Option(spacing, case, next(curves)) for spacing, case in choices) for choices in wanted)
    own = tuple(
        next(option for option in choices if option.case is room.case)
        for room, choices in zip(placed, options, strict=True)
    )
    return own, options


def _short(states: Mapping[int, RoomState]) -> list[ShortRoom]:
    """Rooms for which the hottest water is not enough, in the order of the file."""
    return [
        ShortRoom(
            case=state.option.case,
            excess=state.excess,
            area=state.need.area,
            output=state.output,
            wanted=state.need.flux * state.need.area,
            fall=fall_of(state.report),
        )
        for _, state in sorted(states.items())
        if state.short
    ]


def _layout(
    rooms: Rooms,
    scheme: Scheme,
    states: Mapping[int, RoomState],
    supplies: Supplies,
    remedies: Iterator[tuple[Remedy, ...]],
) -> SourceLayout:
    """The layout for one source; takes its rooms' remedies from the front of those that are left."""
    house, source, supply = rooms.house, scheme.source, supplies.house
    assert source is not None
    water = [(scheme, supplies.of(room)) for room in house.rooms]
    results = [
        _room(rooms, number, water[number], states[number], next(remedies) if states[number].short else ())
        for number in sorted(states)
    ]
    circuits = [
        circuit
        for number, result in enumerate(results)
        if result.mean_water > result.need.temperature
        for circuit in run_room(house, _opened(rooms, number, states[number], result), *water[number])
    ]
    manifolds = join_manifolds(house, circuits)
    heat = sum(result.heat for result in results)
    winter = Winter(rooms, scheme, source, states, supplies)
    return SourceLayout(
        source=source,
        hottest=scheme.hottest,
        why_hottest=scheme.why,
        supply=supply,
        drop=scheme.drop,
        set_by=house.rooms[supplies.setting_room].name,
        rooms=tuple(results),
        circuits=tuple(circuits),
        manifolds=manifolds,
        outdoor=outdoor_points(winter),
        findings=suits(source, supply, mixed_return(manifolds, supply), heat, house.design.outdoor),
        plates=sum(plates_of(result, room) for result, room in zip(results, rooms.placed, strict=True)),
        tube=sum(circuit.flow.circuit.length for circuit in circuits),
        heat=heat,
        heat_open=sum(manifold.water.heat for manifold in manifolds),
        ratio=ratio_or_nan(source, supply, house.design.outdoor, heat),
        season=_season(winter),
        spared=without_short(house, states, supplies.setting_room, supply),
    )


def _season(winter: Winter) -> SeasonResult | None:
    """A heating season; None where the source's table does not reach its water."""
    climate = climate_of(winter.rooms.house)
    try:
        return season(winter, climate)
    except ValueError:
        return None


def plates_of(result: RoomResult, placed: PlacedRoom) -> int:
    """Plates in a room."""
    return sum(plates_in(bay, result.case) for bay in placed.bays)


def _room(
    rooms: Rooms, number: int, water: tuple[Scheme, float], state: RoomState, remedies: tuple[Remedy, ...]
) -> RoomResult:
    """A room at the supply of its manifold."""
    (scheme, supply), need = water, state.need
    excess = mean_excess(supply - need.temperature, scheme.drop) if supply > need.temperature + scheme.drop else 0.0
    available = state.output if state.short or state.limited else need.curve.flux(excess) * need.area
    limits, fed = limits_for(state.option.case), {"water_supply_C": supply - ZERO_CELSIUS}
    opened = dict(state.report) if state.short else need.curve.report(excess)
    rest = panel(need, available, (supply, scheme.drop))
    room = rooms.house.rooms[number]
    return RoomResult(
        need=need,
        case=state.option.case,
        mean_water=need.temperature + excess,
        available=available,
        output=state.output,
        down=state.down,
        edge=state.edge,
        down_to=room.below.room or "",
        report=state.report,
        verdicts=hold(limits, dict(state.report) | fed),
        open_verdicts=hold(limits, opened | fed),
        remedies=(*remedies, *rest),
        spacings=tuple((trial.option.spacing, trial.supply, trial.works) for trial in state.trials),
        has_say=has_a_say(room, state.limited),
    )


def _opened(rooms: Rooms, number: int, state: RoomState, result: RoomResult) -> OpenRoom:
    """A room with its valve open at the layout's supply."""
    excess = result.mean_water - result.need.temperature
    report = result.report if state.short else result.need.curve.report(excess)
    placed = rooms.placed[number]
    flux = flux_of(report) + sum(losses_of(report))
    return OpenRoom(PlacedRoom(placed.room, result.case, placed.bays, placed.split), excess, flux)
