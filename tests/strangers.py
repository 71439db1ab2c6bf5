"""Bays that a stranger might describe: plausible, of every arrangement, in either trade's notation; drawn by a seed.

    python tests/strangers.py 0 20 FOLDER       writes twenty cases
"""

from __future__ import annotations

import random
import sys
from pathlib import Path
from typing import Any

import tomli_w

COVERINGS = (
    ("oak", "3/4 in"), ("hardwood", '3/4"'), ("engineered wood", "15 mm"), ("laminate", "8 mm"), ("LVP", "5 mm"),
    ("sheet vinyl", "2.5 mm"), ("ceramic tile", "3/8 in"), ("cork flooring", "6 mm"), ("carpet", "1/2 in"),
    ("linoleum", "2.5 mm"), ("softwood flooring", "21 mm"), ("terrazzo", "20 mm"),
)
UNDER = (("laminate underlay", "3 mm"), ("cement backer board", "1/2 in"), ("carpet cushion, foam", "10 mm"),
         ("cork underlay", "3 mm"), ("plywood", "1/4 in"), ("OSB", "18 mm"), ("cement mortar", "38 mm"))
BATTS = (("glass wool batt", '3 1/2"', "R-13", 89), ("glass wool batt", "140 mm", "R-19", 140),
         ("EPS", "60 mm", "", 60), ("PIR board, foil faced", "30 mm", "", 30), ("mineral wool batt", "100 mm", "", 100),
         ("PUR foam, closed cell", "2 in", "", 51))
JOISTS = ("16 in", "12 in", "19.2 in", "24 in", '16" o.c.', "400 mm", "450 mm", "600 mm", "14.5 in")
WATERS = ("110 °F", "120 degF", "45 degC", "50 °C", "60 degC", "140 °F", "35 degC", "160 °F")
SOURCES = ("condensing boiler", "heat pump", "high-temperature boiler")
SPACINGS = (["12 in", "none"], ["235 mm", "450 mm"], ["none"], ["10 in", "20 in", "none"])
CURVE = [{"outdoor": "-20 degC", "water": "55 degC"}, {"outdoor": "15 degC", "water": "28 degC"}]
SIZES = ("3/8", "1/2", "5/8", "3/4", "16x2", "20x2", "12x2", "17x2", "1")


def bay(seed: int) -> dict[str, Any]:
    """A case as its file would say it."""
    draw = random.Random(seed)
    pick = draw.choice
    depth = pick([140, 184, 235, 241, 286, 302, 356])
    case: dict[str, Any] = {"title": f"Stranger {seed}", "span": pick(["pitch"] * 7 + ["bay"])}
    case["bay"] = _joists(draw, depth)
    if case["span"] == "bay":
        case["bay"]["length"] = pick(["4 ft", "1.1 m", "5'-3\""])
    case["floor"] = _floor(draw, case["span"])
    case["tube"] = _tube(draw)
    kind = pick(["fastened", "fastened", "hung", "hung", "upright", "bare", "bare low"])
    drop = pick([15, 25, 40, 50] if depth < 200 else [15, 25, 50, 75, 90])
    if kind == "bare low":
        case["tube"]["depth"] = f"{drop} mm"
    elif kind != "bare":
        case["plates"] = _plates(draw, kind, drop)
    if case["tube"].get("direction") == "across":
        case["tube"].pop("depth", None)
        case.get("plates", {}).pop("spacing", None)
        if "plates" in case:
            case["plates"]["length"] = "8 in"
    low = {"hung": drop + 32, "upright": drop + 62, "bare low": drop + 30}.get(kind, 0)
    _insulate(draw, case, depth // 2 + 20 if "direction" in case["tube"] else low, depth)
    if draw.random() < 0.5:
        case["ceiling"] = {"material": pick(["drywall", "gypsum board", "plywood"]), "thickness": "1/2 in"}
    _temperatures(draw, case)
    if draw.random() < 0.25:
        case["air"] = {"model": pick(["correlations", "correlations", "still"])}
    return case


def _joists(draw: random.Random, depth: int) -> dict[str, Any]:
    pick = draw.choice
    joists: dict[str, Any] = {
        "joist_spacing": pick(JOISTS),
        "joist_depth": f"{depth} mm",
        "length": pick(["14 ft", "12 ft 6 in", "3.75 m", "2.2 m", "18'", "6 m", "9 ft"]),
    }
    if depth in (241, 302, 356):
        joists |= {"joist_kind": "i-joist", "web_thickness": "3/8 in", "flange_width": pick(["2 5/16 in", "63.5 mm"])}
    else:
        joists["joist_width"] = pick(["1.5 in", "38 mm", "45 mm", "63 mm"])
    return joists


def _floor(draw: random.Random, span: str) -> dict[str, Any]:
    pick = draw.choice
    top = pick(COVERINGS)
    layers = [{"material": top[0], "thickness": top[1]}]
    for _ in range(pick([0, 0, 1, 1, 2])):
        material, thickness = pick(UNDER)
        layers.append({"material": material, "thickness": thickness})
    floor: dict[str, Any] = {"covering": layers if draw.random() < 0.93 else []}
    floor["sheathing"] = {"material": pick(["plywood", "OSB", "subfloor", "particleboard"]),
                          "thickness": pick(["3/4 in", "5/8 in", "22 mm", "18 mm", '1 1/8"'])}
    if span == "bay" and draw.random() < 0.4:
        floor["rug"] = [{"material": "carpet", "thickness": "8 mm", "y": ["0.5 m", "1.5 m"]}]
    return floor


def _tube(draw: random.Random) -> dict[str, Any]:
    pick = draw.choice
    tube: dict[str, Any] = {"size": pick(SIZES)}
    if draw.random() < 0.15:
        apart = pick(["8 in", "300 mm", "12 in"])
        return tube | {"direction": "across", "across_spacing": apart, "hole_diameter": '1 1/2"'}
    tube["runs"] = pick([1, 2, 2, 2, 3])
    if draw.random() < 0.2:
        tube["material"] = pick(["PE-RT", "copper", "polybutylene"])
    return tube


def _plates(draw: random.Random, kind: str, drop: int) -> dict[str, Any]:
    pick = draw.choice
    length = pick([100, 130, 150, 203, 203, 250, 300, 610])
    plates: dict[str, Any] = {
        "width": pick(["4 in", "5 in", "100 mm", "120 mm", "140 mm"]),
        "length": f"{length} mm",
        "spacing": f"{round(length * pick([1.02, 1.2, 1.5, 2.0]))} mm",
        "thickness": pick(["0.3 mm", "0.5 mm", "1/16 in", "1.5 mm", "0.019 in"]),
        "position": "fastened" if kind == "fastened" else "hung",
    }
    if draw.random() < 0.3:
        plates["material"] = pick(["aluminium", "aluminium 1050", "aluminium, painted", "steel", "copper"])
    if draw.random() < 0.3:
        plates["bond"] = pick(["loose", "bonded", "perfect", "0.08 m*K/W"])
    if kind == "fastened":
        plates["contact"] = pick(["tight", "fair", "poor", "perfect"])
    else:
        plates["drop"] = f"{drop} mm"
    if kind == "upright":
        plates |= {"orientation": "upright", "width": pick(["1.5 in", "40 mm", "60 mm"])}
    return plates


def _insulate(draw: random.Random, case: dict[str, Any], low: int, depth: int) -> None:
    """Insulation that fits below what hangs `low` mm deep."""
    pick = draw.choice
    if draw.random() < 0.15:
        return
    material, thickness, r_value, thick = pick(BATTS)
    if low + thick > depth:
        material, thickness, r_value, thick = BATTS[3]
    insulation: dict[str, Any] = {"material": material, "thickness": thickness}
    if r_value and draw.random() < 0.6:
        insulation["thermal_resistance"] = r_value
    case["cavity"] = {"insulation": insulation}
    choice = draw.random()
    if choice < 0.3:
        case["cavity"]["air_gap"] = f"{low} mm"
    elif choice < 0.55 and low + thick + 30 < depth:
        case["cavity"]["air_gap"] = f"{low + 26} mm"


def _temperatures(draw: random.Random, case: dict[str, Any]) -> None:
    pick = draw.choice
    case["water"] = {"supply": pick(WATERS)}
    if draw.random() < 0.5:
        case["water"]["flow"] = pick(["0.5 gpm", "1.8 l/min", "0.3 gal/min", "1 l/min", "3 l/min"])
    elif draw.random() < 0.5:
        drop, circuit = pick(["10 delta_degF", "8 K", "20 delta_degF"]), pick(["200 ft", "75 m", "300 ft"])
        case["water"] |= {"drop": drop, "circuit_length": circuit}
    if draw.random() < 0.2:
        case["water"]["glycol"] = pick([0.2, 0.3, 0.4])
    case["room"] = {"temperature": pick(["68 °F", "20 degC", "70 degF", "22 degC", "18 degC", "75 °F"])}
    if draw.random() < 0.2:
        fixed = {"law": "fixed", "coefficient": "10 W/(m^2*K)"}
        case["room"] |= pick([fixed, {"law": "split", "convective": "4 W/(m^2*K)"}])
    below = pick(["heated room", "unheated space", "outdoors", "outdoors", "adiabatic"])
    case["below"] = {"kind": below}
    if below == "unheated space":
        case["below"]["temperature"] = pick(["50 °F", "12 degC", "5 degC", "15 degC"])
    if below == "outdoors":
        case["below"]["temperature"] = pick(["0 °F", "-25 degC", "-5 degC", "20 degF"])
    if case["span"] == "bay":
        case["rim"] = {"outdoor_temperature": pick(["-10 degC", "0 degF"])}
        if draw.random() < 0.5:
            case["rim"]["insulation"] = {"material": "EPS", "thickness": "2 in"}


def in_time(seed: int) -> dict[str, Any]:
    """The same with what drives it in time, made quick."""
    draw = random.Random(-seed)
    pick = draw.choice
    case = bay(seed)
    case["span"] = "pitch"
    case.pop("rim", None)
    case["floor"].pop("rug", None)
    case["time"] = {"duration": pick(["3 h", "6 h", "0.5 day"]), "start": pick(["uniform", "steady"])}
    case["weather"] = {"temperature": pick(["-10 degC", "20 degF", "5 degC"])}
    control = pick([
        {}, {"water": "ramp", "ramp_time": "1 h"}, {"thermostat": "floor", "setpoint": "25 degC", "sensor": "between"},
        {"thermostat": "room"}, {"water": "reset", "design_outdoor": "-15 degC"}, {"water": "heat", "heat": "60 W/m^2"},
        {"thermostat": "room", "floor_limit": "27 degC", "sensor": "stripe"}, {"rise_limit": "5 K/day"},
        {"water": "reset", "curve": CURVE},
        {"shutdown_outdoor": "18 degC"},
    ])
    case["control"] = control
    if control.get("thermostat") == "room" or draw.random() < 0.2:
        case["room"]["node"] = {"loss": "1.6 W/(m^2*K)", "capacity": "80 kJ/(m^2*K)"}
    return case


def house(seed: int) -> dict[str, Any]:
    """A house of one to five rooms on one or two storeys, its bays stated in place, as its file would say it."""
    draw = random.Random(1000 + seed)
    pick = draw.choice
    storeys = ["ground", "upper"][: pick([1, 1, 2])]
    inches = draw.random() < 0.5
    built: dict[str, Any] = {
        "kind": "house",
        "title": pick(["Cabin by the lake", "Haus Nr. 7 & Söhne", "1923 <bungalow>", f"House {seed}"]),
        "design": {
            "outdoor": pick(["5 °F", "-12 degC", "-25 degC", "20 degF"]),
            "drop": pick(["10 delta_degF", "5 K", "8 K"]),
            "spacings": pick(SPACINGS),
        },
        "source": [{"name": name} for name in draw.sample(SOURCES, pick([1, 2]))],
        "manifold": [
            {"name": name, "storey": storey, "x": "2 m", "y": "4.4 m", "riser": "1 m"}
            for name, storey in zip("GU", storeys, strict=False)
        ],
        "room": [],
    }
    if draw.random() < 0.3:
        built["design"]["glycol"] = 0.25
    if draw.random() < 0.3:
        built["design"]["outdoors"] = [built["design"]["outdoor"]]
    if draw.random() < 0.3:
        built["season"] = {"climate": pick(["average", "colder"])}
    for storey in storeys:
        left = 0.0
        for number in range(pick([1, 2, 2, 3])):
            room, left = _room(draw, storey, number, left, inches)
            built["room"].append(room)
    return built


def _room(draw: random.Random, storey: str, number: int, left: float, inches: bool) -> tuple[dict[str, Any], float]:
    pick = draw.choice
    pitch = pick([0.3048, 0.4064, 0.4064, 0.4877, 0.6])
    count, long = pick([1, 3, 6, 9]), pick([2.1, 3.0, 3.66, 4.2])
    area = count * pitch * long

    def length(metres: float) -> str:
        return f"{metres / 0.0254:.2f} in" if inches else f"{metres:.4f} m"

    name = f"{storey[0].upper()}{number + 1}"
    room: dict[str, Any] = {"name": name, "storey": storey, "active_area": f"{area:.3f} m^2"}
    room["title"] = pick(["Küche", "Bath", "Living room with the very long name", "=1+1", "Room"])
    if draw.random() < 0.5:
        room["temperature"] = pick(["70 °F", "24 degC", "18 degC"])
    if draw.random() < 0.5:
        room["load"] = f"{area * pick([15, 35, 60, 110]):.0f} W"
    else:
        room["losses"] = {"surface": [{"name": "wall", "area": f"{2.5 * long:.2f} m^2", "u_value": "0.35 W/(m^2*K)"},
                                      {"name": "window", "area": "1.6 m^2", "u_value": "1.4 W/(m^2*K)"}],
                          "air_changes": 0.5, "volume": f"{2.5 * area:.1f} m^3"}
    below = pick(["unheated space", "outdoors", "heated room"])
    cold = {} if below == "heated room" else {"temperature": pick(["10 degC", "2 degC", "-5 degC"])}
    room["below"] = {"kind": below} | cold
    if storey == "upper" and number == 0 and draw.random() < 0.7:
        room["below"] = {"room": "G1"}
    room["change"] = _changes(draw, length(pitch))
    if draw.random() < 0.4:
        duct = {"bays": ["1"], "from": length(0.0), "to": length(0.6), "why": "Dunstrohr / duct"}
        room["blocked"] = [duct | {"passes": draw.random() < 0.7}]
        room["active_area"] = f"{area - 0.6 * pitch:.3f} m^2"
    top = pick(COVERINGS)
    room["covering"] = [{"material": top[0], "thickness": top[1]}]
    room["bays"] = [{"count": count, "x": length(left), "y": length(0.0), "along": "y", "length": length(long)}]
    return room, left + count * pitch + 0.3


def _changes(draw: random.Random, pitch: str) -> dict[str, Any]:
    pick = draw.choice
    changes: dict[str, Any] = {"bay.joist_spacing": pitch}
    if draw.random() < 0.8:
        changes["plates"] = {"length": pick(["8 in", "200 mm"]), "width": "4 in", "spacing": "235 mm"}
        if draw.random() < 0.4:
            changes["plates"] |= {"position": "hung", "drop": pick(["25 mm", "2 in"])}
            changes["cavity.air_gap"] = "95 mm"
    if draw.random() < 0.7 or "cavity.air_gap" in changes:
        changes["cavity.insulation"] = {"material": "glass wool batt", "thickness": "3.5 in"}
    if draw.random() < 0.3:
        changes["tube.runs"] = pick([1, 2])
    if draw.random() < 0.3:
        changes["tube.size"] = pick(["3/8", "16x2", "5/8"])
    return changes


def write(case: dict[str, Any], file: Path) -> Path:
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(tomli_w.dumps({key: value for key, value in case.items() if value != {}}), "utf-8")
    return file


if __name__ == "__main__":
    for number in range(int(sys.argv[1]), int(sys.argv[2])):
        write(bay(number), Path(sys.argv[3]) / f"s{number}.toml")
