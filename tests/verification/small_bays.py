"""Small joist bays on a coarse mesh, one for each way of building: quick to solve, and complete."""

from __future__ import annotations

from functools import cache
from typing import Any

import tomli_w

from sim.case.load import parse_case
from sim.run import Result, solve

BASE: dict[str, Any] = {
    "span": "pitch",
    "bay": {"joist_spacing": "300 mm", "joist_width": "38 mm", "joist_depth": "184 mm", "length": "0.6 m"},
    "floor": {
        "covering": [{"material": "oak", "thickness": "12 mm"}],
        "sheathing": {"material": "plywood", "thickness": "19 mm"},
    },
    "plates": {
        "width": "120 mm",
        "length": "200 mm",
        "spacing": "300 mm",
        "thickness": "0.5 mm",
        "position": "fastened",
    },
    "tube": {"size": "1/2", "runs": 1},
    "cavity": {"insulation": {"material": "glass wool batt", "thickness": "90 mm"}},
    "ceiling": {"material": "gypsum board", "thickness": "12.7 mm"},
    "water": {"supply": "45 degC", "flow": "1.5 l/min"},
    "room": {"temperature": "20 degC"},
    "below": {"kind": "heated room", "temperature": "18 degC"},
    "mesh": {"fineness": "coarse", "across": "25 mm", "along": "80 mm", "through": "40 mm"},
}

HUNG = {"plates": {"position": "hung", "drop": "40 mm"}}
RIM = {"outdoor_temperature": "-10 degC", "insulation": {"material": "XPS", "thickness": "25 mm"}}
WHOLE = {"span": "bay", "rim": RIM}
RUG = {"thickness": "8 mm", "x": ["0 m", "0.2 m"], "y": ["0.1 m", "0.4 m"]}

VARIANTS: dict[str, dict[str, Any]] = {
    "fastened": {},
    "hung": HUNG,
    "upright": {"plates": {"position": "hung", "drop": "10 mm", "orientation": "upright", "width": "60 mm"}},
    "no plates": {"plates": "none"},
    "tube hung without plates": {"plates": "none", "tube": {"depth": "40 mm"}},
    "three runs": {"plates": {"width": "70 mm"}, "tube": {"runs": 3}},
    "tube on a hung plate": {**HUNG, "tube": {"placement": "above"}},
    "tube in a hung plate": {**HUNG, "tube": {"placement": "in"}},
    "across": {"plates": "none", "tube": {"direction": "across"}},
    "i-joist": {"bay": {"joist_kind": "i-joist", "joist_depth": "241 mm"}},
    "insulation tight": {"cavity": {"air_gap": "0 mm"}},
    "insulation lowered": {"cavity": {"air_gap": "50 mm"}},
    "insulation full": {"cavity": {"insulation": {"thickness": "184 mm"}, "air_gap": "0 mm"}},
    "no insulation": {"cavity": {"insulation": "none"}},
    "no ceiling": {"ceiling": "none", "cavity": {"air_gap": "50 mm"}},
    "open below": {"ceiling": "none"},
    "still air": {"air": {"model": "still"}},
    "whole bay": WHOLE,
    "whole bay, two rims": {**WHOLE, "bay": {"far_end": "rim"}, **HUNG},
    "whole bay, blocked": {**WHOLE, "bay": {"far_end": "blocked"}},
    "rug": {**WHOLE, "floor": {"rug": [{"material": "carpet", **RUG}]}},
    "unheated below": {"below": {"kind": "unheated space", "temperature": "5 degC"}},
    "outdoors": {"below": {"kind": "outdoors", "temperature": "-15 degC"}},
    "adiabatic": {"below": {"kind": "adiabatic"}},
    "drop instead of flow": {"water": {"flow": None, "drop": "5 K"}},
    "glycol": {"water": {"glycol": 0.3}},
    "fixed film": {"room": {"law": "fixed", "coefficient": "9 W/(m^2*K)"}},
    "split room": {"room": {"law": "split", "convective": "5 W/(m^2*K)"}},
}
"""Changes to BASE by name; None takes a key away, a word replaces a whole section."""


def merged(base: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    """A copy of `base` with changes, section by section."""
    result = dict(base)
    for key, value in changes.items():
        if value is None:
            result.pop(key, None)
        elif isinstance(value, dict) and isinstance(result.get(key, {}), dict):
            result[key] = merged(result.get(key, {}), value)
        else:
            result[key] = value
    return result


def small_bay(variant: str = "fastened", **changes: Any) -> Any:
    """The case of a variant, with further changes by section."""
    data = merged(merged(BASE, VARIANTS[variant]), changes)
    return parse_case(tomli_w.dumps(data), variant)


@cache
def solved(variant: str = "fastened") -> Result:
    """A variant, solved once for all tests that look at it."""
    return solve(small_bay(variant))


def changed(variant: str = "fastened", **changes: Any) -> Result:
    """A variant with further changes, solved."""
    return solve(small_bay(variant, **changes))
