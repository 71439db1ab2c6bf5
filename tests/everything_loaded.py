"""What a process has loaded from which helpers of tests are forked: the program, its pictures, and solving kernels."""

import contextlib
import gc
import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

with contextlib.suppress(Exception):
    import pyvista  # noqa: F401

    import joistbay
    import viz.scene  # noqa: F401
    from sim.case.load import parse_case
    from tests.tiny_bays import TINY

    joistbay.solve(parse_case(TINY))

gc.freeze()
