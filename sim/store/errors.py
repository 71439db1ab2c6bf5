"""What went wrong with folders on disk."""

from __future__ import annotations


class StoreError(OSError):
    """A run folder cannot be written or read; the text says which one, why and what to do."""


class DamagedError(ValueError):
    """A file of a run folder does not hold what it should; the text says which file and what."""


def reason_of(error: Exception) -> str:
    """Why a file operation failed, in short, also that of a folder within the one that is written."""
    while isinstance(error, StoreError) and isinstance(error.__cause__, OSError):
        error = error.__cause__
    return (error.strerror if isinstance(error, OSError) else None) or str(error) or type(error).__name__
