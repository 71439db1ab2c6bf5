"""Libraries that the main job can do without: whether one is there, and what to install where it is not."""

from __future__ import annotations

from importlib.util import find_spec

EXTRAS = {
    "pyvista": ("pyvista", "3d"),
    "distributed": ("dask[distributed]", "cluster"),
    "aiohttp": ("aiohttp", "explore"),
    "imageio_ffmpeg": ("imageio-ffmpeg", "movie"),
}
"""Library → what pip calls it, and the extra of our own that brings it."""


def what_to_install(library: str) -> str:
    """Empty where a library is there; otherwise what is missing and how to get it.

    >>> what_to_install("numpy")
    ''
    """
    if find_spec(library) is not None:
        return ""
    package, extra = EXTRAS[library]
    return f"{library} is not installed; pip install '{package}' brings it, as our extra [{extra}] does"
