"""What the keys of a whole case have in common, and who reads those that not every case uses.

The keys of each kind of case are a class of their own (`BayKeys`, `BlocksKeys`): rules, the writer and the tree read
them; the case itself (`Case`, `BlocksCase`) joins keys, rules and what can be done with a case (`WholeCase`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sim.case.section import Section


@dataclass(frozen=True, slots=True)
class KeyReader:
    """Who reads some keys of one section.

    Attributes
    ----------
    section : str
        With dots, such as "cavity.insulation".
    keys : tuple of str
    who : str
        Who reads them, in the words of the file.
    reads : callable
        Whether a case has that reader.
    kept : bool
        Whether they may stay while nobody reads them.
    """

    section: str
    keys: tuple[str, ...]
    who: str
    reads: Callable[[Any], bool]
    kept: bool = False


class CaseKeys(Section):
    """The keys of a whole case; SI and kelvin throughout."""

    if TYPE_CHECKING:  # each kind of case says where among its keys they stand
        name: str
        path: str | None
        title: str

    @property
    def air_alone(self) -> bool:
        """Whether only the flow of the air is computed: no solid conducts, no water flows."""
        return False

    @property
    def listed_spacings(self) -> tuple[float | None, ...]:
        """Plate spacings that its file lists to be compared [m], None for no plates; of bays alone."""
        return ()

    @property
    def named_files(self) -> dict[str, str | None]:
        """By dotted key the files and run folders beside it that it names, which its results rest on."""
        return {}

    @property
    def readers(self) -> tuple[KeyReader, ...]:
        """Who reads keys that not every case uses."""
        raise NotImplementedError

    @property
    def usual_values(self) -> dict[str, float]:
        """By dotted key what stands for keys that are left out and follow from others, in SI."""
        raise NotImplementedError
