"""What went wrong with folders on disk."""

from __future__ import annotations


class StoreError(OSError):
    """A run folder cannot be written or read; the text says which one, why and what to do."""


class DamagedError(ValueError):
    """A file of a run folder does not hold what it should; the text says which file and what."""
