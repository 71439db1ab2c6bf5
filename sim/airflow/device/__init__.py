"""The flow on an accelerator: many domains side by side in one set of arrays, stepped together.

`seam` reaches the accelerator (or rehearses its kernels on the processor), `layout` and `tables` put domains side by
side, `moves`, `eddies`, `heat`, `pressure` and `looks` hold what one thread does for one cell, `flows` marches.
"""
