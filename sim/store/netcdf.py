"""Writing netCDF so that a full disk is an error and not a crash.

HDF5 that cannot write what it holds takes the whole process down when its file is closed. Here it writes into memory,
and only its finished bytes go to the disk.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import xarray


def write_netcdf(path: Path, dataset: xarray.Dataset, encoding: Mapping[str, Mapping[str, object]]) -> None:
    """Write a dataset to a netCDF file; `encoding` by variable, as xarray takes it.

    Raises
    ------
    OSError : the file cannot be written; what there is of it is the caller's to remove.
    """
    import h5netcdf
    from xarray.backends import H5NetCDFStore

    image = io.BytesIO()
    with h5netcdf.File(image, "w") as file:
        dataset.dump_to_store(H5NetCDFStore(file), encoding=dict(encoding))
    path.write_bytes(image.getbuffer())
