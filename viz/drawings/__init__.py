"""Drawings for the crew: sheets of paper in millimetres, written as PDF and, the plans, as DXF."""
