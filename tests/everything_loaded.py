"""What a process has loaded from which helpers of tests are forked: the program, its pictures, and solving kernels."""

import contextlib
import gc
import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

with contextlib.suppress(Exception):
    import pyvista  # noqa: F401

    import joistbay
    import sim.explorer.solver
    import sim.jobs.bay_workers
    import sim.jobs.hands
    import sim.jobs.spread
    import sim.resolved.march
    import viz.scene  # noqa: F401
    from sim.case.load import parse_case
    from tests.tiny_bays import TINY

    joistbay.solve(parse_case(TINY))

gc.freeze()
