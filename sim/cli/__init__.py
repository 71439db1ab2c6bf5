"""The command line: one small file a command, all of them behind `sim.cli.main.main`."""
