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

    plane: py · pz; most_faces: closed faces of the bay with most; chunks: pieces in which their products are summed.
    """

    bays: int
    px: int
    py: int
    pz: int
    plane: int
    lines: int
    total: int
    most_faces: int
    chunks: int


class Lists(NamedTuple):
    """Row lists of all fields of all bays by slot: entries of slot s lie at start[s]:start[s+1].

    slot (4 · total,): of each value, or FREE or FIXED; link_other: place of the neighbour in its own field's part.
    """

    slot: Any
    link_start: Any
    link_other: Any
    link_factor: Any
    wall_start: Any
    wall_factor: Any
    wall_value: Any
    loss_start: Any
    loss_factor: Any


class Tables(NamedTuple):
    """Lines of every axis (`grid_tables.AxisTable`), of axis a of bay b from (3 b + a) · lines on.

    value: eigenvalues of the axis' Neumann operator [1/m²].
    """

    width: Any
    inverse_width: Any
    inverse_gap: Any
    below: Any
    above: Any
    centre: Any
    value: Any


class ClosedFaces(NamedTuple):
    """Closed faces and their influence: two cells of each (bays · most_faces), inverse matrices one after the other.

    jump: of the pressure; part: products by chunk; fed (n,): places of cells beside closed faces, of bay fed_bay, with
    the faces fed_face (number + 1, negative where the cell lies below) from fed_start on.
    """

    count: Any
    below: Any
    above: Any
    inverse: Any
    inverse_at: Any
    jump: Any
    part: Any
    fed: Any
    fed_bay: Any
    fed_start: Any
    fed_face: Any


class Clock(NamedTuple):
    """One entry a bay: steps left, of the two states the one that holds the flow, step [s], crossing rates [1/s]."""

    left: Any
    parity: Any
    duration: Any
    ceiling: Any
    crossing: Any
    taken: Any


class BatchArrays(NamedTuple):
    """All that a kernel reads or writes.

    sizes (3 bays): cells of every bay; row_of, bay_of: of a place in a plane its row, of a slab its bay; state
    (2 · 4 · total): two states of four fields; rates (4 · total); marks (total): what stands round a cell, in bits
    (`marks`); opening: of faces by code, codes (3 · total); eddy (total); source, first, second (total): of the pressure; level (bays · lines) [K]; properties (4 bays):
    viscosity, diffusivity, buoyancy, eddy constant; central (bays).
    """

    grid: BatchShape
    sizes: Any
    row_of: Any
    bay_of: Any
    state: Any
    rates: Any
    marks: Any
    codes: Any
    opening: Any
    eddy: Any
    source: Any
    first: Any
    second: Any
    level: Any
    properties: Any
    central: Any
    tables: Tables
    lists: Lists
    faces: ClosedFaces
    clock: Clock


FREE, FIXED = -1, -2
"""Slots of values without entries, and of values that stay as they are."""

X, Y, Z, TEMPERATURE = range(4)


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
def state_at(b, stage, air):
    """Where the state begins that a stage (0, 1, 2) reads of a bay; the stage writes the other one."""
    return ((air.clock.parity[b] + stage) & 1) * 4 * air.grid.total


@compiled
def inside(b, i, j, k, air):
    """Whether a place is a cell of its bay, and the bay has steps left."""
    sizes, first = air.sizes, 3 * b
    if air.clock.left[b] <= 0 or i >= fetch(sizes, first):
        return False
    return j < fetch(sizes, first + 1) and k < fetch(sizes, first + 2)


@compiled
def amended(rate, field, c, state, diffusivity, air):
    """The rate of value c of a field with what its obstacles add, as `rows.amend` does it; zero where it is fixed."""
    lists, values = air.lists, state + field * air.grid.total
    slot = fetch(lists.slot, field * air.grid.total + c)
    if slot == FREE:
        return rate
    if slot == FIXED:
        return 0.0
    here = fetch(air.state, values + c)
    for e in range(fetch(lists.link_start, slot), fetch(lists.link_start, slot + 1)):
        beyond = fetch(air.state, values + fetch(lists.link_other, e))
        rate += diffusivity * fetch(lists.link_factor, e) * (beyond - here)
    for e in range(fetch(lists.wall_start, slot), fetch(lists.wall_start, slot + 1)):
        rate += diffusivity * fetch(lists.wall_factor, e) * (fetch(lists.wall_value, e) - here)
    for e in range(fetch(lists.loss_start, slot), fetch(lists.loss_start, slot + 1)):
        rate -= fetch(lists.loss_factor, e) * abs(here) * here
    return rate


@compiled
def advance_one(rate, field, c, b, stage, air):
    """One value of the next state from its rate, which becomes the old one: `rows.advance`.

    The first stage needs no old rate, and nothing needs that of the last.
    """
    at = field * air.grid.total + c
    read, write = state_at(b, stage, air) + at, state_at(b, stage + 1, air) + at
    now, before = stage_weights(stage)
    change = now * rate
    if stage > 0:
        change += before * fetch(air.rates, at)
    store(air.state, write, fetch(air.state, read) + air.clock.duration[b] * change)
    if stage < 2:
        store(air.rates, at, rate)


@compiled
def stage_weights(stage):
    """Weights of a stage's rates and of the last one's: `step.NOW` and `step.BEFORE`."""
    if stage == 0:
        return 8.0 / 15.0, 0.0
    if stage == 1:
        return 5.0 / 12.0, -17.0 / 60.0
    return 3.0 / 4.0, -5.0 / 12.0
