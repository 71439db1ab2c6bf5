"""The command `joistbay`, which is also `python -m joistbay`."""

import signal
import sys


def start() -> int:
    """Run the command; until it listens (`sim.cli.stopping`), Ctrl-C ends it without a traceback."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    from sim.cli.main import main

    return main()


if __name__ == "__main__":
    sys.exit(start())
