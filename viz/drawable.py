"""Whatever can be drawn: a choice as commands name it, a result in memory, the folder of a run."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, Concatenate, ParamSpec, Protocol, TypeVar

from sim.results.people import Units
from sim.results.spacing_names import spacing_name
from viz.choice import Choice

if TYPE_CHECKING:
    import xarray

    from sim.case.load import AnyCase
    from sim.results.report import Report

P = ParamSpec("P")
Drawn = TypeVar("Drawn")


class Solved(Protocol):
    """What a solve gives, or what is read from a run folder."""

    @property
    def case(self) -> Any:
        """The case that was solved."""

    @property
    def report(self) -> Report:
        """Its numbers."""

    @property
    def fields(self) -> xarray.Dataset:
        """Its fields [SI, K]."""


class Followed(Protocol):
    """What following a bay in time gives."""

    @property
    def case(self) -> Any:
        """The case that was followed."""

    @property
    def report(self) -> Report:
        """Its numbers."""

    @property
    def series(self) -> xarray.Dataset:
        """Its series over time [SI, K]."""


class Compared(Protocol):
    """A comparison; its choices are drawn as they are at equal water."""

    @property
    def choices(self) -> Sequence[Any]:
        """Each with `name` and `at_water`."""


Drawable = Choice | Solved | Followed | str | Path
"""One thing that can be drawn; a text or a path names the folder of a run."""


def takes_result(draw: Callable[Concatenate[Choice, P], Drawn]) -> Callable[Concatenate[Drawable, P], Drawn]:
    """A function that draws one choice, made to take all that can be drawn."""

    @wraps(draw)
    def drawing(source: Drawable, /, *arguments: P.args, **style: P.kwargs) -> Drawn:
        return draw(choice_of(source), *arguments, **style)

    return drawing


def takes_results(
    draw: Callable[Concatenate[Sequence[Choice], P], Drawn],
) -> Callable[Concatenate[Compared | Drawable | Sequence[Drawable], P], Drawn]:
    """A function that draws several choices, made to take all that can be drawn, one or several, or a comparison."""

    @wraps(draw)
    def drawing(
        sources: Compared | Drawable | Sequence[Drawable], /, *arguments: P.args, **style: P.kwargs
    ) -> Drawn:
        return draw(_choices_of(sources), *arguments, **style)

    return drawing


def choice_of(source: Drawable, name: str | None = None) -> Choice:
    """What a picture is drawn from.

    Raises
    ------
    StoreError : a folder holds no run.
    TypeError : it cannot be drawn.
    """
    if isinstance(source, Choice):
        return source
    if isinstance(source, str | Path):
        from sim.results.stored import read_kept

        return choice_of(read_kept(source), name)
    found = getattr(source, "fields", None)
    fields = getattr(source, "series", None) if found is None else found
    if fields is None:
        raise TypeError(f"a result or the folder of a run is wanted, not {type(source).__name__}")
    title = source.case.title or source.case.name
    return Choice(own_name(source.case) if name is None else name, fields, source.report.as_dict(), title)


def own_name(case: AnyCase, units: Units = "si") -> str:
    """What sets a bay apart, in millimetres or in inches; nothing for other cases."""
    bay = case.joist_bay
    if bay is None:
        return ""
    return spacing_name(bay.plates.spacing if bay.plates else None, units)


def _choices_of(sources: Any) -> list[Choice]:
    """Everything that is to be drawn, in order."""
    if hasattr(sources, "choices"):
        return [choice_of(each.at_water, each.name) for each in sources.choices if each.at_water is not None]
    alone = isinstance(sources, Choice | str | Path) or not isinstance(sources, Iterable)
    return [choice_of(source) for source in ([sources] if alone else sources)]
