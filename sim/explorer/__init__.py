"""The explorer: a local page on which a bay answers while it is changed. Sessions, controls, solving and the server.

What the page looks like, and its pictures, are in `viz.explorer`; the command that joins both is `sim.cli.explore`.
"""
