"""What a reader of computed air has to know beside its numbers, in words."""

from __future__ import annotations

from sim.resolved.air import ResolvedAir
from sim.resolved.means import Evidence, end_share
from sim.resolved.unseen import TOO_COARSE
from sim.results.air_words import FEW_SAMPLES

ALONE = (
    "No companion on larger cells was computed ({why}): what the mesh costs is told by the layers at walls alone, "
    "which see no plumes thinner than cells.{widened}"
)
"""Of air whose mesh error has one source instead of two."""

NOTEWORTHY = 0.005
"""Share of the heat that air may take up or give off on average without a word about it."""

TOO_FEW = "cells twice as large are too few for a flow"


def air_remarks(air: ResolvedAir, wanted: bool) -> list[str]:
    """What limits the errors that computed air tells of itself, a sentence each; none where nothing does.

    Parameters
    ----------
    wanted : whether the case asks for a companion on larger cells.
    """
    remarks = []
    if air.coarser is None:
        remarks.append(ALONE.format(why=TOO_FEW if wanted else "air.companion is false", widened=_widened(air)))
    if air.stop_reason == "time":
        remarks.append(_cut_short(air))
    return remarks + short_record(air.evidence)


def short_record(evidence: Evidence) -> list[str]:
    """A sentence where the means rest on few independent samples of the flow, and what was done about it."""
    name = evidence.slowest
    if not name or evidence.samples >= FEW_SAMPLES:
        return []
    slow, called = evidence.known[name], {"ripple": "the ripple", "water": "the water's heat"}
    return [
        f"The record is short beside the flow's memory: the mean of {called.get(name, f'the heat {name}')} "
        f"rests on about {evidence.samples:.0f} independent samples. Its error is told "
        f"{end_share(slow.freedom):.1f} times as large for that; a smaller air.error or longer air.longest tells more."
    ]


def alone_remarks(steady: bool, too_coarse: bool) -> list[str]:
    """The same of air alone.

    Parameters
    ----------
    steady : whether the flow became steady.
    too_coarse : whether cells twice as large are too few for a flow.
    """
    if too_coarse:
        return [ALONE.format(why=TOO_FEW, widened=f" So what they tell counts {TOO_COARSE:g} times.")]
    return [] if steady else [ALONE.format(why="the flow did not become steady", widened="")]


def _widened(air: ResolvedAir) -> str:
    """By how much bands are wider for want of a companion."""
    words = [f"what they tell counts {TOO_COARSE:g} times"] if air.too_coarse else []
    words += [f"{100.0 * air.unseen:.2g} % of the ripple are left open"] if air.unseen else []
    return f" So {' and '.join(words)}." if words else ""


def _cut_short(air: ResolvedAir) -> str:
    """How well the means are known where the time limit ended a run."""
    evidence = air.evidence
    known = [f"heat flows to {100.0 * evidence.largest_error:.2g} %"] if evidence.error else []
    known += [f"ripple to {100.0 * evidence.ripple_error:.2g} %"] if evidence.ripple_error else []
    if known and abs(evidence.imbalance) > NOTEWORTHY:
        taken = "takes up" if evidence.imbalance > 0.0 else "gives up"
        known += [f"the air {taken} {100.0 * abs(evidence.imbalance):.2g} % of the heat on average"]
    listed = ", ".join(known[:-1]) + " and " * (len(known) > 1) + known[-1] if known else ""
    told = f"with {listed}" if known else "before any error could be told"
    return f"The time limit, air.longest, ended the run after {air.now.time:.4g} s {told}: a longer one tells more."
