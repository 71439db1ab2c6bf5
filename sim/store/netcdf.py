"""Fields as netCDF files: groups of HDF5 whose axes are dimension scales, as netCDF-4 lays them down.

xarray says what stands in them (conventions for missing values, words and times); HDF5 is spoken to directly, since
going through layers in between takes several times as long as small fields do. Any reader of netCDF reads them.

A full disk is an error and not a crash: HDF5 that cannot write what it holds takes the whole process down when its
file is closed. Here it writes into memory, and only its finished bytes go to the disk.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import h5py
    import xarray

_AXIS_ALONE = b"This is a netCDF dimension but not a netCDF variable."
_DIMENSION = "_Netcdf4Dimid"
_AXES_OF_SCALE = "_Netcdf4Coordinates"
_LAYOUT = {"CLASS", "NAME", "REFERENCE_LIST", "DIMENSION_LIST", "DIMENSION_LABELS", "_NCProperties", "_nc3_strict"}
"""Attributes by which HDF5 and netCDF-4 keep their layout; they say nothing of the values."""


def write_netcdf(path: Path, dataset: xarray.Dataset, encoding: Mapping[str, Mapping[str, object]]) -> None:
    """Write a dataset to a netCDF file.

    Parameters
    ----------
    encoding : by variable, how HDF5 stores it (keywords of h5py's `create_dataset`).

    Raises
    ------
    OSError : the file cannot be written; what there is of it is the caller's to remove.
    """
    import h5py
    from xarray.conventions import cf_encoder, encode_dataset_coordinates

    variables, attributes = cf_encoder(*encode_dataset_coordinates(dataset))
    image = io.BytesIO()
    with h5py.File(image, "w", track_order=True) as file:
        file.attrs["_NCProperties"] = np.bytes_(f"version=2,hdf5={h5py.version.hdf5_version},h5py={h5py.__version__}")
        _note(file, attributes)
        for name, variable in variables.items():
            _put(file, str(name), variable, encoding.get(str(name), {}))
        _lay_axes(file, {str(name): size for name, size in dataset.sizes.items()}, variables)
    path.write_bytes(image.getbuffer())


def _note(owner: h5py.HLObject, attributes: Mapping[Any, Any]) -> None:
    """Attributes as netCDF keeps them: words as they are, numbers as lists."""
    for name, value in attributes.items():
        owner.attrs[str(name)] = value if isinstance(value, str) else np.atleast_1d(value)


def _put(file: h5py.File, name: str, variable: xarray.Variable, how: Mapping[str, Any]) -> None:
    """One variable's values and attributes; a stated missing value fills what is never written too."""
    import h5py

    values, attributes = np.asarray(variable.data), dict(variable.attrs)
    if values.dtype.kind in "OUT":
        values = values.astype(h5py.string_dtype())
    missing = attributes.get("_FillValue")
    more = {} if missing is None else {"fillvalue": missing}
    _note(file.create_dataset(name, data=values, track_order=True, **how, **more), attributes)


def _lay_axes(file: h5py.File, sizes: Mapping[str, int], variables: Mapping[Any, xarray.Variable]) -> None:
    """Every axis as a dimension scale: the variable of its name, or an empty one; variables are tied to theirs."""
    for number, (axis, size) in enumerate(sizes.items()):
        alone = axis not in file
        scale = file.create_dataset(axis, (size,), ">f4", track_order=True) if alone else file[axis]
        scale.attrs[_DIMENSION] = np.int32(number)
        scale.make_scale(_AXIS_ALONE + b"%10d" % size if alone else axis)
    for name, variable in variables.items():
        if name not in variable.dims:
            for place, along in enumerate(variable.dims):
                file[name].dims[place].attach_scale(file[along])


class OpenFile:
    """An open file of fields; where it is sent to, or copied, it is opened anew."""

    def __init__(self, path: Path) -> None:
        import h5py

        self.path, self.content = path.absolute(), h5py.File(path, "r", track_order=True)

    def __reduce__(self) -> tuple[type[OpenFile], tuple[Path]]:
        return OpenFile, (self.path,)

    def close(self) -> None:
        """Values that were not read are out of reach from now on."""
        self.content.close()


def open_netcdf(path: Path) -> xarray.Dataset:
    """A netCDF file as a dataset; values stay on the disk until they are used or the dataset is closed.

    Numbers whose units are those of a time stay numbers.

    Raises
    ------
    Exception : of whatever kind what is damaged in the file leads its readers to.
    """
    import xarray
    from xarray.conventions import decode_cf_variables

    file = OpenFile(path)
    try:
        variables, attributes, axes = decode_cf_variables(
            dict(_variables(file)), _attributes(file.content), decode_timedelta=False
        )
        found = xarray.Dataset(variables, attrs=attributes).set_coords(axes)
    except BaseException:
        file.close()
        raise
    found.set_close(file.close)
    return found


def read_netcdf(path: Path) -> xarray.Dataset:
    """A netCDF file as a dataset in memory; it raises what `open_netcdf` does."""
    with open_netcdf(path) as found:
        return found.load()


def _variables(file: OpenFile) -> Iterator[tuple[str, xarray.Variable]]:
    """All variables, in the order in which they were written; axes that are no variables are left out."""
    import h5py
    import xarray
    from xarray.core.indexing import LazilyIndexedArray

    for name, data in file.content.items():
        if isinstance(data, h5py.Dataset) and not bytes(data.attrs.get("NAME", b"")).startswith(_AXIS_ALONE):
            values = LazilyIndexedArray(_on_disk(file, name))
            yield name, xarray.Variable(_axes(file.content, name, data), values, _attributes(data))


def _axes(file: h5py.File, name: str, data: h5py.Dataset) -> list[str]:
    """Names of the axes of a variable."""
    if "DIMENSION_LIST" not in data.attrs:
        return [name] if data.ndim else []
    return [file[scales[0]].name.rsplit("/", 1)[-1] for scales in data.attrs["DIMENSION_LIST"]]


def _attributes(owner: h5py.HLObject) -> dict[str, Any]:
    """What the attributes say: words, numbers, lists of them."""
    found = {}
    for name, value in owner.attrs.items():
        if name not in _LAYOUT and name not in (_DIMENSION, _AXES_OF_SCALE):
            value = value.decode() if isinstance(value, bytes) else value
            found[name] = value[0] if isinstance(value, np.ndarray) and len(value) == 1 else value
    return found


def _on_disk(file: OpenFile, name: str) -> Any:
    """Values on the disk, as xarray asks for parts of them."""
    import h5py
    from xarray.backends import BackendArray
    from xarray.core.indexing import ExplicitIndexer, IndexingSupport, explicit_indexing_adapter

    data = file.content[name]
    words = h5py.check_string_dtype(data.dtype) is not None

    class OnDisk(BackendArray):
        """Of one variable."""

        shape, dtype = data.shape, np.dtype(object if words else data.dtype)

        def __getitem__(self, key: ExplicitIndexer) -> Any:
            """A part of the values."""
            return explicit_indexing_adapter(key, data.shape, IndexingSupport.OUTER_1VECTOR, self._read)

        def __reduce__(self) -> tuple[Callable[[OpenFile, str], Any], tuple[OpenFile, str]]:
            return _on_disk, (file, name)

        def _read(self, key: tuple[Any, ...]) -> Any:
            return (data.asstr() if words else data)[key]

    return OnDisk()
