"""One word for one thing: every label is held against the table of docs/glossary.md."""

import ast
import re
from pathlib import Path

import pytest
from our_source import tree

from sim.case.materials import load_materials
from sim.cli.show import console, plain_table, print_inset
from sim.results.lines import LINES
from sim.results.spelling import spelled

ROOT = Path(__file__).parents[2]
LABELLED = [
    *sorted((ROOT / "viz").glob("*.py")),
    *sorted((ROOT / "sim" / "cli").glob("*.py")),
    *sorted((ROOT / "sim" / "results").glob("*.py")),
    *sorted((ROOT / "sim" / "house").glob("*.py")),
    *sorted((ROOT / "sim" / "rules").glob("*.py")),
    *sorted((ROOT / "viz" / "report").glob("*.py")),
    *sorted((ROOT / "viz" / "drawings").glob("*.py")),
]
PROSE = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md")), *sorted((ROOT / "cases").rglob("*.toml"))]
READ = {"add_column", "PrintedColumn", "PageColumn", "each", "print", "paragraph", "set_ylabel", "set_xlabel"}
"""Calls whose texts a person reads as labels."""

PARTS_OF_KEYS = dict.fromkeys(("underfoot.py", "report_records.py", "foot.py", "answer.py", "maps.py"), ("trough",))
"""Texts that no person reads, as keys of reports are made of them."""


def table():
    """Word, keys and words to avoid of every row."""
    rows = []
    for line in (ROOT / "docs" / "glossary.md").read_text("utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if line.startswith("|") and len(cells) == 6 and cells[0] not in ("Word", "---"):
            rows.append((cells[0], cells[3], [word.strip() for word in cells[5].split(",")]))
    return rows


def texts_of(path):
    """Texts of labels in a file: arguments of the calls that print them, and values of tables of labels."""
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.Call) and getattr(node.func, "id", getattr(node.func, "attr", "")) in READ:
            yield from (n.value for a in node.args for n in ast.walk(a) if is_text(n))
        if isinstance(node, ast.Dict):
            yield from (n.value for n in [*node.keys, *node.values] if n is not None and is_text(n))
        if isinstance(node, ast.Tuple):
            yield from (n.value for n in node.elts if is_text(n))


def is_text(node):
    return isinstance(node, ast.Constant) and isinstance(node.value, str)


def faults(text):
    """Words that the glossary forbids in a label."""
    return [word for _, _, avoid in table() for word in avoid if re.search(rf"\b{re.escape(word)}\b", text)]


def test_the_table_is_read_and_forbids():
    assert len(table()) > 20
    assert faults("share lost below") == ["lost below", "share lost"]
    assert faults("floor, trough") == ["trough"]
    assert not faults("surface_trough_C")


def test_no_word_is_both_wanted_and_forbidden():
    wanted = [word for word, _, _ in table()]
    assert len(set(wanted)) == len(wanted)
    assert not [word for word in wanted if word in [avoid for _, _, a in table() for avoid in a]]


@pytest.mark.parametrize("path", LABELLED, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_labels_keep_to_the_glossary(path):
    parts = PARTS_OF_KEYS.get(path.name, ())
    wrong = [(text, faults(text)) for text in texts_of(path) if faults(text) and text not in parts]
    assert not wrong


@pytest.mark.parametrize("path", PROSE, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_guide_and_cases_keep_to_the_glossary(path):
    """What stands between backticks is a key or a command; "spread" and "downwards" are plain words in a sentence."""
    if path.stem == "glossary":
        return
    text = re.sub(r"`[^`]*`", "", path.read_text("utf-8"))
    assert not [(line, faults(line)) for line in text.splitlines() if set(faults(line)) - {"spread", "downwards"}]


def other_words():
    """Words of the second list, each by itself."""
    text = (ROOT / "docs" / "glossary.md").read_text("utf-8").partition("## Other words")[2]
    rows = [line.strip("|").split("|") for line in text.splitlines() if line.startswith("|")]
    return [word.strip() for row in rows if row[0].strip() not in ("Word", "---") for word in row[0].split(",")]


def test_the_other_words_are_met_somewhere_and_are_none_of_those_to_avoid():
    """In a text of the program, on a page of the guide or in a case that comes with it."""
    sources = [path for room in ("sim", "viz") for path in (ROOT / room).rglob("*.py")]
    pages = [path for path in PROSE if path.stem != "glossary"]
    met = " ".join(path.read_text("utf-8") for path in (*sources, *pages)).lower()
    words = other_words()
    assert len(words) > 70 and len(set(words)) == len(words)
    assert not set(words) & {word for word, _, _ in table()}
    assert not [word for word in words if word.lower() not in met or faults(word)]


def json_keys():
    """Keys that reports, houses, comparisons and searches are written with."""
    files = [*(ROOT / "sim" / "house").glob("*.py"), *(ROOT / "sim" / "study").glob("*.py")]
    for path in (*files, *(ROOT / "sim" / "results").glob("*.py")):
        for node in ast.walk(tree(path)):
            if isinstance(node, ast.Dict):
                yield from (key.value for key in node.keys if key is not None and is_text(key))
            if path.name == "lines.py" and isinstance(node, ast.Tuple) and node.elts and is_text(node.elts[0]):
                yield node.elts[0].value


def test_keys_of_json_keep_to_the_glossary_but_for_those_that_it_names():
    """Folders written before are read back, so three old words live on in keys, and the table says which they mean."""
    named = " ".join(keys for _, keys, _ in table())
    assert all(word in named for word in ("surface_peak_C", "surface_trough_C", "available_W"))
    old = {"trough", "available", "spread"}  # spread_percent: how far flows of one manifold lie apart
    assert {word for key in set(json_keys()) for word in faults(key.replace("_", " "))} <= old


def test_every_key_that_the_table_names_is_one():
    known = " ".join(json_keys()) + " ".join(path.read_text("utf-8") for path in (ROOT / "sim" / "case").glob("*.py"))
    for _, keys, _ in table():
        for key in re.findall(r"`([^`]+)`", keys):
            last = re.split(r"[.… =]", key.strip("…_"))[1 if "." in key else 0]
            assert last.strip("_") in known, key


def test_keys_of_the_table_are_those_of_reports():
    known = {key for lines in LINES.values() for key, _ in lines}
    for key in ("surface_peak_C", "surface_trough_C", "ripple_K", "share_down_percent", "heat_flow_down_W"):
        assert key in known
        assert any(key in keys for _, keys, _ in table())


def test_materials_cite_standards_and_handbooks():
    for material in load_materials().values():
        assert not re.search(r"\w+Lib\b|library|software|program", material.source, re.IGNORECASE), material.name


def test_the_terminal_spells_as_its_units_do_and_leaves_paths_alone(capsys, monkeypatch):
    """In sentences, in tables, and in the blocks that stand for tables too wide; columns stay straight."""
    for width in ("100", "24"):
        monkeypatch.setenv("COLUMNS", width)
        for units, wanted, other in (("ip", "aluminum", "aluminium"), ("si", "aluminium", "aluminum")):
            shown = plain_table()
            shown.add_column("colour")
            shown.add_column("a plate of which material", justify="right")
            shown.add_row("grey", "aluminium 3003")
            out = console(units)
            out.print(shown)
            out.print("Kept in runs/aluminium/centre", soft_wrap=True)
            print_inset(out, "an expansion vessel", 2)
            told = capsys.readouterr().out
            assert f"{wanted} 3003" in told and f"{other} 3003" not in told and "runs/aluminium/centre" in told
            assert ("expansion tank" in told) == (units == "ip")


def test_spelling_follows_the_units():
    assert spelled("aluminium 3003 in the centre", "ip") == "aluminum 3003 in the center"
    assert spelled("a diameter of fibreboard", "ip") == "a diameter of fiberboard"
    assert spelled("aluminium", "si") == "aluminium"
