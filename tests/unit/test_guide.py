"""The guide: its links lead somewhere, its Python is sound for a type checker, its scripts run, its size keeps."""

import os
import re
import runpy
import subprocess
import sys
from pathlib import Path

import pytest

import joistbay
from sim.case.bay_case import Case
from tests.tiny_bays import QUICK

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", ROOT / "cases/README.md", *sorted((ROOT / "docs").glob("*.md"))]
SCRIPTS = sorted((ROOT / "docs/examples").glob("*.py"))


def anchors(page):
    """Anchors of the headings of a page."""
    heads = re.findall(r"^#+ (.+)$", page.read_text("utf-8"), re.M)
    return {re.sub(r"[^\w\- ]", "", head.lower()).replace(" ", "-") for head in heads}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.relative_to(ROOT).as_posix())
def test_links_lead_somewhere(page):
    links = re.findall(r"\]\(([^)]+)\)", page.read_text("utf-8"))
    assert links or page.parent.name != "docs" or page.stem == "air-mesh"
    for link in (link for link in links if "://" not in link):
        name, _, anchor = link.partition("#")
        target = (page.parent / name).resolve() if name else page
        assert target.exists(), link
        assert not anchor or anchor in anchors(target), link


def test_every_page_is_reached_from_the_readme():
    linked = {(ROOT / name).resolve() for name in re.findall(r"\]\((docs/[^)#]+)\)", PAGES[0].read_text("utf-8"))}
    for page in PAGES:
        linked |= {(page.parent / name).resolve() for name in re.findall(r"\]\(([\w-]+\.md)", page.read_text("utf-8"))}
    assert set((ROOT / "docs").glob("*.md")) <= linked


def test_the_readme_is_short_and_its_two_commands_stand_on_a_line_each():
    text = PAGES[0].read_text("utf-8")
    assert len(text.splitlines()) <= 200
    assert re.search(r"^python3 -m venv .* && pip install -q \.$", text, re.M)
    assert re.search(r"^pytest -n 2$", text, re.M)


STRICT = """
[[tool.mypy.overrides]]
module = [MODULES]
disallow_any_generics = true
disallow_subclassing_any = true
disallow_untyped_calls = true
disallow_untyped_defs = true
disallow_incomplete_defs = true
disallow_untyped_decorators = true
check_untyped_defs = true
implicit_reexport = false
strict_equality = true
extra_checks = true
warn_return_any = true
"""
"""What mypy calls strict, but for remarks on what is unused; for the guide's modules alone."""


def test_types_of_the_guides_python_are_sound(tmp_path):
    """mypy, strict, on the Python of README and guide and on the example scripts; what it knows of the package from
    its own run is taken as it is."""
    files = list(SCRIPTS)
    for page in (ROOT / "README.md", ROOT / "docs/python.md"):
        blocks = re.findall(r"```python\n(.*?)```", page.read_text("utf-8"), re.S)
        assert blocks, page
        for number, block in enumerate(blocks):
            files.append(tmp_path / f"{page.stem}_{number}.py".lower())
            files[-1].write_text(block, "utf-8")
    config = tmp_path / "pyproject.toml"
    modules = ", ".join(f'"{file.stem}"' for file in files)
    config.write_text((ROOT / "pyproject.toml").read_text("utf-8") + STRICT.replace("MODULES", modules), "utf-8")
    found = subprocess.run(
        [sys.executable, "-m", "mypy", "--config-file", str(config), *map(str, files)],
        capture_output=True, text=True, cwd=ROOT,
    )  # fmt: skip
    assert found.returncode == 0, found.stdout


@pytest.fixture
def in_a_hurry(tmp_path, monkeypatch):
    """An empty folder, whose script finds the cases of the program; meshes are coarse, and cells of air large."""
    monkeypatch.chdir(tmp_path)
    rough = {"air.cell": "0.1 m", "air.wall_cell": "0.05 m", "air.longest": "0.3 s", "air.frames": 0}

    def load(path):
        case = read(path)
        return case.with_(QUICK if isinstance(case, Case) else rough)

    read, lay_out = joistbay.load_case, joistbay.solve_house
    monkeypatch.setattr(joistbay, "load_case", load)
    monkeypatch.setattr(joistbay, "load_bay", load)
    monkeypatch.setattr(joistbay, "load_blocks", load)
    monkeypatch.setattr(joistbay, "solve_house", lambda house, **how: lay_out(house, fineness="coarse", **how))
    return tmp_path


@pytest.mark.parametrize(
    "script",
    [pytest.param(path, marks=pytest.mark.slow) if path.stem == "house" else path for path in SCRIPTS],
    ids=lambda path: path.stem,
)
def test_examples_run(script, in_a_hurry, capsys):
    """Each in an empty folder; pools need a main module, so they are left out here."""
    runpy.run_path(str(script), run_name="example")
    assert capsys.readouterr().out.strip()
    assert all(path.stat().st_size > 10_000 for path in in_a_hurry.glob("*.png"))
    assert (".savefig(" in script.read_text("utf-8")) == bool(list(in_a_hurry.glob("*.png")))


@pytest.mark.slow
@pytest.mark.parametrize("page", ["README.md", "docs/python.md"])
def test_python_on_a_page_runs(page, in_a_hurry, capsys):
    """As a notebook takes it in, with coarse meshes."""
    blocks = re.findall(r"```python\n(.*?)```", (ROOT / page).read_text("utf-8"), re.S)
    for block in blocks:
        exec(compile(block, page, "exec"), {"__name__": "notebook"})
    assert blocks and capsys.readouterr().out.strip()


@pytest.mark.slow
@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.stem)
def test_examples_run_as_a_reader_runs_them(script, tmp_path):
    """With their own meshes and pools, by the interpreter, in an empty folder."""
    found = subprocess.run(
        [sys.executable, str(script)], cwd=tmp_path, capture_output=True, text=True,
        env=dict(os.environ, PYTHONPATH=str(ROOT)),
    )  # fmt: skip
    assert found.returncode == 0, found.stderr
    assert found.stdout.strip() and "Traceback" not in found.stderr


def test_there_are_six_examples_and_the_guide_names_each():
    text = (ROOT / "docs/python.md").read_text("utf-8")
    assert len(SCRIPTS) == 6 and all(f"(examples/{script.name})" in text for script in SCRIPTS)
