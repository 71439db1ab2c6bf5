"""Words and numbers as they stand in files of results."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

LONGEST_NAME = 80
"""Characters of a name for people that go into a name for files."""


def json_text(values: Mapping[str, object]) -> str:
    """Plain JSON, two spaces a level, NumPy's values too; numbers not finite become null, and no zero has a sign."""
    return json.dumps(_finite(values), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _finite(value: Any) -> Any:
    if hasattr(value, "tolist"):
        value = value.tolist()
    if isinstance(value, Mapping):
        return {str(key): _finite(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(entry) for entry in value]
    if isinstance(value, float):
        return value + 0.0 if math.isfinite(value) else None
    return value


def file_name(text: str) -> str:
    """A name for people as a name for files, which have no more than 80 characters of it.

    >>> file_name("plates every 9 in")
    'plates-every-9-in'
    """
    return re.sub(r"[^a-z0-9.]+", "-", text.lower()).strip("-.")[:LONGEST_NAME].rstrip("-.")


def text_of(path: Path) -> str:
    """The text of a file; empty where there is none that can be read."""
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, ValueError):
        return ""
