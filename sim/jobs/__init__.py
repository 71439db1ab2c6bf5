"""Work in pieces: shared between processes or machines, kept as each piece is done, and taken up again.

`jobs.run_jobs` is the front door; `identity` says when two pieces are the same work. `bay_workers` and `spread` serve
whoever wants outcomes without a store. Nothing here knows what is solved.
"""
