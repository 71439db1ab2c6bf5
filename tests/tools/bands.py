"""Every stated uncertainty against the published number: `python tests/tools/bands.py [FOLDER ...] [--device gpu]`.

With `--meshes` computed air among solids is held by three meshes (`run --uncertainty`), which takes longer; air alone
is left out then.

For each number of each verification folder, the band that the program states of it (`run --uncertainty` for solids at
rest, the `..._uncertainty` of computed air, on the quick mesh) beside its distance from the reference. Nine in ten
should lie inside, as a band of 95 % promises with some allowance for so few. What the reference itself leaves open does
not count against the band: half of its last digit as written, and what the folder says of it (`known_relative`).

Where films follow laws, the band holds the laws' own spread, and a reference that is such a law lies well inside; such
numbers are counted apart, so that they hide nothing. Numbers for which no band is stated (in time, dimensionless
extremes) are listed and not counted; folders without a single band are named at the end.
"""

from __future__ import annotations

import argparse
import sys
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from sim.case.load import load_case
from sim.problems.kinds import BAY, BLOCKS, kind_stated
from sim.study.air_grids import with_air_uncertainty
from sim.study.grid_convergence import with_uncertainty
from sim.verify.folder import CASES, Check, Folder, folders

PROMISED = 0.9
"""Share of stated bands that must hold."""


@dataclass(frozen=True, slots=True)
class Held:
    """A number, its distance from the reference, its band, the laws' part in it and what the reference leaves open."""

    folder: str
    key: str
    off: float
    band: float | None
    law: float
    known: float

    @property
    def inside(self) -> bool | None:
        """Whether the band holds; None where none is stated."""
        return None if self.band is None else abs(self.off) <= self.band + self.known

    @property
    def lawful(self) -> bool:
        """Whether the spread of empirical laws makes most of the band."""
        return self.band is not None and 2.0 * self.law**2 > self.band**2


def last_digit(number: str) -> float:
    """Half of the last digit of a number as it is written.

    >>> last_digit("4.5210"), last_digit("8"), last_digit("1.5e3")
    (5e-05, 0.5, 50.0)
    """
    digits, _, power = number.lower().partition("e")
    return float(f"0.5e{int(power or 0) - len(digits.partition('.')[2])}")


def written(folder: Folder) -> dict[tuple[str, str], float]:
    """Half of the last digit of every published number, by key and source."""
    data = tomllib.loads((folder.path / "expected.toml").read_text("utf-8-sig"), parse_float=str)
    groups = [(group["source"], group["published"]) for group in data["check"]]
    return {(key, source): last_digit(str(number)) for source, found in groups for key, number in found.items()}


def numbers_of(folder: Folder, device: str, meshes: bool = False) -> tuple[Mapping[str, float], Mapping[str, float]]:
    """Report numbers of a folder's case on its quick mesh with their `..._uncertainty`, and the laws' part in those."""
    case = load_case(folder.path / "case.toml")
    if case.air.is_resolved:
        case = case.model_copy(update={"air": case.air.model_copy(update={"device": device})})
    kind = kind_stated(case)
    if kind in (BAY, BLOCKS) and not case.air.is_resolved:
        study = with_uncertainty(case)
        return study.with_bands.report.as_dict(), {key: found.law for key, found in study.estimates.items()}
    if meshes:
        if kind is not BLOCKS:
            raise ValueError("computed air, but not among solids at rest")
        return with_air_uncertainty(case).with_bands.report.as_dict(), {}
    return kind.summarise(kind.solve(case, folder.coarse or 1)), {}


def held(folder: Folder, values: Mapping[str, float], laws: Mapping[str, float]) -> Iterator[Held]:
    """Each check of a folder that speaks of a number of the report itself."""
    digits = written(folder)
    for check in folder.checks:
        if check.at is None and check.key in values:
            yield _held(folder, check, (values, laws), digits[check.key, check.source] + check.known)


def _held(folder: Folder, check: Check, found: tuple[Mapping[str, float], Mapping[str, float]], known: float) -> Held:
    values, laws = found
    value, band, law = values[check.key], values.get(f"{check.key}_uncertainty"), laws.get(check.key, 0.0)
    if check.drop is not None:
        change = check.drop / value**2
        band, law, value = None if band is None else change * band, change * law, check.drop / abs(value)
    if check.key.endswith("_C") and check.unit == "K":
        value += 273.15
    return Held(folder.name, check.key, value - check.published, band, law, known)


def line(row: Held) -> str:
    """A number in one line."""
    word = {None: "no band stated", True: "inside", False: "OUTSIDE"}[row.inside]
    band = "" if row.band is None else f"± {row.band:.1e}"
    open_ = f"(reference ± {row.known:.0e})"
    law = " by laws" if row.lawful else ""
    return f"{row.folder:<28} {row.key:<36} {row.off:+.1e} {band:<10} {open_:<20} {word}{law}"


def score(rows: list[Held], what: str) -> float:
    """Print how many bands hold; their share."""
    inside = sum(bool(row.inside) for row in rows)
    print(f"{inside} of {len(rows)} stated bands hold {what}")
    return inside / len(rows) if rows else 1.0


def main(arguments: list[str]) -> int:
    """Print a line a number and the counts; 1 where fewer than promised lie inside."""
    parser = argparse.ArgumentParser()
    parser.add_argument("folders", nargs="*")
    parser.add_argument("--device", default="cpu")
    parser.add_argument("--meshes", action="store_true")
    asked = parser.parse_args(arguments)
    found: list[Held] = []
    for folder in (met := folders(asked.folders or None, CASES)):
        try:
            rows = list(held(folder, *numbers_of(folder, asked.device, asked.meshes)))
        except ValueError as error:
            print(f"{folder.name:<28} no band: {error}", flush=True)
            continue
        print("".join(f"{line(row)}\n" for row in rows), end="", flush=True)
        found += rows
    stated = [row for row in found if row.band is not None]
    banded = {row.folder for row in stated}
    print(f"\n{len(banded)} of {len(met)} folders; {len(found) - len(stated)} numbers state no band")
    print("no band at all in: " + ", ".join(folder.name for folder in met if folder.name not in banded))
    score([row for row in stated if row.lawful], "that are mostly the spread of empirical laws")
    least = min(
        score([row for row in stated if not row.lawful], "of mesh, means and rays"), score(stated, "in all")
    )
    return 0 if least >= PROMISED else 1


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[2]))
    raise SystemExit(main(sys.argv[1:]))
