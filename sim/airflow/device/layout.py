"""How many domains lie side by side in one set of flat arrays, and what each thread reads of them.

All fields of all bays share one shape: bays × planes along x, y, z, as many as the largest bay has cells, and one. A
bay's own part begins at index 0 along each axis; what lies beyond it is never read as anything but zero. Value c of
any field is c = ((b · px + i) · py + j) · pz + k, so neighbours are a stride away whatever the field.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from sim.airflow.rows import compiled


class BatchShape(NamedTuple):
    """Common shape: bays; planes along each axis; length of the tables along an axis; values of one field.

    plane: py · pz; per_row: one over pz; span: values of one column of the tables; most_faces: closed faces of the bay
    with most; chunks: pieces in which their products are summed.
    """

    bays: int
    px: int
    py: int
    pz: int
    plane: int
    per_row: float
    lines: int
    span: int
    total: int
    most_faces: int
    chunks: int


class Lists(NamedTuple):
    """Row lists of all fields of all bays by slot, one for each value that has entries: start[s]:start[s+1].

    at: place of the value in four fields, or NOWHERE where it is fixed; bay; link_other: place of the neighbour in
    four fields; the factors and values are those of `row_lists.RowLists`.
    """

    at: Any
    bay: Any
    link_start: Any
    link_other: Any
    link_factor: Any
    wall_start: Any
    wall_factor: Any
    wall_value: Any
    loss_start: Any
    loss_factor: Any


class ClosedFaces(NamedTuple):
    """Closed faces and their influence: inverse matrices one after the other, that of a bay from inverse_at on.

    count (bays); below, above (bays · most_faces): places of the two cells of each in what is sampled beside them
    (`closed.FaceBox`); jump: of the pressure; part: products by chunk; box: sources of cells beside closed faces; fed
    (n,): their places in it, of bay fed_bay, with the faces fed_face (number + 1, negative where the cell lies below)
    from fed_start on.
    """

    count: Any
    below: Any
    above: Any
    inverse: Any
    inverse_at: Any
    jump: Any
    part: Any
    box: Any
    fed: Any
    fed_bay: Any
    fed_start: Any
    fed_face: Any


class BatchArrays(NamedTuple):
    """All that a kernel reads or writes: few arrays, as a kernel that names many waits for their addresses.

    values (VALUES · total): what follows each other in it is named below; columns: of the tables, of axis a of bay b
    from (3 b + a) · lines on in each (`grid_tables.AxisTable`; VALUE: eigenvalues of the axis' Neumann operator
    [1/m²]); whole, real (EACH · bays): numbers of every bay, named below; level (bays · lines) [K]; marks (total): what
    stands round a cell, in bits (`marks`); opening: of faces by code, codes (3 · total).
    """

    grid: BatchShape
    values: Any
    columns: Any
    whole: Any
    real: Any
    level: Any
    marks: Any
    codes: Any
    opening: Any
    lists: Lists
    faces: ClosedFaces


NOWHERE = -1
"""Place of a value that stays as it is."""

X, Y, Z, TEMPERATURE = range(4)

RATES, PRESSURE, SOURCE, FIRST, SECOND, EDDY, HELD, VALUES = 8, 12, 13, 14, 15, 16, 17, 21
"""Where parts of `values` begin, over the values of one field: after two states of four fields four rates, the last
step's pressure impulse [m²/s], the pressure's sources and two working arrays; where bays have eddies, their viscosity
and the four rates that they add."""

WIDTH, INVERSE_WIDTH, INVERSE_GAP, BELOW, ABOVE, CENTRE, FRICTION, VALUE = range(8)
"""Columns of the tables; FRICTION: of what moves along a side of the domain that is a wall [1/m²]."""

CELLS, LEFT, PARITY, TAKEN, CENTRAL = 0, 3, 4, 5, 6
"""Of every bay's whole numbers: cells along x, y and z; steps left, which of the two states holds the flow, steps
taken, whether heat is advected centrally."""

VISCOSITY, DIFFUSIVITY, BUOYANCY, EDDIES, DURATION, CEILING, CROSSING, SHARES = range(8)
"""Of every bay's real numbers: properties of its air, constant of its eddies, step [s], crossing rates [1/s], and from
SHARES on how much of the pressure impulse each stage gives before it is found anew."""

EACH = 10
"""Numbers of either kind for every bay."""


@compiled
def fetch(values, where):
    """values[where], which is never negative: an index without sign needs no test for one, nor its arithmetic."""
    return values[np.uint64(where)]


@compiled
def store(values, where, value):
    """values[where] = value, as `fetch` has it."""
    values[np.uint64(where)] = value


@compiled
def place(b, i, j, k, grid):
    """Where a value lies in its field."""
    return ((b * grid.px + i) * grid.py + j) * grid.pz + k


@compiled
def number(b, which, air):
    """A whole number of a bay."""
    return fetch(air.whole, EACH * b + which)


@compiled
def measure(b, which, air):
    """A real number of a bay."""
    return fetch(air.real, EACH * b + which)


@compiled
def entry(column, g, air):
    """What a column of the tables has at a line."""
    return fetch(air.columns, column * air.grid.span + g)


@compiled
def state_at(b, stage, air):
    """Where the state begins that a stage (0, 1, 2) reads of a bay; the stage writes the other one."""
    return ((number(b, PARITY, air) + stage) & 1) * 4 * air.grid.total


@compiled
def inside(b, i, j, k, air):
    """Whether a place is a cell of its bay, and the bay has steps left; all is read at once."""
    within = (i < number(b, CELLS, air)) & (j < number(b, CELLS + 1, air)) & (k < number(b, CELLS + 2, air))
    return within & (number(b, LEFT, air) > 0)


@compiled
def old_rate(field, c, stage, air):
    """The last stage's rate, of which the first has none."""
    return fetch(air.values, (RATES + field) * air.grid.total + c) if stage > 0 else 0.0


@compiled
def advance_one(rate, before, push, field, c, b, stage, air):
    """One value of the next state from its rate, which becomes the old one: `rows.advance`; none needs the last one.

    ``push``: what the pressure gives besides, which is no rate.
    """
    total, at = air.grid.total, field * air.grid.total + c
    now, then = stage_weights(stage)
    here = fetch(air.values, state_at(b, stage, air) + at)
    change = measure(b, DURATION, air) * (now * rate + then * before)
    store(air.values, state_at(b, stage + 1, air) + at, here + change + push)
    if stage < 2:
        store(air.values, RATES * total + at, rate)


@compiled
def stage_weights(stage):
    """Weights of a stage's rates and of the last one's: `step.NOW` and `step.BEFORE`."""
    if stage == 0:
        return 8.0 / 15.0, 0.0
    if stage == 1:
        return 5.0 / 12.0, -17.0 / 60.0
    return 3.0 / 4.0, -5.0 / 12.0


@compiled
def held_share(stage):
    """How much of the last step's impulse, for equal steps, a stage gives before it is found anew.

    The first two take their own shares of it (of a stage: both its weights together), the last gives them back: what
    is found then is the whole step's impulse, so that one array holds it from step to step.
    """
    if stage == 0:
        return -8.0 / 15.0
    if stage == 1:
        return -2.0 / 15.0
    return 2.0 / 3.0
