"""Blocks or air alone side by side: every choice solved once, with a table of the numbers of all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import nan
from pathlib import Path
from typing import TYPE_CHECKING

from sim.machine.brief import small_tree, whole_tree
from sim.machine.notebook import card, frame, table
from sim.problems.kinds import AIR_ALONE, kind_of
from sim.results.air_covered import covered_alone, covered_among_solids
from sim.results.air_motion import air_headline
from sim.results.people import QUANTITIES, full_name, quantity, shown_value
from sim.store.run_folder import PICTURES_FOLDER, VERSIONS_FILE

if TYPE_CHECKING:
    import pandas

    from sim.case.load import AnyCase
    from sim.problems.at_rest import Solved

FIRST = 3
"""Numbers of a choice that a prompt shows."""

ENTRIES = tuple(f"{word}.{end}" for word in ("air", "blocks") for end in ("json", "csv"))
ENTRIES += ("choices", VERSIONS_FILE, PICTURES_FOLDER)
"""Everything that the folder of such a comparison holds."""


@dataclass(frozen=True, slots=True, repr=False)
class SideBySide:
    """Blocks or air alone, each choice solved once.

    Attributes
    ----------
    case : BlocksCase, or a case of another kind that is solved once
        The one that the choices start from.
    keys : tuple of str
        Dotted keys that set them apart; empty where whole cases are compared.
    runs : mapping of str to Result or AirRun
        What was found, by the name of the choice.
    """

    case: AnyCase
    keys: tuple[str, ...]
    runs: Mapping[str, Solved]

    @property
    def air_alone(self) -> bool:
        """Whether the choices are flows of air alone."""
        return AIR_ALONE.holds(self.case)

    @property
    def title(self) -> str:
        """The case's title; the names of all where whole cases are compared."""
        if not self.keys and len(self.runs) > 1:
            return " beside ".join(self.runs)
        return self.case.title or self.case.name

    @property
    def shown(self) -> list[str]:
        """Report keys that a table shows: of air Rayleigh number, heat and speed; of blocks those that differ."""
        reports = list(self.reports.values())
        if self.air_alone:
            return air_headline(reports[0])
        return [key for key in self._told(reports) if key not in self.alike]

    @property
    def alike(self) -> list[str]:
        """Report keys of blocks that have the same value in all choices; none where everything has."""
        reports = list(self.reports.values())
        told = [] if self.air_alone else self._told(reports)
        same = [key for key in told if len({f"{report.get(key, nan):.6g}" for report in reports}) == 1]
        return same if len(same) < len(told) else []

    @staticmethod
    def _told(reports: Sequence[Mapping[str, float]]) -> list[str]:
        """Keys of all reports in printing order, without those about the computation itself."""
        found = dict.fromkeys(key for report in reports for key in report)
        order = dict.fromkeys([*(key for key in QUANTITIES if key in found), *found])
        return [key for key in order if quantity(key).group != "Run"]

    @property
    def reports(self) -> dict[str, dict[str, float]]:
        """The report values of every choice by its name; keys end in their units."""
        return {name: run.report.as_dict() for name, run in self.runs.items()}

    def rows(self) -> list[dict[str, object]]:
        """The report of every choice, its name as "choice"; keys end in their units."""
        return [{"choice": name, **report} for name, report in self.reports.items()]

    @property
    def remarks(self) -> list[str]:
        """What ± of computed air holds and leaves out, said once for all choices of a kind."""
        covered = covered_alone if self.air_alone else covered_among_solids
        return list(dict.fromkeys(told for report in self.reports.values() for told in covered(report)[:1]))

    def as_dict(self) -> dict[str, object]:
        """Everything as plain values, ready for JSON."""
        told: dict[str, object] = {"case": self.case.name, "keys": list(self.keys), "choices": self.rows()}
        return told | ({"air_remarks": self.remarks} if self.remarks else {})

    def to_pandas(self) -> pandas.DataFrame:
        """A line a choice with every number of its report; keys end in units."""
        return frame(self.rows(), "choice")

    def __getitem__(self, name: str) -> Solved:
        """What was found of a choice."""
        if name not in self.runs:
            raise KeyError(f"{name}: no such choice; there are {', '.join(self.runs)}")
        return self.runs[name]

    @property
    def _head(self) -> str:
        return f"SideBySide {self.case.name}, {', '.join(self.keys) or 'cases'}"

    def _lines(self, most: int | None = None) -> list[tuple[str, str]]:
        keys = self.shown[:most]
        return [
            (name, ", ".join(f"{full_name(key)} {shown_value(report, key, 'si')}" for key in keys))
            for name, report in self.reports.items()
        ]

    def __repr__(self) -> str:
        return small_tree(self._head, self._lines(FIRST))

    def __str__(self) -> str:
        lines = [f"{name}: {text}" for name, text in self._lines()]
        return "\n".join([whole_tree(self._head, lines), *self.remarks])

    def _repr_html_(self) -> str:
        reports = self.reports.values()
        lines = [(full_name(key), *(shown_value(report, key, "si") for report in reports)) for key in self.shown]
        return card(self._head, table(lines, ("", *self.runs)))


def unlike(cases: Sequence[AnyCase]) -> str:
    """What is wrong with comparing some cases: that they are not of one kind; empty where they are.

    Some may be neither read nor changed by now: the text names the first one and the first that is of another kind.
    """
    first = cases[0]
    for case in cases[1:]:
        if kind_of(case) is not kind_of(first):
            kinds = f"{_place(first)} is {kind_of(first).word}, {_place(case)} {kind_of(case).word}"
            return f"{kinds}; only cases of one kind are compared"
    return ""


def _place(case: AnyCase) -> str:
    return case.path or case.name


def save_side_by_side(found: SideBySide, folder: str | Path) -> Path:
    """Write a comparison of blocks or of air alone: a table as JSON and CSV, and a run folder for each choice.

    Raises
    ------
    StoreError
        When it cannot be written, or holds something that is not such a comparison.
    """
    from sim.store.run_folder import versions
    from sim.store.tables import write_table
    from sim.store.texts import file_name, json_text
    from sim.store.whole_folder import write_folder

    word, save = "air" if found.air_alone else "blocks", kind_of(found.case).save

    def fill(place: Path) -> None:
        for number, (name, run) in enumerate(found.runs.items(), start=1):
            save(run, place / "choices" / f"{number}-{file_name(name)}")
        (place / f"{word}.json").write_text(json_text(found.as_dict()), encoding="utf-8")
        write_table(place / f"{word}.csv", found.rows())
        (place / VERSIONS_FILE).write_text(json_text(versions()), encoding="utf-8")

    return write_folder(folder, fill, owned=ENTRIES)
