"""Cautions about warmth: people's feet and heads, covering, wood, cables, hot water, growth of the tube.

Each function takes a `Situation` and yields a caution where its number calls for one.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from sim.case.constants import ZERO_CELSIUS
from sim.physics.foot import dissatisfied_by_floor
from sim.rules.caution import NO_SOURCE, Caution, Situation
from sim.rules.comfort import CATEGORY_B, WARM_CEILING, dissatisfied_by_warm_ceiling, floor_range
from sim.rules.limits import BATHROOM, SPOKEN, WOODEN, rated
from sim.rules.tube_growth import STEEP, growth_of

THICKEST_COVERING = 0.15
"""Largest thermal resistance of a covering for which EN 1264 is made [m²K/W]."""

WARM_WOOD = ((37.8, 0.8), (51.7, 0.7))
"""Above each temperature [°C], the share of its design strength in bending that wood has while it stays so."""

WARM_CABLE = 30.0
"""Air temperature for which the current that cables may carry is listed [°C]."""

CABLE_BASIS = 60.0
"""Conductor temperature that building cable is reckoned with [°C]."""

SCALDING = (120.0 - 32.0) / 1.8
"""From here on water burns skin within minutes [°C]: 120 °F."""

_ROUNDING = 1e-6
"""By which 120 °F may come out cooler on its way through kelvin [K]."""

MOST_DOWN = 50.0
"""Share of the water's heat that may go down before the bay is said to want insulation [%]."""

COLD_ROOM = 5.0
"""Colder than this nothing that is called a heated room is one [°C]."""

COLDER_BELOW = 5.0
"""How much colder than an even start the place below may be before the start is said to tell [K]: no source."""

GROWS = 0.010
"""Growth of one straight run that wants room at its ends [m]."""


def comfort(at: Situation) -> Iterator[Caution]:
    """Cold or warm floor, for people in shoes."""
    mean = at.report.get("surface_mean_C")
    if mean is None or at.case.room.temperature > BATHROOM:
        return
    share = dissatisfied_by_floor(mean)
    if share > CATEGORY_B:
        side, bound = ("cold", floor_range()[0]) if mean < floor_range()[0] else ("warm", floor_range()[1])
        text = (
            f"the floor is {at.say('C', mean)} in the mean: {share:.0f} % of people in shoes find it too {side}; "
            f"{CATEGORY_B:.0f} % at {at.say('C', bound)}"
        )
        yield Caution(f"{side} floor", text, "ISO 7730:2005, 6.4", "dissatisfied_percent", share, CATEGORY_B)


def lost_down(at: Situation) -> Iterator[Caution]:
    """A floor that warms what lies below it more than its room."""
    up, share = at.report.get("heat_flux_up_W_m2"), at.report.get("share_down_percent")
    supplied = at.report.get("heat_flow_supplied_W", 0.0)
    if up is None or share is None or not supplied > 0.0 or not share > MOST_DOWN:
        return
    lost = f"{share:.0f} % of the water's heat goes down"
    if up < 0.0:
        lost = f"the floor takes {at.say('W_m2', -up)} out of the room: all heat of the water, and more, goes down"
    text = f"{lost}; insulate below tube and plates, and the rim, before the ceiling closes"
    yield Caution("heat lost down", text, NO_SOURCE, "share_down_percent", share, MOST_DOWN)


def cold_room_below(at: Situation) -> Iterator[Caution]:
    """A room below whose temperature belies its name."""
    below = at.case.below
    if below.kind == "heated room" and below.temperature is not None:
        celsius = below.temperature - ZERO_CELSIUS
        if celsius < COLD_ROOM:
            text = (
                f"what lies below is taken as a heated room, at {at.say('C', celsius)}: say "
                'below.kind = "outdoors" or "unheated space" if it is one'
            )
            yield Caution("cold room below", text, NO_SOURCE, "below_C", celsius, COLD_ROOM)


def ceiling_below(at: Situation) -> Iterator[Caution]:
    """Warm ceiling of the room below, taken as all that a person there sees above."""
    if at.case.below.kind != "heated room" or not at.case.below.film > 0.0 or "heat_flow_down_W" not in at.report:
        return
    warmer = at.report["heat_flow_down_W"] / at.report["floor_area_m2"] / at.case.below.film
    if warmer > WARM_CEILING:
        share = f"{dissatisfied_by_warm_ceiling(warmer):.0f}" if warmer < 23.0 else "more than 70"
        text = (
            f"the ceiling below is {at.say('K', warmer)} warmer than its room, {share} % of people there mind; "
            "insulate the bay better"
        )
        source = "ISO 7730:2005, 6.5, and ASHRAE 55-2020: 5 K (from memory)"
        yield Caution("warm ceiling below", text, source, "warmer_K", warmer, WARM_CEILING)


def covering(at: Situation) -> Iterator[Caution]:
    """Covering with its rugs."""
    floor = at.case.floor
    rugs = max((float(rug.thermal_resistance) for rug in floor.rugs), default=0.0)
    resistance = sum(float(layer.thermal_resistance) for layer in floor.coverings) + rugs
    if resistance > THICKEST_COVERING * (1.0 + 1e-9):
        text = (
            f"covering{' and rug' if rugs else ''} of {at.say('m2K_W', resistance)}: more than the "
            f"{at.say('m2K_W', THICKEST_COVERING)} that the standard is made for; it asks for hotter water below"
        )
        source = "EN 1264-2:2021, scope, 0.15 m²K/W (from memory)"
        yield Caution("covering", text, source, "r_m2K_W", resistance, THICKEST_COVERING)


def wood(at: Situation) -> Iterator[Caution]:
    """Wood that is weaker while it is warm."""
    for part in WOODEN:
        peak = at.report.get(f"{part}_peak_C")
        passed = [(limit, share) for limit, share in WARM_WOOD if peak is not None and peak > limit]
        if peak is not None and passed:
            limit, share = passed[-1]
            spoken = SPOKEN.get(part, part)
            text = (
                f"{spoken} up to {at.say('C', peak)}: where it stays so, reckon with {share:g} of the strength in "
                f"bending (above {at.say('C', limit)})"
            )
            source = "National Design Specification for Wood Construction 2018, 2.3.3 (from memory)"
            yield Caution(f"warm {spoken}", text, source, "peak_C", peak, limit)


def cables(at: Situation) -> Iterator[Caution]:
    """Electrical cable in warm air."""
    air = at.report.get("cavity_air_C")
    if air is not None and air > WARM_CABLE:
        carried = math.sqrt(max(0.0, CABLE_BASIS - air) / (CABLE_BASIS - WARM_CABLE))
        share = f"about {100 * carried:.0f} %" if carried else "none"
        text = (
            f"cavity air {at.say('C', air)}: a cable here may carry {share} of its listed "
            "current; keep cables off tube and plates, switch circuits off before boring, let an electrician decide"
        )
        source = "NFPA 70-2023, 310.15(B) (from 30 °C, conductors at 60 °C; from memory)"
        yield Caution("wiring", text, source, "air_C", air, WARM_CABLE, carried == 0.0)


def scald(at: Situation) -> Iterator[Caution]:
    """Water that burns."""
    supply = at.report.get("water_supply_C")
    if supply is not None and supply >= SCALDING - _ROUNDING:
        text = (
            f"water of {at.say('C', supply)} burns skin: minutes at {at.say('C', 49.0)}, seconds at "
            f"{at.say('C', 60.0)}; limit mixed water, cover bare hot pipes, never draw tap water from the "
            "heating loop"
        )
        source = "Moritz and Henriques 1947 (from memory)"
        yield Caution("hot water", text, source, "supply_C", supply, SCALDING)


def tube_rating(at: Situation) -> Iterator[Caution]:
    """Tube whose rating is not known here."""
    supply, material = at.report.get("water_supply_C"), at.case.tube.material
    if supply is not None and not rated(material) and supply > 60.0:
        text = f"{material} tube with {at.say('C', supply)}: look up its rated temperature, pressure and life"
        yield Caution("tube rating", text, NO_SOURCE, "supply_C", supply, 60.0)


def growth(at: Situation) -> Iterator[Caution]:
    """Tube that grows along its run."""
    found = growth_of(at.case, at.report["water_mean_C"] + ZERO_CELSIUS) if "water_mean_C" in at.report else None
    if found is not None and found.tube > GROWS:
        text = (
            f"a straight run of {at.say('m', found.run)} grows {at.length(found.tube, 'up')} over "
            f"{at.say('K', found.rise)}; leave room at its ends, guide it, do not clamp it"
        )
        source = f"{1e3 * found.per_metre:.3g} mm per m and K ({found.source}); room at the ends: {NO_SOURCE}"
        yield Caution("growth", text, source, "growth_mm", 1e3 * found.tube, 1e3 * GROWS)


def ticking(at: Situation) -> Iterator[Caution]:
    """Noise of tube that slips where it is held when hot water comes at once."""
    room = at.case.room.temperature - ZERO_CELSIUS
    step = at.report.get("water_supply_C", room) - room
    if step > STEEP:
        held = "in its plates" if at.case.plates is not None else "in its holes and fixings"
        text = (
            f"water {at.say('K', step)} over the room at a start: tube slips {held} and the floor may tick; "
            "water by the weather and long running times keep it quiet (an estimate, not a prediction)"
        )
        yield Caution("ticking", text, f"trade press on ticking floors; {NO_SOURCE}", "step_K", step, STEEP)


def even_start(at: Situation) -> Iterator[Caution]:
    """A bay in time that starts as warm underneath as above, over a place that is colder."""
    time, below = at.case.time, at.case.below
    colder = float(time.start_temperature) - float(below.temperature)
    in_time = "wood_peak_C" in at.report  # at rest every part of the wood has its own number
    if in_time and time.start == "uniform" and below.kind != "adiabatic" and colder > COLDER_BELOW:
        kelvins = (time.start_temperature, below.temperature)
        start, under = (at.say("C", float(kelvin) - ZERO_CELSIUS) for kelvin in kelvins)
        text = (
            f"everything starts at {start}, the underside too, over {under}: what it gives off while it cools counts "
            "as heat down; a bay that was cold underneath before loses less down at first and takes up more"
        )
        yield Caution("even start", text, NO_SOURCE, "colder_K", colder, COLDER_BELOW)


FIRST = (lost_down, cold_room_below)
"""What makes all other numbers idle: told before everything else."""

RULES = (comfort, ceiling_below, covering, wood, cables, scald, tube_rating, growth, ticking, even_start)
"""All others, in the order in which they are told."""
