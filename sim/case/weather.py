"""Read hourly outdoor temperatures from a CSV file."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

from sim.case.control import HOUR
from sim.case.errors import CaseError, Problem, shortened
from sim.case.quantities import ZERO_CELSIUS
from sim.case.read_file import refuse_pipe

COLDEST, WARMEST = -90.0, 60.0
"""Temperatures beyond these are taken for another unit or a missing value [°C]."""

LONGEST = 100.0 * 8766.0
"""Hours beyond this, a hundred years, are taken for another unit [h]."""


def read_weather(file: str | Path) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Times [s] and outdoor temperatures [K] of a weather file.

    Each line holds hours and °C, or °C alone, hour by hour from 0; a first line of words is a heading.

    Raises
    ------
    CaseError
        The file cannot be read, a line is not understood, hours fall, or a temperature is out of range.
    """
    try:
        refuse_pipe(Path(file))
        with Path(file).open(newline="", encoding="utf-8-sig") as lines:
            rows = list(_rows(csv.reader(lines), str(file)))
    except (OSError, ValueError, csv.Error) as error:
        why = error.strerror if isinstance(error, OSError) else _odd(error)
        way_out = "check weather.file, a path beside the case file to a CSV file"
        raise _refused(file, "", f"cannot be read ({why})", way_out) from None
    if not rows:
        raise _refused(file, "", "holds no temperatures", "write lines of hours and °C")
    if beyond := [hour for hour, _ in rows if not abs(hour) <= LONGEST]:
        raise _refused(file, f"{beyond[0]:g} h", f"hours must be numbers up to {LONGEST:,.0f}")
    falling = next((b for (a, _), (b, _) in pairwise(rows) if b < a), None)
    if falling is not None:
        raise _refused(file, f"{falling:g} h", "hours must not fall")
    far = next((t for _, t in rows if not COLDEST <= t <= WARMEST), None)  # None or a number, which may be nan or 0
    if far is not None:
        raise _refused(file, f"{far:g} °C", f"outdoor temperatures lie within {COLDEST:g} and {WARMEST:g} °C")
    hours, celsius = zip(*rows, strict=True)
    return tuple(HOUR * hour for hour in hours), tuple(ZERO_CELSIUS + value for value in celsius)


def _odd(error: Exception) -> str:
    return "no UTF-8 text" if isinstance(error, UnicodeDecodeError) else shortened(str(error))


def _rows(lines: Iterator[list[str]], file: str) -> Iterator[tuple[float, float]]:
    """Hours and °C of every line that is not empty."""
    hour = 0.0
    for number, cells in enumerate(lines, start=1):
        cells = [cell for cell in cells if cell.strip()]
        if not cells:
            continue
        try:
            values = [float(cell) for cell in cells]
        except ValueError:
            if number == 1:
                continue
            raise _refused(file, f"line {number}", "is not hours and °C") from None
        if len(values) > 2:
            raise _refused(file, f"line {number}", f"has {len(values)} values", "one or two are wanted")
        yield (values[0], values[1]) if len(values) == 2 else (hour, values[0])
        hour += 1.0


def _refused(file: str | Path, given: str, rule: str, way_out: str = "") -> CaseError:
    return CaseError(str(file), [Problem("", given, rule, way_out)])
