"""Small trees of two levels, as cases and houses print themselves."""

from __future__ import annotations

Branch = tuple[str, list[str]]
"""A head line and the lines below it."""


def draw_tree(title: str, branches: list[Branch]) -> str:
    """A two-level tree.

    Parameters
    ----------
    title : str
        First line.
    branches : list of (str, list of str)
        Each a head line and the lines below it.
    """
    lines = [title]
    for index, (head, leaves) in enumerate(branches):
        last = index == len(branches) - 1
        lines.append(f"{'└── ' if last else '├── '}{head}")
        for number, leaf in enumerate(leaves):
            stem = "    " if last else "│   "
            lines.append(f"{stem}{'└── ' if number == len(leaves) - 1 else '├── '}{leaf}")
    return "\n".join(lines)


def headline(noun: str, name: str, title: str) -> str:
    """What it is ("Case" or "House"), its name and its title."""
    return f"{noun} {name}: {title}" if title else f"{noun} {name}"
