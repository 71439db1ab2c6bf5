"""Advection and diffusion between one value and those on both sides of it along an axis."""

from __future__ import annotations

from sim.airflow.device.layout import CELLS, INVERSE_GAP, INVERSE_WIDTH, entry, fetch, number, place, state_at
from sim.airflow.rows import compiled


@compiled
def clipped(index, count, stride):
    """Strides to the values below and above along an axis of so many cells; none where the domain ends."""
    return stride if index > 0 else 0, stride if index < count - 1 else 0


@compiled
def line(row, index, grid):
    """Places in the tables of the line below (the line itself at the domain's side) and of a line of an axis."""
    here = row * grid.lines + index
    return here - 1 if index > 0 else here, here


@compiled
def surroundings(b, i, j, k, stage, air):
    """Of one place: where its four values lie in the state, clipped strides, places in the tables."""
    grid, n = air.grid, 3 * b
    nx, ny, nz = number(b, CELLS, air), number(b, CELLS + 1, air), number(b, CELLS + 2, air)
    steps = (clipped(i, nx, grid.plane), clipped(j, ny, grid.pz), clipped(k, nz, 1))
    lines = (line(n, i, grid), line(n + 1, j, grid), line(n + 2, k, grid))
    u = state_at(b, stage, air) + place(b, i, j, k, grid)
    return (u, u + grid.total, u + 2 * grid.total, u + 3 * grid.total), steps, lines


@compiled
def sideways(here, beside, carriers, factors):
    """Advection and diffusion through two opposite sides of a control volume.

    ``beside``: values there; ``carriers``: speeds through them; ``factors``: half of one over the width, and the
    diffusivity over width and gap of both sides. Of advection that is left out which carriers free of divergence do
    not have (`rows.across`).
    """
    low, high = beside
    half, to_low, to_high = factors
    carried = carriers[0] * low - carriers[1] * high
    return half * carried + (to_low * (low - here) + to_high * (high - here))


@compiled
def lateral(q, at, steps, carriers, g, diffusivity, air):
    """`sideways` between two faces of the cell at a place of the tables."""
    width = entry(INVERSE_WIDTH, g, air)
    to_low = diffusivity * width * entry(INVERSE_GAP, g, air)
    to_high = diffusivity * width * entry(INVERSE_GAP, g + 1, air)
    beside = (fetch(q, at - steps[0]), fetch(q, at + steps[1]))
    return sideways(fetch(q, at), beside, carriers, (0.5 * width, to_low, to_high))


@compiled
def between(here, beside, lines, diffusivity, air):
    """`sideways` between the two cells beside a face, along the velocity's own axis: it carries itself."""
    low, high = beside
    gap = entry(INVERSE_GAP, lines[1], air)
    to_low = diffusivity * gap * entry(INVERSE_WIDTH, lines[0], air)
    to_high = diffusivity * gap * entry(INVERSE_WIDTH, lines[1], air)
    return sideways(here, beside, (0.5 * (low + here), 0.5 * (here + high)), (0.5 * gap, to_low, to_high))
