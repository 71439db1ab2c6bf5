"""Traced exchange areas against closed forms; the closed forms against published values.

"Table" numbers below: parallel and perpendicular unit squares are printed in Incropera et al. (table
13.2 and figures 13.4, 13.5); the others follow from the same formulas and agree with 24-point quadrature.
"""

from __future__ import annotations

import os
import subprocess
import sys
from itertools import permutations
from math import pi

import numpy as np
import pytest
from analytic.rectangles import (
    aligned_parallel,
    crossed_strings,
    parallel_exchange,
    perpendicular,
    perpendicular_exchange,
)
from numpy.testing import assert_allclose, assert_array_equal
from scipy.stats import qmc

from sim.physics.radiation import enforce
from sim.physics.view_factors import _sobol_points, face_areas, trace_exchange

ALONG_Y = (False, False, True, True, False, False)
UNIT_CUBE = ([0.0, 1.0],) * 3
EMPTY = np.zeros((1, 1, 1), dtype=bool)


def list_walls(opaque, mirror=(False,) * 6):
    """All faces between air and wall: cells (n, 3) and sides (n,)."""
    around = np.pad(opaque, 1, constant_values=True)
    for side in np.flatnonzero(mirror):
        plane = [slice(None)] * 3
        plane[side // 2] = -1 if side % 2 else 0
        around[tuple(plane)] = False
    cells, sides = [], []
    for side in range(6):
        behind = np.roll(around, 1 - 2 * (side % 2), axis=side // 2)[1:-1, 1:-1, 1:-1]
        found = np.argwhere(~opaque & behind)
        cells.append(found)
        sides.append(np.full(len(found), side))
    return np.concatenate(cells), np.concatenate(sides)


def centres(edges, cell, side):
    """Centre of each wall face (n, 3)."""
    centre = np.stack([0.5 * (line[1:] + line[:-1])[cell[:, a]] for a, line in enumerate(edges)], axis=1)
    for axis, line in enumerate(edges):
        on = side // 2 == axis
        centre[on, axis] = line[cell[on, axis] + side[on] % 2]
    return centre


def number_patches(pick, edges, cell, side):
    """Patch numbers 0..P-1 in the order of what `pick(side, centre)` says."""
    picked = [pick(*face) for face in zip(side, centres(edges, cell, side), strict=True)]
    return np.unique(picked, return_inverse=True)[1].ravel()


def trace(edges, opaque=None, pick=None, mirror=(False,) * 6, rays=2**18, seed=0):
    """Closed exchange areas and patch areas; `pick(side, centre)` numbers the faces, else by side."""
    edges = [np.asarray(line, dtype=float) for line in edges]
    opaque = np.zeros([line.size - 1 for line in edges], dtype=bool) if opaque is None else opaque
    cell, side = list_walls(opaque, mirror)
    patch = number_patches(pick or (lambda side, centre: side), edges, cell, side)
    areas = np.bincount(patch, face_areas(edges, cell, side))
    exchange, lost = trace_exchange(edges, opaque, cell, side, patch, mirror, rays, seed)
    assert_allclose(exchange.sum(axis=1) + lost, areas, rtol=1e-9)
    assert lost.sum() <= 1e-3 * areas.sum()
    return enforce(exchange, areas), areas


def within(centre, *spans):
    return all(low <= value <= high for value, (low, high) in zip(centre, spans, strict=True))


class TestClosedForms:
    @pytest.mark.parametrize(
        ("sizes", "expected"),
        [
            ((1, 1, 1), 0.199825),
            ((2, 1, 1), 0.285875),
            ((1, 1, 0.5), 0.415253),
            ((1, 1, 2), 0.068590),
            ((2.0, 0.368, 0.235), 0.502788),
            ((2.4, 0.368, 0.190), 0.574347),
        ],
    )
    def test_aligned_parallel(self, sizes, expected):
        assert_allclose(aligned_parallel(*sizes), expected, rtol=0, atol=1e-6)
        width, length, gap = sizes
        general = parallel_exchange((0, width), (0, length), (0, width), (0, length), gap)
        assert_allclose(general / (width * length), expected, rtol=0, atol=1e-6)

    @pytest.mark.parametrize(
        ("sizes", "expected"),
        [
            ((1, 1, 1), 0.200044),
            ((1, 2, 1), 0.232853),
            ((2, 1, 1), 0.116426),
            ((1, 1, 2), 0.240636),
            ((0.368, 0.235, 2.0), 0.213701),
        ],
    )
    def test_perpendicular(self, sizes, expected):
        assert_allclose(perpendicular(*sizes), expected, rtol=0, atol=1e-6)
        width, height, edge = sizes
        general = perpendicular_exchange((0, width), (0, edge), (0, height), (0, edge))
        assert_allclose(general / (width * edge), expected, rtol=0, atol=1e-6)


class TestBoxes:
    @pytest.mark.parametrize("size", [(1.0, 1.0, 1.0), (0.368, 2.0, 0.235), (1.0, 2.0, 0.5)])
    def test_sides_of_a_box(self, size):
        # Uneven cells: the grid must not matter.
        edges = [length * np.array([0.0, 0.15, 0.4, 0.9, 1.0]) for length in size]
        exchange, areas = trace(edges, rays=2**17)
        for side in range(6):
            axis = side // 2
            first, second = (size[a] for a in range(3) if a != axis)
            assert exchange[side, side] == 0
            facing = aligned_parallel(first, second, size[axis])
            # The small factor between far ends, 0.007, is hit by few rays.
            assert_allclose(exchange[side, side ^ 1] / areas[side], facing, rtol=0.005, atol=1e-4)
            for other in range(6):
                if other // 2 != axis:
                    edge = size[3 - axis - other // 2]
                    expected = perpendicular(size[other // 2], size[axis], edge)
                    assert_allclose(exchange[side, other] / areas[side], expected, rtol=0.005)

    @pytest.mark.parametrize(
        ("target", "expected"),
        [
            (((1, 2), (0, 1)), 0.086050),
            (((1, 2), (1, 2)), 0.043327),
            (((2, 3), (0, 1)), 0.015275),
            (((0, 2), (0, 3)), 0.441049),
        ],
    )
    def test_parallel_offset(self, target, expected):
        def pick(side, centre):
            if side == 4 and within(centre[:2], (0, 1), (0, 1)):
                return 0
            return 1 if side == 5 and within(centre[:2], *target) else 2

        edges = [np.arange(4.0), np.arange(4.0), [0.0, 1.0]]
        exchange, _ = trace(edges, pick=pick, rays=2**20)
        assert_allclose(exchange[0, 1], expected, rtol=0.005)
        assert_allclose(parallel_exchange((0, 1), (0, 1), *target, 1), expected, rtol=0, atol=1e-6)

    @pytest.mark.parametrize(
        ("source", "target", "expected"),
        [
            (((1, 2), (0, 1)), ((0, 1), (0, 1)), 0.032809),  # target: y, z
            (((1, 2), (0, 1)), ((1, 2), (1, 2)), 0.023039),
            (((0, 1), (0, 1)), ((1, 2), (0, 1)), 0.040592),
        ],
    )
    def test_perpendicular_offset(self, source, target, expected):
        def pick(side, centre):
            if side == 4 and within(centre[:2], *source):
                return 0
            return 1 if side == 0 and within(centre[1:], *target) else 2

        exchange, _ = trace([np.arange(3.0)] * 3, pick=pick, rays=2**20)
        assert_allclose(exchange[0, 1], expected, rtol=0.005)
        assert_allclose(perpendicular_exchange(*source, target[1], target[0]), expected, rtol=0, atol=1e-6)

    def test_subdivided_wall_adds_up(self):
        edges = [np.linspace(0, 1, 5)] * 3
        whole, _ = trace(edges, rays=2**16)
        parts, _ = trace(edges, pick=lambda side, c: side if side < 5 else 5 + (c[0] > 0.5), rays=2**16)
        assert_allclose(parts[4, 5:7].sum(), whole[4, 5], rtol=0.01)


class TestMirrors:
    def test_square_duct(self):
        # Crossed strings for infinite strips: facing sqrt(2) - 1, perpendicular 1 - 1 / sqrt(2).
        exchange, areas = trace(UNIT_CUBE, mirror=ALONG_Y)
        assert_allclose(exchange[0, 1] / areas[0], 0.414214, rtol=0.002)
        assert_allclose(exchange[0, 2] / areas[0], 0.292893, rtol=0.002)

    def test_joist_bay(self):
        # Crossed strings for an infinite channel 0.368 m x 0.235 m.
        edges = [np.linspace(0, 0.368, 9), [0, 0.01], np.linspace(0, 0.235, 7)]
        exchange, areas = trace(edges, mirror=ALONG_Y)
        factor = exchange / areas[:, None]
        side, floor, ceiling = 0, 2, 3
        assert_allclose(factor[ceiling, floor], 0.547918, rtol=0.002)
        assert_allclose(factor[ceiling, side], 0.226041, rtol=0.002)
        assert_allclose(factor[side, side + 1], 0.292058, rtol=0.002)
        assert_allclose(factor[side, ceiling], 0.353971, rtol=0.002)

    def test_half_a_box_stands_for_the_whole(self):
        # Mirror at x = 0.5: the half floor sees the half ceiling and its image, together the whole one.
        half, areas = trace([[0.0, 0.2, 0.5], [0.0, 1.0], [0.0, 1.0]], mirror=(False, True, *(False,) * 4))
        floor, ceiling = 3, 4
        assert_allclose(areas[floor], 0.5, rtol=1e-12)
        assert_allclose(half[floor, ceiling] / areas[floor], 0.199825, rtol=0.005)

    def test_infinite_plates_exchange_everything(self):
        exchange, areas = trace([[0, 1], [0, 1], [0, 0.1]], mirror=(True,) * 4 + (False,) * 2, rays=64)
        assert_allclose(exchange, [[0, 1], [1, 0]], rtol=0, atol=1e-12)


class TestObstacles:
    def test_full_sheet_cuts_off(self):
        opaque = np.zeros((4, 4, 5), dtype=bool)
        opaque[:, :, 2] = True
        edges = [np.linspace(0, 1, 5), np.linspace(0, 1, 5), [0, 0.3, 0.5, 0.5005, 0.7, 1]]
        exchange, _ = trace(edges, opaque, pick=lambda side, c: int(c[2] > 0.50025), rays=4096)
        assert exchange[0, 1] == 0 and exchange[1, 0] == 0

    def test_sheet_from_one_side(self):
        # A channel 1 m wide and 0.8 m high; a sheet 20 mm thick reaches 0.6 m in from the left wall.
        width, height, reach, low, high = 1.0, 0.8, 0.6, 0.40, 0.42
        edges = [np.linspace(0, 1, 11), [0, 1], [0, 0.2, low, high, 0.6, height]]
        opaque = np.zeros((10, 1, 5), dtype=bool)
        opaque[:6, :, 2] = True
        exchange, _ = trace(edges, opaque, lambda side, c: {0.0: 0, height: 1}.get(c[2], 2), ALONG_Y)
        # Strings are stretched round the free edge of the sheet.
        crossed = [[(0, 0), (reach, low), (width, height)], [(width, 0), (reach, high), (0, height)]]
        uncrossed = [[(0, 0), (reach, low), (reach, high), (0, height)], [(width, 0), (width, height)]]
        assert_allclose(exchange[0, 1], crossed_strings(crossed, uncrossed), rtol=0.003)

    def test_free_sheet(self):
        # A sheet 0.5 m wide in the middle of the same channel: two openings, each by crossed strings.
        width, height, left, right, low, high = 1.0, 0.8, 0.2, 0.7, 0.40, 0.42
        edges = [np.linspace(0, 1, 11), [0, 1], [0, 0.2, low, high, 0.6, height]]
        opaque = np.zeros((10, 1, 5), dtype=bool)
        opaque[2:7, :, 2] = True
        exchange, _ = trace(edges, opaque, lambda side, c: {0.0: 0, height: 1}.get(c[2], 2), ALONG_Y)
        left_wall, right_wall = [(0, 0), (0, height)], [(width, 0), (width, height)]
        beside_left = [(width, 0), (left, low), (left, high), (width, height)]
        beside_right = [(0, 0), (right, low), (right, high), (0, height)]
        expected = crossed_strings(
            [[(0, 0), (left, high), (width, height)], [(width, 0), (left, low), (0, height)]],
            [left_wall, beside_left],
        ) + crossed_strings(
            [[(0, 0), (right, low), (width, height)], [(width, 0), (right, high), (0, height)]],
            [right_wall, beside_right],
        )
        assert_allclose(exchange[0, 1], expected, rtol=0.005)

    def test_stepped_tube_with_its_round_area(self):
        # Tube of radius 7.95 mm, axis 20 mm under the middle of a strip 0.368 m wide: F(tube to strip)
        # = [atan(b/L) - atan(a/L)] / pi = 0.465536 (strip to parallel cylinder, Incropera table 13.1).
        radius, drop, cells = 7.95e-3, 20e-3, 16
        inside = np.linspace(-radius, radius, cells + 1)
        across = np.concatenate([[-0.3, -0.184, -0.09, -0.03], inside, [0.03, 0.09, 0.184, 0.3]])
        up = np.concatenate([[-0.3, -0.1], inside - drop, [0.0]])
        opaque = np.zeros((across.size - 1, 1, up.size - 1), dtype=bool)
        middle = 0.5 * (inside[1:] + inside[:-1])
        opaque[4 : 4 + cells, 0, 2 : 2 + cells] = np.hypot(middle[:, None], middle[None, :]) <= radius

        def pick(side, centre):
            if np.hypot(centre[0], centre[2] + drop) <= 1.2 * radius:
                return 0
            return 1 if side == 5 and abs(centre[0]) <= 0.184 else 2

        edges = [across, np.array([0.0, 0.01]), up]
        cell, side = list_walls(opaque, ALONG_Y)
        patch = number_patches(pick, edges, cell, side)
        areas = np.bincount(patch, face_areas(edges, cell, side))
        areas[0] = 2 * pi * radius * 0.01
        exchange, _ = trace_exchange(edges, opaque, cell, side, patch, ALONG_Y, 2**17)
        closed = enforce(exchange, areas, zero_diagonal=[True, False, False])
        assert_allclose(closed.sum(axis=1), areas, rtol=1e-12)
        assert_allclose(closed[0, 1] / areas[0], 0.465536, rtol=0.01)


class TestSymmetry:
    def test_axes_permuted(self):
        lines = [[0.0, 0.2, 0.5, 0.6], [0.0, 0.3, 0.4], [0.0, 0.1, 0.25, 0.7, 0.8]]
        opaque = np.zeros((3, 2, 4), dtype=bool)
        opaque[1, :, 2] = True
        opaque[2, 0, 0] = True
        reference, areas = trace(lines, opaque, rays=2**16)
        for order in permutations(range(3)):
            number = [2 * axis + end for axis in order for end in (0, 1)]
            edges, solid = [lines[axis] for axis in order], np.transpose(opaque, order)
            turned, _ = trace(edges, solid, lambda side, c, n=number: n[side], rays=2**16)
            assert_allclose(turned, reference, rtol=0, atol=0.003 * areas.max())

    def test_seed_decides(self):
        first, _ = trace(UNIT_CUBE, rays=256, seed=3)
        assert_array_equal(first, trace(UNIT_CUBE, rays=256, seed=3)[0])
        assert (first != trace(UNIT_CUBE, rays=256, seed=4)[0]).any()

    def test_order_of_the_faces_is_free(self, rng):
        edges = [np.linspace(0, 1, 4)] * 3
        opaque = np.zeros((3, 3, 3), dtype=bool)
        cell, side = list_walls(opaque)
        shuffled = rng.permutation(side.size)
        first = trace_exchange(edges, opaque, cell, side, side, rays_per_patch=128)
        cell, side = cell[shuffled], side[shuffled]
        second = trace_exchange(edges, opaque, cell, side, side, rays_per_patch=128)
        assert_array_equal(first[0], second[0])

    def test_strips_of_a_duct_by_crossed_strings(self):
        # Hottel: strips 1 m wide at 1 m from each other, opposite √2 − 1, one beside (√5 + 1)/2 − √2, the next again
        # (√10 + √2)/2 − √5; a duct three of them wide, its side walls listed too.
        cell = [(i, 0, 0) for i in range(3)] * 2 + [(0, 0, 0), (2, 0, 0)]
        side, patch = [4] * 3 + [5] * 3 + [0, 1], range(8)
        exchange, lost = trace_exchange(
            ([0, 1, 2, 3], [0, 1], [0, 1]), np.zeros((3, 1, 1), bool), cell, side, patch, ALONG_Y, 2**14
        )
        expected = [2**0.5 - 1, (5**0.5 + 1) / 2 - 2**0.5, (10**0.5 + 2**0.5) / 2 - 5**0.5]
        assert_allclose(exchange[0, 3:6], expected, rtol=0, atol=0.01)
        assert_allclose(exchange[5, 2::-1], expected, rtol=0, atol=0.01)
        assert_array_equal(lost, np.zeros(8))

    @pytest.mark.parametrize("count", [2, 64, 1024])
    def test_points_are_those_of_the_sobol_sequence(self, count):
        """Those of another implementation, which draws them in Gray code's order."""
        others = (qmc.Sobol(3, bits=32, scramble=False).random(count) * 2.0**32).astype(np.uint32)
        assert set(map(tuple, _sobol_points(count).tolist())) == set(map(tuple, others.tolist()))

    def test_error_falls_faster_than_random(self):
        # Independent rays of number n would leave sqrt((1 - F) / (F n)) = 0.55 % at n = 2^17.
        off = []
        for seed in range(4):
            exchange, _ = trace(UNIT_CUBE, rays=2**17, seed=seed)
            off += [exchange[side, side ^ 1] / 0.199825 - 1 for side in range(6)]
        assert np.sqrt(np.mean(np.square(off))) < 0.002


class TestLost:
    def test_missing_wall(self):
        # A cube without its ceiling loses what the ceiling would have received, F = 0.199825.
        sides = np.array([0, 1, 2, 3, 4])
        cell = np.zeros((5, 3), dtype=int)
        exchange, lost = trace_exchange(UNIT_CUBE, EMPTY, cell, sides, sides, rays_per_patch=2**17)
        assert_allclose(lost[4], 0.199825, rtol=0.005)
        assert_allclose(exchange.sum(axis=1) + lost, 1.0, rtol=1e-12)

    def test_walk_between_mirrors_ends(self):
        # Only the floor is a wall: nothing can be met but the floor itself, after one reflection.
        mirror = (True,) * 4 + (False, True)
        exchange, lost = trace_exchange(UNIT_CUBE, EMPTY, [[0, 0, 0]], [4], [0], mirror, 1024)
        assert_allclose(exchange + lost, 1.0, rtol=1e-12)
        assert lost[0] < 0.01


class TestBadInput:
    GOOD = {
        "edges": UNIT_CUBE,
        "opaque": EMPTY,
        "face_cell": [[0, 0, 0]],
        "face_side": [4],
        "face_patch": [0],
    }

    @pytest.mark.parametrize(
        ("change", "message"),
        [
            ({"opaque": np.zeros((2, 1, 1), bool)}, "do not fit cells"),
            ({"edges": ([1.0, 0.0], [0, 1], [0, 1])}, "increase"),
            ({"mirror": (True,)}, "six values"),
            ({"rays_per_patch": 0}, "rays_per_patch"),
            ({"face_side": [4, 5]}, "must match"),
            ({"face_cell": [[0, 0, 1]]}, "lie in the grid"),
            ({"face_side": [6]}, "lie in the grid"),
            ({"face_patch": [1]}, "at least one face each"),
            ({"opaque": np.ones((1, 1, 1), bool)}, "no air before"),
            ({"face_cell": [[0, 0, 0]] * 2, "face_side": [4, 4], "face_patch": [0, 0]}, "listed twice"),
        ],
    )
    def test_refused(self, change, message):
        with pytest.raises(ValueError, match=message):
            trace_exchange(**{**self.GOOD, **change})

    def test_face_without_a_wall_behind(self):
        with pytest.raises(ValueError, match="no wall behind"):
            trace_exchange([[0, 1, 2], [0, 1], [0, 1]], np.zeros((2, 1, 1), bool), [[0, 0, 0]], [1], [0])


UNCOMPILED = """
import sys
import numpy as np
from sim.physics.view_factors import trace_exchange

opaque = np.zeros((3, 1, 2), dtype=bool)
opaque[1, 0, 0] = True
cell = [[0, 0, 0]] * 3 + [[0, 0, 1], [1, 0, 1], [2, 0, 1], [2, 0, 0]]
mirror = (False, False, True, True, False, True)
edges = [[0, 1, 2, 3], [0, 1], [0, 1, 2]]
exchange, lost = trace_exchange(edges, opaque, cell, [0, 1, 4, 0, 4, 1, 4], range(7), mirror, 64)
np.save(sys.argv[1], np.vstack([exchange, lost]))
"""


def test_uncompiled_kernel_agrees(tmp_path):
    """The same rays without compilation, where NumPy checks every index."""
    results = []
    for disable in ("0", "1"):
        target = tmp_path / f"{disable}.npy"
        environment = {**os.environ, "NUMBA_DISABLE_JIT": disable}
        subprocess.run([sys.executable, "-c", UNCOMPILED, str(target)], check=True, env=environment)
        results.append(np.load(target))
    assert results[0].sum() == pytest.approx(7.0)
    assert_allclose(results[0], results[1], rtol=0, atol=1e-12)
