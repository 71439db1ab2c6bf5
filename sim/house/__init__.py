"""From the rooms of a house to its circuits: needed water, flow and head, manifolds, season, quantities.

`solve_house.solve_house` is the table of contents. It solves bays by the chain (`bay_solver`) and reckons the rest from
their curves.
"""
