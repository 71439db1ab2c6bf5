"""`python -m joistbay`: the command line."""

import sys

from sim.cli.main import main

if __name__ == "__main__":
    sys.exit(main())
