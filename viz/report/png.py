"""Small pictures of coloured cells as PNG, written by hand: a palette, one byte a dot (ISO/IEC 15948)."""

from __future__ import annotations

import base64
import struct
import zlib

import numpy as np
import numpy.typing as npt


def palette_png(dots: npt.NDArray[np.uint8], colours: npt.NDArray[np.uint8], clear: int | None = None) -> bytes:
    """A PNG file.

    Parameters
    ----------
    dots : (rows, columns) array
        Number of each dot's colour, the first row on top.
    colours : (n, 3) array, n at most 256
        Red, green, blue.
    clear : int, optional
        Number of the colour that lets the paper through.
    """
    rows, columns = dots.shape
    lines = np.concatenate([np.zeros((rows, 1), np.uint8), dots.astype(np.uint8)], axis=1).tobytes()
    head = struct.pack(">IIBBBBB", columns, rows, 8, 3, 0, 0, 0)
    parts = [_chunk(b"IHDR", head), _chunk(b"PLTE", colours.astype(np.uint8).tobytes())]
    if clear is not None:
        parts.append(_chunk(b"tRNS", bytes(0 if k == clear else 255 for k in range(clear + 1))))
    return b"\x89PNG\r\n\x1a\n" + b"".join([*parts, _chunk(b"IDAT", zlib.compress(lines, 6)), _chunk(b"IEND", b"")])


def data_address(png: bytes) -> str:
    """The picture as an address that holds it."""
    return "data:image/png;base64," + base64.b64encode(png).decode("ascii")


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
