"""Read hourly outdoor temperatures from a CSV file."""

from __future__ import annotations

import csv
import re
import warnings
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

from sim.case.constants import HOUR
from sim.case.errors import CaseError, Problem, shortened
from sim.case.quantities import ZERO_CELSIUS
from sim.case.read_file import refuse_pipe
from sim.machine.remarks import Remark

COLDEST, WARMEST = -90.0, 60.0
"""Temperatures beyond these are taken for another unit or a missing value [°C]."""

LONG_GAP = 6.0
"""A longer step than this, which is also longer than most, is told as a gap [h]."""

_WRITE = "write such as 3,-7.5: hours from the start, no dates, a point before decimals"
_OTHER_UNIT = re.compile(
    r"deg(ree)?s?[ _]*[fk]\b|°[ ]*f|fahrenheit|kelvin|\b[fk]\b|\b(minutes?|min|seconds?)\b|^ *days?\b", re.IGNORECASE
)
"""What a heading says of a file that would be read wrongly."""

LONGEST = 100.0 * 8766.0
"""Hours beyond this, a hundred years, are taken for another unit [h]."""


def read_weather(file: str | Path) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Times [s] and outdoor temperatures [K] of a weather file.

    Each line holds hours and °C, or °C alone, hour by hour from 0; a first line of words is a heading, which must not
    name another unit. A gap between hours is told (`Remark`).

    Raises
    ------
    CaseError
        The file cannot be read, a line is not understood, hours fall, a cell is empty, a temperature is out of range.
    """
    try:
        refuse_pipe(Path(file))
        with Path(file).open(newline="", encoding="utf-8-sig") as lines:
            rows = list(_rows(csv.reader(lines), str(file)))
    except CaseError:
        raise
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
    _remark_on_gap(rows, file)
    hours, celsius = zip(*rows, strict=True)
    return tuple(HOUR * hour for hour in hours), tuple(ZERO_CELSIUS + value for value in celsius)


def _odd(error: Exception) -> str:
    return "no UTF-8 text" if isinstance(error, UnicodeDecodeError) else shortened(str(error))


def _rows(lines: Iterator[list[str]], file: str) -> Iterator[tuple[float, float]]:
    """Hours and °C of every line that is not empty; a first line of words is a heading."""
    hour, wide, first = 0.0, 0, True
    for number, cells in enumerate(lines, start=1):
        cells = [cell for cell in cells if cell.strip()]
        if not cells:
            continue
        heading, first = first, False
        try:
            values = [float(cell) for cell in cells]
        except ValueError:
            if heading:
                _check_heading(cells, file, number)
                continue
            raise _refused(file, f"line {number}", "is not hours and °C", _WRITE) from None
        if len(values) > 2:
            raise _refused(file, f"line {number}", f"has {len(values)} values", "one or two are wanted")
        wide = wide or len(values)
        if len(values) != wide:  # an hour whose temperature is missing would be taken for a temperature
            rule = f"has {_values(len(values))} where lines before it have {wide}"
            raise _refused(file, f"line {number}", rule, "fill the empty cell, or leave the line out")
        yield (values[0], values[1]) if len(values) == 2 else (hour, values[0])
        hour += 1.0


def _values(count: int) -> str:
    return "1 value" if count == 1 else f"{count} values"


def _check_heading(cells: list[str], file: str, number: int) -> None:
    """Refuse a heading that names another unit than hours or °C."""
    other = next((found for cell in cells if (found := _OTHER_UNIT.search(cell))), None)
    if other is not None:
        raise _refused(file, f"line {number}, {shortened(other[0])}", "hours and °C are read", "write these")


def _remark_on_gap(rows: list[tuple[float, float]], file: str | Path) -> None:
    """Say where lines are missing: a straight line is taken there."""
    steps = [b - a for (a, _), (b, _) in pairwise(rows)]
    if steps and max(steps) > max(LONG_GAP, 3.0 * sorted(steps)[len(steps) // 2]):
        begin, end = (rows[steps.index(max(steps)) + more][0] for more in (0, 1))
        text = f"{file}: holds nothing between {begin:g} and {end:g} h; a straight line is taken there"
        warnings.warn(text, Remark, stacklevel=2)


def _refused(file: str | Path, given: str, rule: str, way_out: str = "") -> CaseError:
    return CaseError(str(file), [Problem("", given, rule, way_out)])
