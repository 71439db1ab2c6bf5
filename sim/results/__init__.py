"""What is told of a solution: the report (`report`, keys with units), chain of resistances, maps, probes, exports.

`people` gives every report key its name, unit and place; `stored` reads a result back from its folder. No physics is
solved here, and nothing is drawn.
"""
