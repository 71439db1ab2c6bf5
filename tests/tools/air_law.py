"""The learned films anew from the set of computed bays, in one command: `python tests/tools/air_law.py`.

Fits every law (`air_fit`), trims it by twins on finer cells (`air_trim`) and finds its bands from bays left out in turn
(`air_bands`), into `sim/physics/learned_films.json`. On another machine the heat that the laws predict is equal to
1e-9: sums are made in one order, whatever the number of workers. How far they are from bays that never taught is
measured afterwards, once: `air_errors.py`.
"""

from __future__ import annotations

import argparse
import json
import os
from pathlib import Path

from air_bands import left_out, put_bands
from air_errors import ONE_THREAD
from air_fit import fit_laws, teachers
from air_trim import trim

from sim.physics.learned_films import DATA, SITUATIONS


def main() -> None:
    """Fit, trim, bands."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--apart", type=Path, default=Path("air-left-out.json"), help="errors of bays left out in turn")
    parser.add_argument("--same", action="store_true", help="keep the choice of coefficients, fit their values anew")
    options = parser.parse_args()
    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))
    every = list(range(SITUATIONS))
    taught = teachers(options.workers, every)
    fit_laws(taught, every, options.workers, DATA if options.same else None)
    trim(every, options.workers)
    for situation in every:
        left_out(taught, situation, options.apart, options.workers)
    put_bands(json.loads(options.apart.read_text("utf-8")))


if __name__ == "__main__":
    main()
