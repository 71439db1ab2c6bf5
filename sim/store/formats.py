"""The form of run folders: its number, and how folders of older forms are read.

Form 1 is the first one that is numbered; folders without a number, written before, hold the same files with the same
meaning and count as form 0. Whoever renames a report key, a field or a file adds one to `FORM` and a step here that
makes the older values into those of today; samples in `tests/data/samples` keep every form readable.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

FORM = 1
"""The form that this program writes, kept in versions.json as "form"."""

Values = dict[str, float | None]
Step = Callable[[Values], Values]

STEPS: Mapping[int, Step] = {0: dict}
"""From a form to the next one: what becomes of a report."""


def form_of(versions: Mapping[str, object]) -> int:
    """The form that a folder says it has.

    Raises
    ------
    ValueError : it is no form, or one that only a later version of the program reads.
    """
    stated = str(versions.get("form", "0"))
    if not stated.isdecimal():
        raise ValueError(f'versions.json: form "{stated[:20]}" is no whole number')
    if int(stated) > FORM:
        raise ValueError(f"written by a later joistbay (form {stated}, this one reads up to {FORM}); update joistbay")
    return int(stated)


def to_this_form(report: Values, form: int) -> Values:
    """A report of some form as one of today."""
    for step in range(form, FORM):
        report = STEPS[step](report)
    return report
