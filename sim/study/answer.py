"""What a comparison says: which choice meets the wish, by what margin, and what it costs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sim.case.constants import ZERO_CELSIUS
from sim.results.air_words import air_apart, by_correlations, correlations_words
from sim.results.people import BAND, Units, format_value
from sim.rules.limits import Verdict, hold, limits_for
from sim.study.compare import FLUX, ComparedChoice, Comparison

if TYPE_CHECKING:
    from typing import Literal

EXACT = 1e-6
"""Share by which a wish may be missed and still counts as met: rounding of its digits."""

PLATES, RIPPLE, SUPPLY = "plates_per_m2", "ripple_K", "water_supply_C"


@dataclass(frozen=True, slots=True)
class Standing:
    """A choice at some water: its report, its limits, and how it stands to the wish.

    Attributes
    ----------
    name : str
    report : mapping of str to float
    verdicts : tuple of Verdict
        Its limits, the wished ripple not among them.
    flux, ripple : float or None
        What is wished for [W/m², K]; None: nothing.
    """

    name: str
    report: Mapping[str, Any]
    verdicts: tuple[Verdict, ...]
    flux: float | None
    ripple: float | None

    @property
    def broken(self) -> list[str]:
        """What is not kept, in words: limits, and the wished ripple."""
        names = [verdict.limit.what for verdict in self.verdicts if not verdict.kept]
        if self.ripple is not None and self.report[RIPPLE] > self.ripple * (1.0 + EXACT):
            names.append("the ripple wished for")
        return names

    @property
    def gives(self) -> bool:
        """Whether it gives the wished heat."""
        return self.flux is None or self.report[FLUX] >= self.flux * (1.0 - EXACT)

    @property
    def margin(self) -> float:
        """Upward flux beyond the wish [W/m²]."""
        return float(self.report[FLUX] - (self.flux or 0.0))

    @property
    def band(self) -> float:
        """How far the upward flux may be off by what is known of the air [W/m²]; 0 where nothing is."""
        learned = self.report.get("air_band_up_percent", 0.0) / 100.0 * self.report[FLUX]
        return float(max(learned, self.report.get(FLUX + BAND) or 0.0))


def standings(comparison: Comparison, equal: str, flux: float | None = None) -> list[Standing]:
    """Every choice that was solved, at equal "water" or "heat", with its limits; `flux`: what is wished for [W/m²]."""
    found = []
    for choice in comparison.of(equal):
        result = choice.result(equal)
        if result is not None:
            values = result.report.as_dict()
            held, ripple = _held(choice, values), comparison.case.compare.ripple
            found.append(Standing(choice.named(equal), values, held, flux, ripple))
    return found


def answer(comparison: Comparison, flux: float | None, units: Units | Literal["both"] = "si") -> list[str]:
    """The answer in a sentence or two, and how sure it is: also where only some choices' air follows correlations.

    Parameters
    ----------
    flux : wished upward heat flux [W/m²]; None where nobody wishes for one.
    units : of the texts.
    """
    apart = air_apart(comparison.rows("water"))
    law = correlations_words([choice.case for choice in comparison.choices])
    law = f"there {law}" if apart and law else law
    told = [f"{line[:1].upper()}{line[1:]}." for line in (apart, law) if line]
    return _answer(comparison, flux, units) + told


def _answer(comparison: Comparison, flux: float | None, units: Units | Literal["both"]) -> list[str]:
    say = _Words(comparison, units)
    at_water = standings(comparison, "water", flux)
    if not at_water:
        return []
    if flux is None:
        return say.without_wish(standings(comparison, "heat") if comparison.equal_heat else [], at_water)
    fine = [each for each in at_water if each.gives and not each.broken]
    if fine:
        return say.met(fine, [each for each in at_water if each not in fine])
    return say.not_met(at_water, standings(comparison, "heat", flux))


def _held(choice: ComparedChoice, report: Mapping[str, float]) -> tuple[Verdict, ...]:
    return hold(limits_for(choice.case), report)


@dataclass(frozen=True, slots=True)
class _Words:
    """The sentences."""

    comparison: Comparison
    units: Units | Literal["both"]

    def number(self, key: str, value: float) -> str:
        """A report number with its unit, in the units of the texts."""
        return format_value(key, value, self.units)

    def cost(self, of: Standing) -> str:
        """Water, plates where any choice has some, and ripple."""
        water, plates, ripple = (self.number(key, of.report[key]) for key in (SUPPLY, PLATES, RIPPLE))
        some = any(choice.case.plates is not None for choice in self.comparison.choices)
        told = f" plates {plates if of.report[PLATES] else 'none'}," if some else ""
        return f"{water} water,{told} ripple {ripple}"

    def met(self, fine: Sequence[Standing], others: Sequence[Standing]) -> list[str]:
        """Which to take of those that meet the wish: of fewest plates, then of coolest water, then most even."""
        best = min(fine, key=lambda each: (each.report[PLATES], each.report[SUPPLY], each.report[RIPPLE]))
        wish = self.number(FLUX, best.flux or 0.0)
        share = 100.0 * best.margin / (best.flux or 1.0)
        lines = [
            f"{_capital(best.name)} gives the wished {wish} with {self.number(FLUX, best.margin)} ({share:.1f} %) "
            f"to spare and every limit kept: {self.cost(best)}."
        ]
        if rest := [each.name for each in fine if each is not best]:
            lines.append(f"So {'do' if len(rest) > 1 else 'does'} {_listed(rest)}, with more plates or warmer water.")
        lines += self.short(others)
        return lines + self.unsure([best, *others])

    def short(self, others: Sequence[Standing]) -> list[str]:
        """Why the others do not meet the wish."""
        weak = [f"{each.name} by {self.number(FLUX, -each.margin)}" for each in others if not each.gives]
        lines = [f"Too little heat: {_listed(weak)}."] if weak else []
        for each in others:
            if each.gives and each.broken:
                lines.append(f"{_capital(each.name)} gives it but breaks a limit ({_listed(each.broken)}).")
        return lines

    def not_met(self, at_water: Sequence[Standing], at_heat: Sequence[Standing]) -> list[str]:
        """Why no choice meets the wish, and which would with other water: the coolest, and the one of fewest plates."""
        wish = self.number(FLUX, at_water[0].flux or 0.0)
        lines = [f"No choice gives the wished {wish} with its own water and every limit kept.", *self.short(at_water)]
        able = [each for each in at_heat if not each.broken]
        if able:
            best = min(able, key=lambda each: each.report[SUPPLY])
            lines.append(f"With other water, the coolest that does: {best.name}, {self.cost(best)}.")
            spare = min(able, key=lambda each: (each.report[PLATES], each.report[SUPPLY]))
            if spare is not best:
                lines.append(f"With other water and the fewest plates: {spare.name}, {self.cost(spare)}.")
        else:
            told = {each.name: each.broken for each in at_water if each.gives}
            others = [each for each in at_heat if told.get(each.name) != each.broken]  # the same again tells nothing
            lines += [
                f"With other water {each.name} would, but breaks a limit ({_listed(each.broken)})." for each in others
            ]
            lines.append("No water makes any of them do so within the limits.")
        return lines + self.unsure(at_water)

    def without_wish(self, at_heat: Sequence[Standing], at_water: Sequence[Standing]) -> list[str]:
        """Where no heat is wished for: coolest water and most even floor at equal heat, or else which gives most."""
        if len(at_heat) < 2:
            most = max(at_water, key=lambda each: each.report[FLUX])
            flux = self.number(FLUX, most.report[FLUX])
            gives = f"{_capital(most.name)} gives most, {flux} upwards, with {self.cost(most)}"
            return [f"{gives}; name a heat to compare at by --flux."]
        first, flux = self.comparison.choices[0].name, self.number(FLUX, self.comparison.flux)
        lines = [f"At the heat that {first} gives, {flux} (none was asked for):"]
        kept = [each for each in at_heat if not each.broken]
        if kept:
            best = min(kept, key=lambda each: each.report[SUPPLY])
            even = min(_of_one_law(kept, best), key=lambda each: each.report[RIPPLE])
            lines.append(f"Coolest water within all limits: {best.name}, {self.cost(best)}.")
            if even is not best:
                told = f"{even.name}, {self.cost(even)}{self.hardly(even, best)}"
                lines.append(f"Most even floor within all limits: {told}.")
        else:
            lines.append("No choice keeps all limits there.")
        return lines + self.past_limits(at_heat)

    def hardly(self, even: Standing, other: Standing) -> str:
        """Where a floor is more even than another by less than what is known of its ripple."""
        less = other.report[RIPPLE] - even.report[RIPPLE]
        open_left = even.report.get("air_band_ripple_percent", 0.0) / 100.0 * even.report[RIPPLE]
        if less >= open_left:
            return ""
        return f", but by less than the ± {self.number(RIPPLE, open_left)} that the model of the air leaves open"

    def past_limits(self, choices: Sequence[Standing]) -> list[str]:
        """Which choices break a limit, told once for all that break the same."""
        names: dict[str, list[str]] = {}
        for each in choices:
            if each.broken:
                names.setdefault(_listed(each.broken), []).append(each.name)
        return [f"A limit is broken there by {_listed(same)} ({limits})." for limits, same in names.items()]

    def unsure(self, choices: Sequence[Standing]) -> list[str]:
        """Where a margin lies within what the model leaves open."""
        close = [each.name for each in choices if abs(each.margin) < each.band]
        if not close:
            return []
        band = max(each.band for each in choices if each.name in close)
        return [
            f"Not certain for {_listed(close)}: the margin is within ± {self.number(FLUX, band)}, "
            "what the model of the air leaves open."
        ]


def _of_one_law(choices: Sequence[Standing], best: Standing) -> list[Standing]:
    """Choices whose air follows the same law as that of the best: correlations make floors too even to be beside it."""
    return [each for each in choices if by_correlations(each.report) == by_correlations(best.report)]


def supply_words(comparison: Comparison, units: Units | Literal["both"]) -> str:
    """What was held in the first comparison: one supply temperature, or that each has its own."""
    ends = [format_value(SUPPLY, supply - ZERO_CELSIUS, units) for supply in comparison.supplies]
    if comparison.equal_water:
        return f"At equal water temperature, {ends[0]} supply"
    return f"Each with its own water, {ends[0]} to {ends[-1]} supply"


def _listed(names: Sequence[str]) -> str:
    """Names as a sentence lists them."""
    return " and ".join(filter(None, [", ".join(names[:-1]), names[-1]])) if names else ""


def _capital(name: str) -> str:
    return name[:1].upper() + name[1:]
