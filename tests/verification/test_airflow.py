"""The flow solver against published flows. Coarse grids by default, the full ones with --runslow."""

import numpy as np
import pytest
from flow_problems import (
    Grid,
    continued,
    cube_numbers,
    graded,
    half_cube,
    one_roll,
    roll_cell,
    side_heated_numbers,
    square_heated_from_below,
    square_heated_from_the_side,
)

from sim.airflow.box import build_box, march
from sim.airflow.domain import Obstacle, Sheet
from sim.airflow.flow import AirProperties, Flow, air_of_numbers, transfer_flow

slow = pytest.mark.slow

# Side-heated square, Pr 0.71: spectral solutions that agree with Le Quéré 1991 (Computers & Fluids 20, 29) in every
# digit and with de Vahl Davis 1983 (IJNMF 3, 249, table V) within that paper's own error estimate.
SIDE_HEATED = {
    1e3: (1.117790, 1.50631, 0.0884, 0.69125, 3.64945, 0.8133, 3.69744, 0.1784),
    1e4: (2.244816, 3.53106, 0.1442, 0.58497, 16.18334, 0.8233, 19.62822, 0.1189),
    1e5: (4.521635, 7.72012, 0.0821, 0.72795, 34.74066, 0.8546, 68.63534, 0.0659),
    1e6: (8.825201, 17.5360, 0.0392, 0.97946, 64.8344, 0.8499, 220.565, 0.0378),
    1e7: (16.52309, 39.395, 0.0180, 1.3663, 148.586, 0.8793, 699.33, 0.0213),
}
NAMES = ("Nu", "Nu max", "Nu max at", "Nu min", "u max", "u max at", "w max", "w max at")

# Cube heated from one side, Pr 0.71: Tric, Labrosse & Betrouni 2000 (IJHMT 43, 4043): wall mean, mid-plane mean.
CUBE = {1e3: (1.0700, 1.0870), 1e4: (2.0542, 2.2505), 1e5: (4.3370, 4.6127), 1e6: (8.6407, 8.8771)}

# Two-dimensional rolls between rigid plates, wave number 3.117, Pr 0.71: spectral; Clever & Busse 1974 (JFM 65, 625)
# list the same within their 0.1 to 0.3 % up to Ra 1e4.
ROLLS = {2000: 1.21051, 3000: 1.660177, 5000: 2.110260, 10000: 2.652502, 50000: 4.157684}

# Square heated from below, one roll, Pr 0.71: spectral; Ouertatani and others 2008 have 2.158 and 6.309 at 1e4 and 1e6.
BELOW_HEATED = {3e3: 1.181888, 1e4: 2.158076, 5e4: 3.297082, 5e5: 5.52771, 1e6: 6.31316}

ONSET = 1707.762  # rigid plates, wave number 3.117 (Chandrasekhar 1961, table III)


def check_side_heated(numbers, rayleigh, tolerance, place=0.01):
    """Values within a relative tolerance, places within a share of the side (`place`)."""
    for name, expected in zip(NAMES, SIDE_HEATED[rayleigh], strict=True):
        loose = {"rtol": 0.0, "atol": place} if name.endswith(" at") else {"rtol": tolerance, "atol": 0.0}
        np.testing.assert_allclose(numbers[name], expected, err_msg=f"{name} at Ra {rayleigh:g}", **loose)


@pytest.mark.parametrize(
    ("rayleigh", "grid", "tolerance"),
    [(1e3, Grid(24, 0.8), 0.01), (1e4, Grid(32, 1.5), 0.01), (1e5, Grid(32, 1.5), 0.02)],
)
def test_side_heated_square_on_a_coarse_grid(rayleigh, grid, tolerance):
    box, flow = continued(square_heated_from_the_side(rayleigh), [Grid(16, 1.0), grid], steady=3e-3)
    assert flow.stop_reason == "steady"
    check_side_heated(side_heated_numbers(box, flow), rayleigh, tolerance)
    # what enters leaves, and the flow is the same when turned by half a turn
    np.testing.assert_allclose(box.heat_flow(flow, "x-"), -box.heat_flow(flow, "x+"), rtol=1e-9, atol=0.0)
    t = flow.temperature[:, 0]
    np.testing.assert_allclose(t + t[::-1, ::-1], 1.0, rtol=0.0, atol=1e-10)


@slow
@pytest.mark.parametrize(
    ("rayleigh", "grids", "tolerance"),
    [
        (1e3, [Grid(32, 1.0), Grid(64, 1.0)], 0.005),
        (1e4, [Grid(32, 1.5), Grid(64, 1.5)], 0.005),
        (1e5, [Grid(32, 1.5), Grid(64, 1.8)], 0.005),
        (1e6, [Grid(32, 2.0), Grid(80, 2.0)], 0.005),
        (1e7, [Grid(64, 2.0), Grid(128, 1.8)], 0.01),
    ],
)
def test_side_heated_square(rayleigh, grids, tolerance):
    """0.5 % up to Ra 1e6, 1 % at 1e7; the folder side-heated-square-1e8 has the one beyond."""
    box, flow = continued(square_heated_from_the_side(rayleigh), grids, steady=1e-2)
    check_side_heated(side_heated_numbers(box, flow), rayleigh, tolerance, place=0.003)


def test_bounded_scheme_agrees_where_the_flow_is_resolved():
    box, flow = continued(square_heated_from_the_side(1e5, "bounded"), [Grid(16, 1.0), Grid(32, 1.5)], steady=3e-3)
    np.testing.assert_allclose(box.heat_flow(flow, "x-"), SIDE_HEATED[1e5][0], rtol=0.01, atol=0.0)


def test_side_heated_square_converges_at_second_order():
    """Mean Nusselt number on graded grids twice and four times as fine."""
    errors = [
        abs(box.heat_flow(flow, "x-") / SIDE_HEATED[1e4][0] - 1.0)
        for grid in (Grid(10, 1.0), Grid(20, 1.0), Grid(40, 1.0))
        for box, flow in [continued(square_heated_from_the_side(1e4), [grid], steady=1e-4)]
    ]
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    assert orders[-1] > 1.8, (errors, orders)


def test_side_heated_cube_on_a_coarse_grid():
    box, flow = continued(half_cube(1e4), [Grid(20, 1.0)], steady=1e-2)
    np.testing.assert_allclose(cube_numbers(box, flow), CUBE[1e4], rtol=0.012, atol=0.0)


@slow
@pytest.mark.parametrize(
    ("rayleigh", "grids"),
    [(1e3, [Grid(24, 0.7)]), (1e4, [Grid(32, 1.2)]), (1e5, [Grid(32, 1.5)]), (1e6, [Grid(32, 1.7), Grid(48, 1.7)])],
)
def test_side_heated_cube(rayleigh, grids):
    """Within 1 %."""
    box, flow = continued(half_cube(rayleigh), grids, steady=1e-2)
    np.testing.assert_allclose(cube_numbers(box, flow), CUBE[rayleigh], rtol=0.01, atol=0.0)


def test_heated_from_above_is_conduction():
    """Exactly: the linear profile is kept to round-off and nothing moves, at any Rayleigh number."""
    planes = graded(12, 1.0)
    box = build_box((planes, planes, planes), air_of_numbers(1e7, 0.71), {"z-": 0.0, "z+": 1.0})
    flow = march(box, box.start(box.domain.centres[2]), until=0.02)
    assert flow.speed.max() < 1e-9
    linear = np.broadcast_to(box.domain.centres[2], flow.temperature.shape)
    np.testing.assert_allclose(flow.temperature, linear, rtol=0.0, atol=1e-12)
    np.testing.assert_allclose(box.heat_flow(flow, "z+"), 1.0, rtol=1e-11, atol=0.0)


def test_onset_of_convection():
    """A seed dies out 1 % below the critical Rayleigh number and grows 1 % above it."""

    def growth(rayleigh):
        box = roll_cell(rayleigh, 24, np.linspace(0.0, 1.0, 25), wave_number=3.1163)
        early = march(box, one_roll(box, 1e-4), until=0.8)
        late = march(box, early, until=1.3)
        return np.log(np.abs(late.velocity[2]).max() / np.abs(early.velocity[2]).max())

    assert growth(0.99 * ONSET) < 0.0 < growth(1.01 * ONSET)


@pytest.mark.parametrize("rayleigh", [5000, 10000])
def test_rolls_of_a_heated_layer(rayleigh):
    box = roll_cell(rayleigh, 24, graded(24, 0.8))
    flow = march(box, one_roll(box, 0.1), until=5.0, steady=3e-3)
    width = box.domain.edges[0][-1]
    np.testing.assert_allclose(box.heat_flow(flow, "z-") / width, ROLLS[rayleigh], rtol=0.005, atol=0.0)


@slow
@pytest.mark.parametrize("rayleigh", ROLLS)
def test_rolls_of_a_heated_layer_on_a_fine_grid(rayleigh):
    box = roll_cell(rayleigh, 40, graded(40, 1.0))
    flow = march(box, one_roll(box, 0.1), until=20.0, steady=1e-3)
    width = box.domain.edges[0][-1]
    np.testing.assert_allclose(box.heat_flow(flow, "z-") / width, ROLLS[rayleigh], rtol=0.003, atol=0.0)


def test_square_heated_from_below_on_a_coarse_grid():
    box = square_heated_from_below(1e4)(Grid(20, 1.0))
    flow = march(box, one_roll(box, 0.1), until=5.0, steady=1e-2)
    np.testing.assert_allclose(box.heat_flow(flow, "z-"), BELOW_HEATED[1e4], rtol=0.01, atol=0.0)


@slow
def test_square_heated_from_below():
    """One roll, followed from one Rayleigh number to the next; within 0.5 %, and 1 % at 1e6."""
    grids = {3e3: Grid(32, 1.0), 1e4: Grid(40, 1.2), 5e4: Grid(48, 1.4), 5e5: Grid(80, 1.6), 1e6: Grid(96, 1.6)}
    box = flow = None
    for rayleigh, grid in grids.items():
        finer = square_heated_from_below(rayleigh)(grid)
        start = transfer_flow(flow, box.domain, finer.domain) if flow else one_roll(finer, 0.1)
        box, flow = finer, march(finer, start, until=start.time + 10.0, steady=5e-3)
        tolerance = 0.01 if rayleigh > 1e5 else 0.005
        np.testing.assert_allclose(
            box.heat_flow(flow, "z-"), BELOW_HEATED[rayleigh], rtol=tolerance, atol=0.0, err_msg=f"Ra {rayleigh:g}"
        )


def taylor_green_error(cells, strength, axes=(0, 2)):
    """Largest velocity error of a decaying vortex between slippery walls, an exact solution of Navier-Stokes."""
    planes = graded(cells, strength)
    edges = [planes, planes, planes]
    edges[1] = [0.0, 1.0]
    air = AirProperties(viscosity=0.02, diffusivity=0.02, buoyancy=0.0, conductivity=1.0)
    box = build_box(edges, air, {}, slip=("x-", "x+", "z-", "z+"))
    x, _, z = box.domain.centres
    u = np.sin(np.pi * planes)[:, None, None] * np.cos(np.pi * z)
    w = -np.cos(np.pi * x)[:, None, None] * np.sin(np.pi * planes)
    still = box.start(0.0)
    flow = march(box, Flow((u, still.velocity[1], w), still.temperature), until=1.0)
    return np.abs(flow.velocity[0] - u * np.exp(-2.0 * np.pi**2 * 0.02)).max()


@pytest.mark.parametrize("strength", [0.0, 1.2])
def test_decaying_vortex_converges_at_second_order(strength):
    """Taylor & Green 1937: sin πx cos πz decays as exp(−2π²νt) while advection is balanced by pressure."""
    errors = [taylor_green_error(cells, strength) for cells in (8, 16, 32)]
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    assert orders[-1] > 1.8, (errors, orders)


def test_kinetic_energy_is_kept_without_viscosity():
    """What is lost in a turn is the time step's own, third order or better: halved steps lose a quarter at most."""
    planes = graded(12, 1.0)
    air = AirProperties(viscosity=0.0, diffusivity=0.0, buoyancy=0.0, conductivity=0.0)
    box = build_box((planes, planes, planes), air, {})
    rng = np.random.default_rng(3)
    start = box.start(0.0)
    smooth = tuple(np.cumsum(rng.standard_normal(f.shape), axis=a) for a, f in enumerate(start.velocity))
    begun = march(box, Flow(smooth, start.temperature), until=1e-9, step=1e-9)
    pace = 0.5 / np.abs(begun.velocity[0]).max() * 0.02

    def loss(step):
        flow = march(box, begun, until=begun.time + 20 * pace, step=step)
        return 1.0 - energy(box, flow) / energy(box, begun)

    coarse, fine = loss(pace), loss(0.5 * pace)
    assert abs(coarse) < 1e-3
    assert abs(fine) < 0.25 * abs(coarse)


def energy(box, flow):
    """Σ V u²/2 over the velocity components, on their own control volumes."""
    total = 0.0
    for axis, field in enumerate(flow.velocity):
        half = np.pad(0.5 * box.domain.volumes, [(1, 1) if a == axis else (0, 0) for a in range(3)])
        lower, upper = (
            tuple(s if a == axis else slice(None) for a in range(3)) for s in (slice(None, -1), slice(1, None))
        )
        total += 0.5 * np.sum((half[lower] + half[upper]) * field**2)
    return total


def obstructed_box(open_area=0.0, cells=20):
    """A warm tube as a block below a sheet, in a box with one cold side."""
    planes = np.linspace(0.0, 1.0, cells + 1)
    tube = Obstacle("tube", ((0.4, 0.6), (0.0, 1.0), (0.4, 0.6)))
    plate = Sheet("plate", 2, 0.7, ((0.2, 0.8), (0.0, 1.0), (0.7, 0.7)), open_area=open_area)
    return build_box(
        (planes, [0.0, 1.0], planes), air_of_numbers(1e4, 0.71), {"tube": 1.0, "x-": 0.0, "x+": 0.0},
        blocks=[tube], sheets=[plate], scheme="bounded",
    )  # fmt: skip


def test_flow_around_a_block_and_a_sheet():
    """Free of divergence to 1e-10 of the velocity gradient everywhere; heat in is heat out; mirror symmetric."""
    box = obstructed_box()
    flow = march(box, until=1.0, steady=1e-3)
    assert flow.stop_reason == "steady"
    u, _, w = flow.velocity
    dx, _, dz = box.domain.widths
    gradient = np.abs(np.diff(u, axis=0) / dx[:, None, None]).max()
    divergence = np.diff(u, axis=0) / dx[:, None, None] + np.diff(w, axis=2) / dz
    np.testing.assert_allclose(divergence, 0.0, rtol=0.0, atol=1e-10 * gradient)
    given = box.heat_flow(flow, "tube")
    assert given > 1.0
    np.testing.assert_allclose(box.heat_flow(flow, "x-") + box.heat_flow(flow, "x+"), -given, rtol=1e-4, atol=0.0)
    np.testing.assert_allclose(flow.temperature, flow.temperature[::-1], rtol=0.0, atol=1e-9)
    faces = box.domain.sheet[2] > 0
    assert not w[faces].any()


def test_holes_let_the_plume_through():
    """More open area, more flow through the sheet; nearly all open is nearly no sheet in the way."""
    through = []
    for open_area in (0.0, 0.2, 0.5, 0.99):
        box = obstructed_box(open_area)
        flow = march(box, until=1.0, steady=1e-2)
        through.append(np.abs(flow.velocity[2][box.domain.sheet[2] > 0]).sum())
    assert through[0] == 0.0
    assert through[0] < through[1] < through[2] < through[3]


def test_march_resumes_where_it_stopped():
    """Two halves are the whole, step for step."""
    box = square_heated_from_the_side(1e5)(Grid(16, 1.0))
    whole = march(box, until=1.0, step=2e-4, most_steps=40)
    first = march(box, until=1.0, step=2e-4, most_steps=20)
    second = march(box, first, until=1.0, step=2e-4, most_steps=20)
    np.testing.assert_allclose(second.temperature, whole.temperature, rtol=0.0, atol=1e-12)
    assert second.steps == whole.steps == 40
