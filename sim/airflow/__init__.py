"""Buoyant air flow in three dimensions, resolved on a staggered rectilinear grid.

The package stands alone: it takes arrays and plain values. `box` is its front door.
"""
