"""What lies in a place that was named, where a command wanted the folder of a run, and the way out."""

from __future__ import annotations

from pathlib import Path
from shlex import quote

_MAKERS = "joistbay run, compare or warmup"
_MAKERS_OF_PAGES = "joistbay run, compare, study or warmup"


def no_folder(place: Path, command: str) -> str:
    """Of a place that is no folder: a case file that is still to be solved, another file, or nothing."""
    makers = _MAKERS_OF_PAGES if command == "report" else _MAKERS
    if not place.exists():
        return f"no such folder; name one that {makers} has made"
    if place.suffix == ".toml":
        run = f"joistbay run {quote(str(place))}"
        return f"is a case file, nothing is solved yet; {run} makes a folder for joistbay {command}"
    if (place.parent / "report.json").is_file():
        return f"is a file of a run; name its folder, {place.parent}"
    return f"is a file; name a folder that {makers} has made"


def no_run(folder: Path, command: str) -> str:
    """Of a folder that a command cannot take: which of the folders in it, or beside it, it would take."""
    from sim.store.house_file import HOUSE_FILE
    from sim.store.run_folder import missing_of_run
    from sim.study.save_comparison import COMPARISON_FILE

    within = _runs_in(folder)
    if (folder / HOUSE_FILE).is_file():
        return "is a house, which has its page already, house.html; its own bays are no runs"
    if (folder / "study.json").is_file():
        return "is a study, which keeps no temperatures: its page is report.html, its numbers are in study.json and CSV"
    if (folder / "lesson.json").is_file():
        which = f"; name one of its runs, such as {within[0]}" if within else ""
        return f"is a lesson, which has its pages already, worksheet.html and key.html{which}"
    if (folder / "air.json").is_file() and within:
        return f"is a comparison of air alone, whose picture is in pictures; name one of its runs, such as {within[0]}"
    if (folder / COMPARISON_FILE).is_file():
        which = f"; name one of its runs, such as {within[0]}" if within else ""
        return f"is a comparison{which}"
    if within:
        more = "" if len(within) == 1 else f" and {len(within) - 1} more"
        return f"is no run itself but holds some; name one, such as {within[0]}{more}"
    lacking = missing_of_run(folder)
    if len(lacking) < 3:
        return f"is a run that lacks {' and '.join(lacking)}; solve its case anew"
    return f"holds no run, comparison or warm-up; name a folder that {_MAKERS} has made"


def _runs_in(folder: Path) -> list[Path]:
    """Runs in a folder, or in the folders of a comparison."""
    from sim.store.run_folder import is_run

    homes = [folder / "equal_water", folder / "equal_heat", folder / "choices", folder / "cases", folder]
    return [place for home in homes if home.is_dir() for place in sorted(home.iterdir()) if is_run(place)]
