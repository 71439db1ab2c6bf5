"""The last sections of a house page: the sheet to fill in on the site, and the cautions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from viz.page_parts import PageColumn, PageReader, blank, paragraph, section, table

Values = Mapping[str, Any]


def commissioning_sheet(record: Values, reader: PageReader) -> str:
    """Pressure test, purging, balancing, readings: boxes to tick and lines to fill in."""
    test = record["pressure_test"]
    pressure, design = (reader.value("p_bar", test[which]) for which in ("pressure_bar", "design_bar"))
    return section(
        "commissioning",
        "Commissioning sheet",
        paragraph("To be filled in on the site and left with the house. Local code and makers may ask for more."),
        "<h3>Before the bays are closed</h3>",
        _todo(
            "Wiring, water and gas pipes in the bays found and marked; circuits switched off before boring",
            "Holes and notches as the code allows; fire blocking and draft stops whole again",
            "Nail points from above clipped; plates tight, tube free to grow at its ends, nothing rubs",
            "Aluminium kept off treated lumber and wet cement",
            f"Pressure test at {pressure} or more, {test['minutes']} minutes or more (and no less than 1.5 times the "
            f"design pressure, taken as {design}); with air only where code and maker allow, low pressure first",
        ),
        _blanks(("pressure at the start", False), ("at the end", False), ("minutes", False), ("date, name", True)),
        _todo(
            "Insulation in place at its height and held; rim pieces sealed",
            "Tube kept under pressure while floors are nailed; photographs and this plan kept",
        ),
        "<h3>Filling, purging, balancing</h3>",
        _todo(
            "Each circuit filled and purged by itself, the others shut, until no air comes",
            "Static pressure set; expansion vessel, relief valve and high limit checked",
            "Flows set to the table below with all circuits open, then read again",
            "Curve of the control set, with its upper limit; mixed water read after an hour",
            f"First heating up slow: floor no more than {reader.value('d_K', 3.0)} warmer a day under wood or vinyl "
            "(common practice, no source)",
        ),
        _blanks(("static pressure", False), ("water, inhibitor", True), ("high limit set to", False)),
        "<h3>Readings</h3>",
        _readings(record, reader),
        _blanks(("outdoors", False), ("pump setting", False), ("date, name", True)),
        kind="sheet",
        on_phones=True,
    )


def _todo(*texts: str) -> str:
    """Boxes to tick."""
    return f'<ul class="todo">{"".join(f"<li>{escape(text)}</li>" for text in texts)}</ul>'


def _blanks(*asked: tuple[str, bool]) -> str:
    """Words with lines to write on."""
    return f'<p class="fill">{" ".join(f"<span>{escape(words)} {blank(wide)}</span>" for words, wide in asked)}</p>'


def _readings(record: Values, reader: PageReader) -> str:
    """Targets of every circuit for each source, and lines for what is read."""
    layouts = record["layouts"]
    flows = {layout["source"]: {row["circuit"]: row for row in layout["circuits"]} for layout in layouts}
    names = list(dict.fromkeys(row["circuit"] for layout in layouts for row in layout["circuits"]))
    rows = [
        {"circuit": name, "length_m": next(rows[name]["length_m"] for rows in flows.values() if name in rows)}
        | {f"{source}_l_min": rows[name]["flow_l_min"] for source, rows in flows.items() if name in rows}
        for name in names
    ]
    columns = (
        PageColumn("circuit", "circuit", plain=True),
        PageColumn("length_m", "length"),
        *(PageColumn(f"{source}_l_min", f"flow, {source}") for source in flows),
        *(PageColumn(word, word, plain=True, cell=_line) for word in ("flow read", "valve at", "supply", "return")),
    )
    return table(columns, rows, reader)


def _line(row: Values) -> str:
    return blank()


def cautions_section(record: Values, reader: PageReader) -> str:
    """Everything to mind, once for all heat sources: the numbers are those of the worst."""
    told = "".join(_caution(caution, sources, reader) for caution, sources in _gathered(record["layouts"], reader))
    words = f"{record['ask']} Numbers are those of the worst case of all heat sources."
    return section("cautions", "Cautions", paragraph(words), f"<div>{told}</div>", kind="sheet")


def _gathered(layouts: Sequence[Values], reader: PageReader) -> list[tuple[Values, list[str]]]:
    """Cautions of all layouts by subject and limit: the worst, whom it is about, and for which sources if not all."""
    found: dict[tuple[str, float], list[tuple[str, Values]]] = {}
    for layout in layouts:
        for caution in layout["cautions"][reader.units]:
            found.setdefault((caution["subject"], caution["limit"]), []).append((layout["source"], caution))
    gathered = []
    for group in found.values():
        worst = max((told for _, told in group), key=lambda told: (told["broken"], abs(told["value"] - told["limit"])))
        about = list(dict.fromkeys(name for _, told in group for name in told["about"]))
        sources = list(dict.fromkeys(source for source, _ in group))
        gathered.append((dict(worst) | {"about": about}, [] if len(sources) == len(layouts) else sources))
    subjects = [row[0]["subject"] for row in gathered]
    return sorted(gathered, key=lambda row: (not row[0]["broken"], subjects.index(row[0]["subject"])))


def _caution(caution: Values, sources: Sequence[str], reader: PageReader) -> str:
    """One caution with what it is about and who says so."""
    badge = '<span class="badge">not kept</span>' if caution["broken"] else ""
    about = ", ".join(caution["about"])
    if sources and list(sources) != list(caution["about"]):
        about += f", with {' and '.join(sources)}"
    kind = "caution broken" if caution["broken"] else "caution"
    return (
        f'<div class="{kind}">{badge}<b>{escape(caution["subject"])}</b>{escape(reader.sentence(caution["text"]))}'
        f"<small>{escape(about)} · {escape(caution['source'])}</small></div>"
    )
