"""What a reader of computed air has to know beside its numbers, in words."""

from __future__ import annotations

from sim.resolved.march import ResolvedAir

ALONE = (
    "No companion on larger cells was computed ({why}): what the mesh costs is told by the layers at walls alone, "
    "which see no plumes thinner than cells."
)
"""Of air whose mesh error has one source instead of two."""


def air_remarks(air: ResolvedAir, wanted: bool) -> list[str]:
    """What limits the errors that computed air tells of itself, a sentence each; none where nothing does.

    Parameters
    ----------
    wanted : whether the case asks for a companion on larger cells.
    """
    remarks = []
    if air.coarser is None:
        why = "cells twice as large are too few for a flow" if wanted else "air.companion is false"
        remarks.append(ALONE.format(why=why))
    if air.stop_reason == "time":
        remarks.append(_cut_short(air))
    return remarks


def _cut_short(air: ResolvedAir) -> str:
    """How well the means are known where the time limit ended a run."""
    evidence = air.evidence
    known = [f"heat flows to {100.0 * evidence.largest_error:.2g} %"] if evidence.error else []
    known += [f"ripple to {100.0 * evidence.ripple_error:.2g} %"] if evidence.ripple_error else []
    told = f"with {' and '.join(known)}" if known else "before any error could be told"
    return f"The time limit, air.longest, ended the run after {air.now.time:.4g} s {told}: a longer one tells more."
