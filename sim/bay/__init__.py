"""Geometry of bays and of blocks, and what a grid makes of it: cells, faces, radiation patches.

`bay_geometry` and `blocks_geometry` make a `geometry.Geometry` of a case; `grid`, `cells`, `faces` and `patches` look
at that alone, and never at the case.
"""
