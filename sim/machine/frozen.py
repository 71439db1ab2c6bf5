"""Read-only mappings, which can be sent to another process and copied."""

from __future__ import annotations

import copyreg
from types import MappingProxyType
from typing import Any


def _read_only(values: dict[Any, Any]) -> MappingProxyType[Any, Any]:
    """A mapping that cannot be changed."""
    return MappingProxyType(values)


# results hold read-only mappings; neither pickle nor copy knows by itself how to make another one
copyreg.pickle(MappingProxyType, lambda mapping: (_read_only, (dict(mapping),)))  # type: ignore[arg-type,return-value]
