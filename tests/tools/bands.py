"""Every stated uncertainty against the published number: `python tests/tools/bands.py [FOLDER ...]`.

For each number of each verification folder, the band that the program states of it (`run --uncertainty` for solids at
rest, the `..._uncertainty` of computed air, on the quick mesh) beside its distance from the reference. Nine in ten
should lie inside, as a band of 95 % promises with some allowance for so few. A reference is known to half of its last
digit as written, which counts as its own; numbers for which no band is stated (in time, dimensionless extremes) are
listed and not counted.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from sim.case.load import load_case
from sim.problems.kinds import BAY, BLOCKS, kind_stated
from sim.study.grid_convergence import with_uncertainty
from sim.verify.folder import CASES, Check, Folder, folders

PROMISED = 0.9
"""Share of stated bands that must hold."""


@dataclass(frozen=True, slots=True)
class Held:
    """A number, its distance from the reference, its band and what the reference's digits leave open."""

    folder: str
    key: str
    off: float
    band: float | None
    digits: float

    @property
    def inside(self) -> bool | None:
        """Whether the band holds; None where none is stated."""
        return None if self.band is None else abs(self.off) <= self.band + self.digits


def last_digit(number: float) -> float:
    """Half of the last digit of a number as it is written.

    >>> last_digit(4.521), last_digit(8.0)
    (0.0005, 0.05)
    """
    return 0.5 * 10.0 ** -len(repr(number).partition("e")[0].partition(".")[2])


def numbers_of(folder: Folder) -> Mapping[str, float]:
    """Report numbers of a folder's case on its quick mesh, each with its `..._uncertainty` where there is one."""
    case = load_case(folder.path / "case.toml")
    kind = kind_stated(case)
    if kind in (BAY, BLOCKS) and not case.air.is_resolved:
        return with_uncertainty(case).with_bands.report.as_dict()
    return kind.summarise(kind.solve(case, folder.coarse or 1))


def held(folder: Folder, values: Mapping[str, float]) -> Iterator[Held]:
    """Each check of a folder that speaks of a number of the report itself."""
    for check in folder.checks:
        if check.at is None and check.key in values:
            yield _held(folder, check, values)


def _held(folder: Folder, check: Check, values: Mapping[str, float]) -> Held:
    value, band = values[check.key], values.get(f"{check.key}_uncertainty")
    if check.drop is not None:
        band = None if band is None else check.drop * band / value**2
        value = check.drop / abs(value)
    if check.key.endswith("_C") and check.unit == "K":
        value += 273.15
    return Held(folder.name, check.key, value - check.published, band, last_digit(check.published))


def main(names: list[str]) -> int:
    """Print a line a number and the count; 1 where fewer than promised lie inside."""
    found: list[Held] = []
    for folder in folders(names or None, CASES):
        try:
            rows = list(held(folder, numbers_of(folder)))
        except ValueError as error:
            print(f"{folder.name:<28} no band: {error}", flush=True)
            continue
        for row in rows:
            word = {None: "no band stated", True: "inside", False: "OUTSIDE"}[row.inside]
            band = "" if row.band is None else f"± {row.band + row.digits:.2e}"
            print(f"{row.folder:<28} {row.key:<36} {row.off:+.2e} {band:<12} {word}", flush=True)
        found += rows
    stated = [row for row in found if row.band is not None]
    inside = sum(bool(row.inside) for row in stated)
    print(f"\n{inside} of {len(stated)} stated bands hold; {len(found) - len(stated)} numbers state none")
    return 0 if inside >= PROMISED * len(stated) else 1


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[2]))
    raise SystemExit(main(sys.argv[1:]))
