"""The one place that reaches an accelerator: its arrays, its kernels, its matrix products, its recorded graphs.

A kernel's body is a plain function of one place, `body(b, i, j, k, extra, air)`, that this module turns into what a
device runs. `Rehearsal` runs the same bodies on the processor, so that they can be tested where there is no device.
"""

from __future__ import annotations

import hashlib
import inspect
from collections.abc import Callable, Mapping
from contextlib import suppress
from functools import cache
from pathlib import Path
from types import FunctionType, MappingProxyType
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

import numpy as np

from sim.airflow.device.products import Held, Products
from sim.machine.compiling import stamp_of

if TYPE_CHECKING:
    from sim.airflow.device.layout import BatchArrays

Tree = TypeVar("Tree")
"""A tuple of arrays and tuples, an array, or a number."""

Made = TypeVar("Made")
"""What a function is converted into."""

Body = Callable[..., None]
THREADS = 128
"""Threads of a block."""
REGISTERS = {"move_heat": 64, "move_heat_and_eddies": 64, "find_eddies": 48}
"""Most registers of a thread, for bodies that are quicker with more threads at work (measured)."""


class NoDeviceError(Exception):
    """There is no accelerator, or not what it takes to use one; the message says which."""


class Backend(Protocol):
    """What runs the bodies and holds the arrays. `xp` is NumPy or its likeness on the device."""

    xp: Any
    name: str

    def kernel_view(self, tree: Tree) -> Tree:
        """A tuple of arrays as kernels take it."""

    def cells(self, body: Body, extra: object, air: BatchArrays) -> None:
        """Run a body for every place of every bay."""

    def faces(self, body: Body, shape: tuple[int, int, int], extra: object, air: BatchArrays) -> None:
        """Run a body for every bay, face and chunk."""

    def each(self, body: Body, count: int, extra: object, air: BatchArrays) -> None:
        """Run a body for 0 ≤ n < count."""

    def rotate(self, values: Held, matrix: Held, out: Held, add: bool = False) -> None:
        """out[b] = values[b]ᵀ matrix[b], or that added: the first axis of each bay's values comes last, multiplied."""

    def sample(self, values: Held, matrix: Held, out: Held) -> None:
        """out[b] = values[b] matrix[b]: the last axis of each bay's values, multiplied."""

    def record(self, work: Callable[[], None]) -> Callable[[], None]:
        """Do the work once, and return it as something that can be repeated at little cost."""

    def to_host(self, array: Held) -> np.ndarray:
        """A copy for the processor."""

    def free_memory(self) -> float:
        """Bytes that arrays can still take."""


def bind(function: Callable[..., object], convert: Callable[[FunctionType], Made]) -> FunctionType:
    """A compiled function and all that it calls in our own modules, each converted anew from its source."""
    done: dict[FunctionType, FunctionType] = {}

    def bound(one: Any) -> FunctionType:
        plain = getattr(one, "py_func", one)
        if plain not in done:
            called = {n: g for n in plain.__code__.co_names if hasattr(g := plain.__globals__.get(n), "py_func")}
            own = {**plain.__globals__, **{name: convert(bound(g)) for name, g in called.items()}}
            done[plain] = FunctionType(plain.__code__, own, plain.__name__, plain.__defaults__)
        return done[plain]

    return bound(function)


class Rehearsal:
    """The kernels' bodies on the processor, one place after the other: for tests, and slow.

    Parameters
    ----------
    compiled : bool
        Whether to compile them first.
    """

    xp = np
    name = "rehearsal on the processor"

    def __init__(self, compiled: bool = False) -> None:
        self._ready = cache(_compiled_loops if compiled else _plain_loops)

    def kernel_view(self, tree: Tree) -> Tree:
        """The arrays themselves."""
        return tree

    def cells(self, body: Body, extra: object, air: BatchArrays) -> None:
        """One place after the other."""
        grid = air.grid
        self._ready(body)[0]((grid.bays, grid.px, grid.py, grid.pz), extra, air)

    def faces(self, body: Body, shape: tuple[int, int, int], extra: object, air: BatchArrays) -> None:
        """One face after the other."""
        self._ready(body)[1](shape, extra, air)

    def each(self, body: Body, count: int, extra: object, air: BatchArrays) -> None:
        """One after the other."""
        self._ready(body)[2](count, extra, air)

    def rotate(self, values: Held, matrix: Held, out: Held, add: bool = False) -> None:
        """By NumPy."""
        bays, n, m = matrix.shape
        there = np.asarray(out).reshape(bays, -1, m)
        product = np.matmul(np.asarray(values).reshape(bays, n, -1).transpose(0, 2, 1), np.asarray(matrix))
        there[:] = product + there if add else product

    def sample(self, values: Held, matrix: Held, out: Held) -> None:
        """By NumPy."""
        bays, n, m = matrix.shape
        there = np.asarray(out).reshape(bays, -1, m)
        np.matmul(np.asarray(values).reshape(bays, -1, n), np.asarray(matrix), out=there)

    def record(self, work: Callable[[], None]) -> Callable[[], None]:
        """The work itself."""
        work()
        return work

    def to_host(self, array: Held) -> np.ndarray:
        """A copy."""
        return np.array(array)

    def free_memory(self) -> float:
        """No limit of its own."""
        return np.inf


def _plain_loops(body: Body) -> tuple[Callable[..., None], ...]:
    """Loops over a body, interpreted."""
    return _loops(bind(body, lambda plain: plain))


def _compiled_loops(body: Body) -> tuple[Callable[..., None], ...]:
    """Loops over a body, compiled."""
    import numba

    return tuple(numba.njit(loop) for loop in _loops(body))


def _loops(body: Any) -> tuple[Callable[..., None], ...]:
    """Loops over places, over faces, and over anything."""

    def over_cells(shape, extra, air):  # type: ignore[no-untyped-def]
        for b in range(shape[0]):
            for i in range(shape[1]):
                for j in range(shape[2]):
                    for k in range(shape[3]):
                        body(b, i, j, k, extra, air)

    def over_faces(shape, extra, air):  # type: ignore[no-untyped-def]
        for b in range(shape[0]):
            for f in range(shape[1]):
                for chunk in range(shape[2]):
                    body(b, f, chunk, extra, air)

    def over_each(count, extra, air):  # type: ignore[no-untyped-def]
        for n in range(count):
            body(n, extra, air)

    return over_cells, over_faces, over_each


class Accelerator:
    """The device: kernels compiled from the bodies, products from its matrix library."""

    def __init__(self) -> None:
        self._cuda, self.xp = _libraries()
        self.name = _device_name(self.xp)
        self.stream = self.xp.cuda.Stream(non_blocking=True)
        self.stream.__enter__()  # for good: what is only put to use ends with any block of the library's own
        self._launch_stream = self._cuda.external_stream(self.stream.ptr)
        self._products = Products(self.xp, self.stream)
        self._ready = cache(self._kernels)
        self._kept: list[Any] = []

    def kernel_view(self, tree: Tree) -> Tree:
        """Views of the device's arrays, made once: making them takes longer than a kernel."""
        view: Tree = self._viewed(tree)
        return view

    def _viewed(self, tree: Any) -> Any:
        if isinstance(tree, tuple):
            parts = [self._viewed(part) for part in tree]
            return type(tree)(*parts) if hasattr(tree, "_fields") else tuple(parts)
        if not isinstance(tree, self.xp.ndarray):
            return tree
        return self._cuda.as_cuda_array(tree if tree.size else self.xp.zeros(1, tree.dtype), sync=False)

    def cells(self, body: Body, extra: object, air: BatchArrays) -> None:
        """A thread a place: a plane's along the first axis of the launch, planes along the second, bays the third."""
        grid = air.grid
        blocks = (-(-grid.plane // THREADS), grid.px, grid.bays)
        self._ready(body)[0][blocks, THREADS, self._launch_stream](extra, air)

    def faces(self, body: Body, shape: tuple[int, int, int], extra: object, air: BatchArrays) -> None:
        """A thread a face and chunk."""
        bays, count, chunks = shape
        blocks = (-(-count // THREADS), chunks, bays)
        self._ready(body)[1][blocks, THREADS, self._launch_stream](count, extra, air)

    def each(self, body: Body, count: int, extra: object, air: BatchArrays) -> None:
        """A thread each."""
        if count:
            self._ready(body)[2][-(-count // THREADS), THREADS, self._launch_stream](count, extra, air)

    def rotate(self, values: Held, matrix: Held, out: Held, add: bool = False) -> None:
        """One batch of products."""
        self._products.rotate(values, matrix, out, add)

    def sample(self, values: Held, matrix: Held, out: Held) -> None:
        """One batch of products."""
        self._products.sample(values, matrix, out)

    def record(self, work: Callable[[], None]) -> Callable[[], None]:
        """A graph of the work, launched as one; what it allocates belongs to it alone."""
        pool = self.xp.cuda.MemoryPool()
        self._kept.append(pool)
        with self.xp.cuda.using_allocator(pool.malloc):
            work()
            self.stream.synchronize()
            self.stream.begin_capture()
            work()
            graph = self.stream.end_capture()
        return lambda: graph.launch(self.stream)

    def to_host(self, array: Held) -> np.ndarray:
        """A copy."""
        copied = np.asarray(self.xp.asnumpy(array, stream=self.stream))
        self.join()
        return copied

    def free_memory(self) -> float:
        """What the device has left."""
        self.xp.get_default_memory_pool().free_all_blocks()
        return float(self.xp.cuda.runtime.memGetInfo()[0])

    def join(self) -> None:
        """Have the library's work of this thread go on our stream: kernels wait for no other."""
        self.stream.use()

    def probe(self) -> None:
        """Compile and run the smallest kernel."""
        self._cuda.jit(_set_one)[1, 1, self._launch_stream](self.kernel_view(self.xp.zeros(1)))
        self.stream.synchronize()

    def _kernels(self, body: Body) -> tuple[Any, ...]:
        """Kernels over places, over faces, and over anything; compiled when they are first launched, and stored."""
        cuda = self._cuda
        simulated = "forceinline" not in inspect.signature(cuda.jit).parameters
        inner = cuda.jit(device=True) if simulated else cuda.jit(device=True, forceinline=True)
        own = {"cuda": cuda, "body": inner(bind(body, inner))}
        limited = body.__name__ in REGISTERS and not simulated
        few = {"max_registers": REGISTERS[body.__name__]} if limited else {}
        loops = (_named_after(body, loop, own) for loop in (_each_cell, _each_face, _each_number))
        return tuple(cuda.jit(loop, cache=True, **few) for loop in loops)


def _named_after(body: Any, loop: Any, own: dict[str, Any]) -> FunctionType:
    """A loop of its own for a body, with a name under which no other is stored, nor one of older sources."""
    sources = (Path(function.__code__.co_filename) for function in (getattr(body, "py_func", body), loop))
    digest = hashlib.sha256("".join(stamp_of(source) for source in sources).encode()).hexdigest()[:16]
    name = f"{loop.__name__}_{body.__name__}_{digest}"
    return FunctionType(loop.__code__.replace(co_name=name, co_qualname=name), loop.__globals__ | own, name)


cuda: Any = None
body: Any = None
"""What the loops below call: every kernel is made from a copy of one with a `cuda` and a `body` of its own."""


def _set_one(values):  # type: ignore[no-untyped-def]
    """The smallest kernel."""
    values[0] = 1.0


def _each_cell(extra, air):  # type: ignore[no-untyped-def]
    """A thread's place: of a plane, plane and bay by the three axes of the launch."""
    r = cuda.grid(1)
    if r < air.grid.plane:
        j = np.int64((r + 0.5) * air.grid.per_row)
        body(cuda.blockIdx.z, cuda.blockIdx.y, j, r - j * air.grid.pz, extra, air)


def _each_face(count, extra, air):  # type: ignore[no-untyped-def]
    """A thread's face, chunk and bay by the three axes of the launch."""
    f = cuda.grid(1)
    if f < count:
        body(cuda.blockIdx.z, f, cuda.blockIdx.y, extra, air)


def _each_number(count, extra, air):  # type: ignore[no-untyped-def]
    """A thread's number."""
    n = cuda.grid(1)
    if n < count:
        body(n, extra, air)


def _libraries() -> tuple[Any, Any]:
    """The libraries for kernels and for arrays; NoDeviceError where one is missing or sees no device."""
    way_out = "pip install 'joistbay[gpu]' where there is an accelerator, or air.device = \"cpu\""
    try:
        import cupy
        from numba import config, cuda
    except ImportError as missing:
        raise NoDeviceError(f"air.device is \"gpu\" but {missing.name} is not installed; {way_out}") from None
    try:
        found = cupy.cuda.runtime.getDeviceCount() > 0 and cuda.is_available()
    except cupy.cuda.runtime.CUDARuntimeError:
        found = False
    if not found:
        raise NoDeviceError(f'air.device is "gpu" but this machine shows no accelerator; {way_out}')
    setattr(config, "CUDA_LOW_OCCUPANCY_WARNINGS", 0)  # noqa: B010 (its module makes its names as it is read)
    return cuda, cupy


def _device_name(cupy: Any) -> str:
    """What the device calls itself."""
    return str(cupy.cuda.runtime.getDeviceProperties(0)["name"].decode())


@cache
def accelerator() -> Accelerator:
    """The accelerator of this process, made on first use.

    Raises
    ------
    NoDeviceError
        Where there is none, or the libraries for it are missing or do not go together.
    """
    found = Accelerator()
    try:
        found.probe()
    except Exception as error:  # whatever the libraries stumble over, there is no device to be used
        why = f"{type(error).__name__}: {error}"
        raise NoDeviceError(f"{found.name}: its libraries do not go together: {why}") from error
    return found


def _joined_accelerator() -> Accelerator:
    """The accelerator, the library's work of this thread on its stream."""
    found = accelerator()
    found.join()
    return found


BACKENDS: Mapping[str, Callable[[], Backend]] = MappingProxyType({"gpu": _joined_accelerator})
"""What makes each back end, by its word in `sim.machine.devices`; "auto" takes the first that is there."""


def choose_backend(device: str) -> Backend | None:
    """The back end of a word; None for "cpu", and for "auto" where this machine has none.

    Raises
    ------
    NoDeviceError : the one that is named is not there.
    ValueError : nothing is known by that word.
    """
    if device in BACKENDS:
        return BACKENDS[device]()
    if device not in ("cpu", "auto"):
        raise ValueError(f'device is "{device}"; must be one of cpu, {", ".join(BACKENDS)}, auto')
    for make in BACKENDS.values() if device == "auto" else ():
        with suppress(NoDeviceError):
            return make()
    return None
