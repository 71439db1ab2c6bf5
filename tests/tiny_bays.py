"""Texts of the smallest bays, written once: solved in a moment, whatever asks for a case."""

COVERING = """
[[floor.covering]]
material = "oak"
thickness = "19 mm"
"""
INSULATION = """
[cavity.insulation]
material = "glass wool batt"
thickness = "50 mm"
"""
PLAIN = """
title = "A tiny bay"

[bay]
joist_spacing = "300 mm"
joist_depth = "150 mm"

[plates]
width = "80 mm"
length = "100 mm"
spacing = "120 mm"

[tube]
runs = 1

[water]
supply = "45 degC"
flow = "2 l/min"

[room]
temperature = "20 degC"
"""
MESH = """
[mesh]
fineness = "coarse"
across = "25 mm"
along = "60 mm"
through = "50 mm"
layer_cells = 1
"""
TINY = PLAIN + COVERING + INSULATION + MESH
"""One pitch with oak and a batt."""

HUNG = """
span = "pitch"
[bay]
joist_spacing = "300 mm"
joist_depth = "150 mm"
[plates]
length = "150 mm"
spacing = "200 mm"
width = "100 mm"
position = "hung"
drop = "40 mm"
[tube]
runs = 1
[cavity.insulation]
material = "glass wool batt"
thickness = "60 mm"
[water]
supply = "50 degC"
flow = "1.5 l/min"
[room]
temperature = "20 degC"
[mesh]
fineness = "coarse"
"""
"""One pitch with a hung plate."""

QUICK = {"mesh.fineness": "coarse", "mesh.layer_cells": 1}
"""What makes a demo bay quick, for tests that do not ask for its fifth digit: four times as quick as coarse alone."""
