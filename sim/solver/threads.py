"""How the solver's compiled loops are shared: as those of the flow, from more cells on."""

from __future__ import annotations

from functools import partial

from sim.machine import threads

SMALLEST_SHARED_LOOP = 100_000
"""Cells below which waking a second thread costs more than it saves (measured: some 30 µs a call)."""

share_loop = partial(threads.share_loop, smallest=SMALLEST_SHARED_LOOP)
