"""Checkpoints of a march: what is needed to go on after an interruption, written every little while."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from functools import partial
from pathlib import Path
from time import monotonic
from typing import Any

import numpy as np

from sim.solver.checkpoint_file import read_checkpoint_file, state_arrays, state_of, try_to_write, write_checkpoint_file
from sim.solver.march import History, Start, Step, Watch
from sim.solver.stages import Moment

EVERY = 20.0
"""Seconds between two checkpoints: a killed run loses hardly more."""

SNAPSHOT = "snapshot"
"""Under this name what is watched may hold fields of the whole bay by name, or None."""


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """Where a march stood: a start to go on from, and the steps and watched values so far."""

    start: Start
    steps: tuple[Step, ...]
    watched: tuple[Mapping[str, Any], ...]

    def joined(self, history: History) -> History:
        """The whole march from time 0, from what came before and what followed."""
        steps, watched = self.steps + history.steps, self.watched + history.watched[1:]
        return replace(history, steps=steps, watched=watched, begin=0.0)


@dataclass(slots=True)
class CheckpointWriter:
    """Watches and listens to a march, and at its rests writes a checkpoint when the last one has become old."""

    path: Path
    watch: Watch
    steps: list[Step] = field(default_factory=list)
    watched: list[Mapping[str, Any]] = field(default_factory=list)
    written: float = field(default_factory=monotonic)
    follows: bool = False

    def follow(self, earlier: Checkpoint) -> None:
        """Go on behind a checkpoint, at whose moment the march watches once more."""
        self.steps, self.watched, self.follows = list(earlier.steps), list(earlier.watched), True

    def watching(self, moment: Moment) -> Mapping[str, object]:
        """The watch, whose values are kept; those of a moment that was watched before stay."""
        if self.follows:
            self.follows = False
            return self.watched[-1]
        self.watched.append(self.watch(moment))
        return self.watched[-1]

    def listening(self, moment: Moment, step: Step) -> None:
        """The listener."""
        self.steps.append(step)

    def keep(self, start: Start) -> None:
        """Told of every rest."""
        if monotonic() - self.written >= EVERY:
            now = Checkpoint(start, tuple(self.steps), tuple(self.watched))
            try_to_write(partial(write_checkpoint, self.path, now), self.path)
            self.written = monotonic()


def write_checkpoint(path: Path, checkpoint: Checkpoint) -> None:
    """Write a checkpoint; the file is complete or the one before."""
    start = checkpoint.start
    arrays = state_arrays(start.state)
    maps = [name for name, value in checkpoint.watched[0].items() if isinstance(value, np.ndarray)]
    arrays |= {f"watched_{name}": np.array([moment[name] for moment in checkpoint.watched]) for name in maps}
    arrays |= _snapshots(checkpoint)
    words = {
        "start": {name: getattr(start, name) for name in ("time", "room", "on", "step")},
        "steps": [asdict(step) for step in checkpoint.steps],
        "watched": [
            {name: v for name, v in moment.items() if name not in (*maps, SNAPSHOT)} for moment in checkpoint.watched
        ],
        "maps": maps,
    }
    write_checkpoint_file(path, words, arrays)


def _snapshots(checkpoint: Checkpoint) -> dict[str, Any]:
    """Arrays of all snapshots, named by the number of the moment and the field."""
    return {
        f"{SNAPSHOT}:{number}:{name}": values
        for number, moment in enumerate(checkpoint.watched)
        for name, values in (moment.get(SNAPSHOT) or {}).items()
    }


def read_checkpoint(path: Path) -> Checkpoint | None:
    """A checkpoint that was written before; None when there is none, or none that can be read."""
    try:
        return _checkpoint(*read_checkpoint_file(path))
    except (ValueError, KeyError, TypeError):
        return None


def _checkpoint(words: Any, arrays: dict[str, np.ndarray]) -> Checkpoint:
    maps = {name: arrays[f"watched_{name}"] for name in words["maps"]}
    watched = [
        moment | {name: values[number] for name, values in maps.items()}
        for number, moment in enumerate(words["watched"])
    ]
    for entry, values in arrays.items():
        if entry.startswith(f"{SNAPSHOT}:"):
            _, number, name = entry.split(":")
            watched[int(number)].setdefault(SNAPSHOT, {})[name] = values
    start = Start(state_of(arrays), **words["start"] | {"on": tuple(words["start"]["on"])})
    return Checkpoint(start, tuple(Step(**step) for step in words["steps"]), tuple(watched))
