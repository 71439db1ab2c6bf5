"""An invented run of a bay cut, for tests of the run store and the pictures.

The temperatures are smooth made-up functions (warm over the plates, cool over the joists, falling
downwards through the insulation), not a solution; only shapes, names and units matter.
"""

from __future__ import annotations

import json
from functools import lru_cache

import numpy as np
import xarray as xr
from scipy.special import erf

CELSIUS = 273.15
WIDTH, JOIST, JOIST_DEPTH = 0.4064, 0.0381, 0.235
CEILING, INSULATION, SHEATHING, COVERING = 0.0125, 0.09, 0.019, 0.010
PLATE_WIDTH, PLATE_THICKNESS, TUBE = 0.13, 0.0005, 0.0159
RUNS = (0.111, 0.2954)
MATERIALS = ["cavity air", "joist", "ceiling", "insulation", "sheathing", "covering", "plate", "tube"]

TOP_OF_JOIST = CEILING + JOIST_DEPTH
TOP = TOP_OF_JOIST + SHEATHING + COVERING


def edges(breaks, step):
    """Cell edges through all breaks, none further apart than a step [m]."""
    breaks = np.unique(np.round(breaks, 9))
    parts = [
        np.linspace(a, b, max(1, int(np.ceil((b - a) / step))) + 1)[:-1]
        for a, b in zip(breaks, breaks[1:], strict=False)
    ]
    return np.append(np.concatenate(parts), breaks[-1])


def plate_boxes(length, pitch, plate_length):
    """Boxes [m] of the plates: one under each run, centred in each pitch."""
    if pitch is None:
        return []
    z = (TOP_OF_JOIST - PLATE_THICKNESS, TOP_OF_JOIST)
    centres = np.arange(pitch / 2, length, pitch)
    return [
        [
            x - PLATE_WIDTH / 2,
            x + PLATE_WIDTH / 2,
            max(0.0, y - plate_length / 2),
            min(length, y + plate_length / 2),
            *z,
        ]
        for y in centres
        for x in RUNS
    ]


def part_boxes(length, pitch, plate_length):
    """All parts of the bay in paint order: name, kind, box [m]."""
    low, high = CEILING + INSULATION, TOP_OF_JOIST + SHEATHING
    tube = TOP_OF_JOIST - PLATE_THICKNESS - TUBE, TOP_OF_JOIST - PLATE_THICKNESS
    parts = [
        ("gypsum board", "ceiling", [0, WIDTH, 0, length, 0, CEILING]),
        ("glass wool", "insulation", [JOIST / 2, WIDTH - JOIST / 2, 0, length, CEILING, low]),
        ("softwood joist", "joist", [0, JOIST / 2, 0, length, CEILING, TOP_OF_JOIST]),
        ("softwood joist", "joist", [WIDTH - JOIST / 2, WIDTH, 0, length, CEILING, TOP_OF_JOIST]),
        ("plywood", "sheathing", [0, WIDTH, 0, length, TOP_OF_JOIST, high]),
        ("oak", "covering", [0, WIDTH, 0, length, high, TOP]),
    ]
    plates = enumerate(plate_boxes(length, pitch, plate_length))
    parts += [(f"plate {k % 2 + 1}.{k // 2 + 1}", "plate", box) for k, box in plates]
    parts += [
        (f"tube run {k + 1}", "tube", [x - TUBE / 2, x + TUBE / 2, 0, length, *tube])
        for k, x in enumerate(RUNS)
    ]
    return parts


def bump(at, low, high, blur):
    """A smooth top hat between low and high [m]."""
    return 0.5 * (erf((at - low) / blur) - erf((at - high) / blur))


def warmth(x, y, boxes, blur):
    """How much of the plates' warmth is felt at (x, y): 0 far away, about 1 over a plate."""
    felt = [bump(x, b[0], b[1], blur)[:, None] * bump(y, b[2], b[3], blur)[None, :] for b in boxes]
    stripes = sum(0.35 * bump(x, r - TUBE / 2, r + TUBE / 2, blur) for r in RUNS)[:, None]
    return sum(felt, 0.0 * stripes) + stripes * np.ones_like(y)[None, :]


def solid_temperature(centres, boxes, ripple):
    """Temperatures [degC] (nx, ny, nz): floor above, falling to the room below through the bay."""
    x, y, z = centres
    at_plate = 34.0 + 8.0 * warmth(x, y, boxes, 0.01)
    at_floor = 23.0 + ripple * warmth(x, y, boxes, 0.035)
    up = np.clip((z - TOP_OF_JOIST) / (TOP - TOP_OF_JOIST), 0.0, 1.0)
    down = np.clip((TOP_OF_JOIST - z) / TOP_OF_JOIST, 0.0, 1.0)
    return (
        at_plate[..., None]
        + (at_floor - at_plate)[..., None] * up
        + (20.5 - at_plate)[..., None] * down**0.7
        - 0.4 * y[None, :, None] / y[-1]
    )


def paint(centres, parts):
    """Material index per cell (nx, ny, nz) int8; 0 is cavity air."""
    order = {"joist": 1, "ceiling": 2, "insulation": 3, "sheathing": 4, "covering": 5, "plate": 6, "tube": 7}
    material = np.zeros([len(c) for c in centres], dtype=np.int8)
    for _, kind, box in parts:
        inside = [(c > box[2 * a]) & (c < box[2 * a + 1]) for a, c in enumerate(centres)]
        material[np.ix_(*inside)] = order[kind]
    return material


@lru_cache(maxsize=8)
def make_fields(length=0.9, pitch=0.45, plate_length=0.4, ripple=5.0, step=0.012):
    """The fields of an invented run; `pitch=None` leaves the plates out."""
    parts = part_boxes(length, pitch, plate_length)
    faces = [edges([p[2][2 * a + end] for p in parts for end in (0, 1)], step) for a in range(3)]
    centres = [(e[1:] + e[:-1]) / 2 for e in faces]
    boxes = [box for _, kind, box in parts if kind == "plate"]
    material = paint(centres, parts)
    celsius = solid_temperature(centres, boxes, ripple)
    celsius[material == 7] = 46.0
    kelvin = np.where(material == 0, np.nan, celsius + CELSIUS)
    floor = celsius[:, :, -1] - 0.1
    plane, heat = ("x", "y"), {"units": "W/m2"}
    there = centres[1] / length
    water = np.stack([48.0 - 2.0 * there, 46.0 - 2.0 * (1.0 - there[::-1])]) + CELSIUS
    place = np.stack([centres[1], centres[1][::-1]])
    upper = centres[2][None, None, :] > 0.2
    zone = np.where(material == 0, np.where(upper, 0, 1), -1).astype(np.int16)
    return xr.Dataset(
        {
            "temperature": (("x", "y", "z"), kelvin, {"units": "K"}),
            "material": (("x", "y", "z"), material, {"names": json.dumps(MATERIALS)}),
            "floor_temperature": (plane, floor + CELSIUS, {"units": "K"}),
            "floor_heat_flux": (plane, 8.92 * (floor - 20.0) ** 1.1, heat),
            "ceiling_temperature": (plane, celsius[:, :, 0] + CELSIUS, {"units": "K"}),
            "ceiling_heat_flux": (plane, np.full(floor.shape, 4.0), heat),
            "water_temperature": (("run", "segment"), water, {"units": "K"}),
            "water_position": (("run", "segment"), place, {"units": "m"}),
            "air_zone": (("x", "y", "z"), zone, {"names": json.dumps(["upper air", "lower air"])}),
            "zone_temperature": (("zone",), np.array([309.0, 307.0]), {"units": "K"}),
        },
        coords={
            **{axis: (axis, c, {"units": "m"}) for axis, c in zip("xyz", centres, strict=True)},
            **{
                f"{axis}_edge": (f"{axis}_edge", e, {"units": "m"})
                for axis, e in zip("xyz", faces, strict=True)
            },
        },
        attrs={"outlines": json.dumps([{"name": n, "kind": k, "box": b} for n, k, b in parts])},
    )


def make_report(fields):
    """A report that agrees with the invented fields where a picture shows both."""
    floor = fields["floor_temperature"].values - CELSIUS
    flux = float(fields["floor_heat_flux"].values.mean())
    area = WIDTH * float(fields["y_edge"].values[-1])
    return {
        "heat_flux_up_W_m2": flux,
        "heat_flow_up_W": flux * area,
        "heat_flow_down_W": 0.12 * flux * area,
        "heat_flow_edge_W": 0.03 * flux * area,
        "heat_flow_supplied_W": 1.15 * flux * area,
        "share_down_percent": 100 * 0.12 / 1.15,
        "surface_mean_C": float(floor.mean()),
        "surface_peak_C": float(floor.max()),
        "surface_trough_C": float(floor.min()),
        "ripple_K": float(floor.max() - floor.min()),
        "cavity_air_C": 34.2,
        "water_supply_C": 48.0,
        "water_return_C": 44.0,
        "water_mean_C": 46.0,
        "floor_area_m2": area,
        "audit_residual": 2.0e-9,
        "cells": int(fields["temperature"].size),
        "solve_time_s": 1.2,
    }


HISTORY = [
    {"iteration": 1, "residual": 1e-2, "imbalance": 0.3},
    {"iteration": 2, "residual": 1e-9, "note": "done"},
]
CASE_TEXT = '[bay]\njoist_spacing = "406.4 mm"\n'
