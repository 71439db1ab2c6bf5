"""The pictures of a run of air alone, drawn into its folder."""

from __future__ import annotations

from pathlib import Path

from sim.cli.options import UnitChoice
from sim.cli.progress import Progress


def draw_air(folder: Path, units: UnitChoice, progress: Progress) -> list[Path]:
    """Draw what the run folder holds; return the files."""
    return []
