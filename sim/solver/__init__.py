"""The equations of a build-up and their solution: at rest (`steady`) and in time (`march`), each state audited.

`assemble.build_system` makes a `system.System`, whose `terms` are the balance; `newton` linearises them, `coupling`
takes zones, patches and water out of the linear system, `linear` and `multigrid` solve it cell by cell, `balance` sums
it up.
"""
