"""`python -m sim` is the command `joistbay`."""

from __future__ import annotations

import sys

from sim.cli.main import main

if __name__ == "__main__":
    sys.exit(main())
