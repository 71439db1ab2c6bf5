"""Drawings for the crew: sheets of paper in millimetres, written as PDF and, the plans, as DXF."""

DRAWINGS_FILE, PLAN_FILE = "drawings.pdf", "plan.dxf"
"""What a set of drawings is called beside the tables of its house."""
