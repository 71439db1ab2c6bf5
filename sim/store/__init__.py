"""Folders on disk: written whole or not at all, read and checked, locked, and known as ours.

`run_folder` writes and reads a run; `ours` knows which files we wrote, `read_check` names the one that is damaged,
`formats` reads folders of older versions.
"""
