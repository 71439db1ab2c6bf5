"""`python -m sim` is the command `joistbay`."""

from __future__ import annotations

import signal
import sys

if __name__ == "__main__":
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, signal.SIG_DFL)  # until the command listens, Ctrl-C ends it without a traceback
    from sim.cli.main import main

    sys.exit(main())
