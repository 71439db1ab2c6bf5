"""A house small enough to solve in a test, and a way to change its text."""

from sim.case.house_load import parse_house

SMALL = """
title = "Three rooms"

[design]
outdoor = "-18 degC"
outdoors = ["-18 degC", "1 degC"]
drop = "5 K"
spacings = ["235 mm", "none"]

[[manifold]]
name = "M"
x = "1 m"
y = "-1 m"
riser = "0.5 m"

[[manifold]]
name = "N"
storey = "upper"
x = "1 m"
y = "-1 m"

[[source]]
name = "condensing boiler"
supply = "58 degC"

[[source]]
name = "heat pump"
supply = "42 degC"

[[room]]
name = "A"
load = "280 W"
active_area = "7.32 m^2"
below = { kind = "unheated space", temperature = "12 degC" }
[room.change]
plates = { length = "200 mm", spacing = "235 mm" }
"air.model" = "still"
"mesh.layer_cells" = 1
"cavity.insulation" = { material = "glass wool batt", thickness = "140 mm" }
[[room.bays]]
count = 6
x = "0 m"
y = "0 m"
along = "y"
length = "3 m"

[[room]]
name = "B"
load = "270 W"
active_area = "7.32 m^2"
below = { kind = "unheated space", temperature = "12 degC" }
[room.change]
plates = { length = "200 mm", spacing = "235 mm" }
"air.model" = "still"
"mesh.layer_cells" = 1
"cavity.insulation" = { material = "glass wool batt", thickness = "140 mm" }
[[room.bays]]
count = 6
x = "3 m"
y = "0 m"
along = "y"
length = "3 m"

[[room]]
name = "U"
storey = "upper"
load = "430 W"
active_area = "7.32 m^2"
below = { room = "A" }
[room.change]
plates = { length = "200 mm", spacing = "235 mm" }
"air.model" = "still"
"mesh.layer_cells" = 1
"cavity.insulation" = { material = "glass wool batt", thickness = "140 mm" }
[[room.covering]]
material = "oak"
thickness = "19 mm"
[[room.bays]]
count = 6
x = "0 m"
y = "0 m"
along = "y"
length = "3 m"
"""
"""Two rooms of the same bay over a cold basement, and one with an oak floor above the first. Still air: no rays."""


def small(*changes):
    """The small house with texts put in place of others."""
    text = SMALL
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return parse_house(text, "small", "small.toml")
