"""Questions that take many solves: comparisons, searches (needed water, widest spacing), sampling, finer grids.

A study runs the chain of `sim.run` several times, or hands its solves to a performer that shares them (`sim.jobs`).
"""
