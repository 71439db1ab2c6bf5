"""Batches of matrix products on the device, by its own library: also while a graph is recorded.

The array library refuses its products during a recording, though the library below it can be recorded; it is called
directly here, with a workspace of its own, as recorded products may not ask for memory.
"""

from __future__ import annotations

import ctypes
from pathlib import Path
from typing import Any, Protocol

ROOM = 32 * 2**20
"""Bytes of the products' workspace."""

_AS_IT_IS, _TURNED = 0, 1
_POINTER, _INT, _LONG = ctypes.c_void_p, ctypes.c_int, ctypes.c_longlong


class Held(Protocol):
    """An array, NumPy's or a device's: what is asked of either."""

    @property
    def shape(self) -> tuple[int, ...]:
        """Its sizes."""

    @property
    def size(self) -> int:
        """How many values it holds."""

    @property
    def data(self) -> object:
        """Where it lies."""

    def __getitem__(self, place: slice, /) -> Held:
        """A part of it."""


class Products:
    """Products on one stream of the device.

    Parameters
    ----------
    cupy : the array library
    stream : its stream
    """

    def __init__(self, cupy: Any, stream: Any) -> None:
        self._handle = _POINTER(cupy.cuda.device.get_cublas_handle())
        self._library = ctypes.CDLL(_loaded("libcublas.so"))
        self._room = cupy.zeros(ROOM, cupy.uint8)
        self._one, self._none = ctypes.c_double(1.0), ctypes.c_double(0.0)
        stream.synchronize()
        self._check(self._library.cublasSetStream_v2(self._handle, _POINTER(stream.ptr)))
        room = (_POINTER(self._room.data.ptr), ctypes.c_size_t(ROOM))
        self._check(self._library.cublasSetWorkspace_v2(self._handle, *room))

    def rotate(self, values: Held, matrix: Held, out: Held, add: bool = False) -> None:
        """out[b] = values[b]ᵀ matrix[b], or that added, for matrices (bays, n, m); rows here are columns there."""
        bays, n, m = matrix.shape
        rest = values.size // (bays * n)
        sides = (values, rest, _TURNED), (n, m, rest)
        self._multiply(matrix, *sides, out, bays, self._one if add else self._none)

    def sample(self, values: Held, matrix: Held, out: Held) -> None:
        """out[b] = values[b] matrix[b] for matrices (bays, n, m): the last axis of each bay's values, multiplied."""
        bays, n, m = matrix.shape
        rest = values.size // (bays * n)
        self._multiply(matrix, (values, n, _AS_IT_IS), (n, m, rest), out, bays, self._none)

    def _multiply(
        self, matrix: Held, values: tuple[Held, int, int], sizes: tuple[int, int, int], out: Held, bays: int,
        add: ctypes.c_double,
    ) -> None:
        (array, row, turned), (n, m, rest) = values, sizes
        self._check(self._library.cublasDgemmStridedBatched(
            self._handle, _INT(_AS_IT_IS), _INT(turned), _INT(m), _INT(rest), _INT(n), ctypes.byref(self._one),
            _address(matrix), _INT(m), _LONG(n * m),
            _address(array), _INT(row), _LONG(n * rest), ctypes.byref(add),
            _address(out), _INT(m), _LONG(m * rest), _INT(bays),
        ))  # fmt: skip

    def _check(self, status: int) -> None:
        if status != 0:
            raise RuntimeError(f"the device's matrix products failed with status {status}")


def _address(array: Held) -> ctypes.c_void_p:
    """Where an array lies on the device."""
    place: Any = array.data
    return _POINTER(place.ptr)


def _loaded(name: str) -> str:
    """Path of a library that this process has loaded."""
    for line in Path("/proc/self/maps").read_text().splitlines():
        path = line.split()[-1]
        if Path(path).name.startswith(name):
            return path
    raise RuntimeError(f"{name} is not loaded")
