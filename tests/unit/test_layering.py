"""The import graph: who may import whom, and where each library enters."""

import ast
import sys
from functools import cache

import pytest
from our_source import FILES, ROOT, shown, tree

ORDER = [
    "machine", "case", "physics", "bay", "airflow", "solver", "resolved", "store", "results", "build_up", "run", "jobs",
    "rules", "problems", "verify", "study", "lesson", "house", "explorer", "viz", "cli", "joistbay",
]
ANYWHERE = {"numpy", "scipy", "numba"}
HOMES = {
    "pydantic": "sim/case/",
    "pydantic_core": "sim/case/",
    "fluids": "sim/physics/tube.py",
    "ht": "sim/physics/tube.py",
    "cupy": "sim/airflow/device/seam.py",
    "meshio": "sim/results/export.py",
    "ezdxf": "viz/drawings/to_dxf.py",
    "aiohttp": "sim/explorer/server.py",
    "openpyxl": ("sim/case/spreadsheet_file.py", "sim/house/workbook.py"),
    "xarray": ("sim/store/", "sim/results/"),
    "h5py": "sim/store/netcdf.py",
    "pandas": ("sim/machine/notebook.py", "sim/results/report.py"),
    "tomli_w": "sim/case/writing.py",
    "threadpoolctl": "sim/machine/threads.py",
    "dask": "sim/jobs/cluster.py",
    "distributed": "sim/jobs/cluster.py",
    "cyclopts": "sim/cli/",
    "rich": "sim/cli/",
    "pyvista": "viz/",
    "vtkmodules": "viz/",
    "matplotlib": "viz/",
    "PIL": "viz/gif.py",
    "imageio_ffmpeg": "viz/movie.py",
}
"""Where each library may be imported; a file, a folder or several."""


def module_of(path):
    parts = list(path.relative_to(ROOT).with_suffix("").parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def layer_of(module):
    """Place of a module in the order; the door `sim` itself stands above all."""
    parts = module.split(".")
    name = parts[0] if parts[0] in ("viz", "joistbay") else parts[1] if len(parts) > 1 else "door"
    return ORDER.index(name) if name in ORDER else len(ORDER)


def is_type_checking(node):
    return isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"


def walk(node, *, types=True, bodies=True):
    """All nodes below one, with or without what only type checkers and what only function bodies see."""
    for child in ast.iter_child_nodes(node):
        if is_type_checking(child) and not types:
            continue
        if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda) and not bodies:
            continue
        yield child
        yield from walk(child, types=types, bodies=bodies)


@cache
def imports(path, *, types=True, bodies=True):
    """Names of the modules that a file imports."""
    found = set()
    for node in walk(tree(path), types=types, bodies=bodies):
        if isinstance(node, ast.Import):
            found |= {name.name for name in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{shown(path)}: relative import"
            below = {f"{node.module}.{name.name}" for name in node.names}
            found |= (below & known_modules()) or {node.module}
    return frozenset(found)


@cache
def known_modules():
    return frozenset(module_of(path) for path in FILES)


def ours(names):
    return {name for name in names if name.split(".")[0] in ("sim", "viz", "joistbay")}


def test_imports_go_one_way():
    wrong = [
        f"{shown(path)} imports {name}"
        for path in FILES
        for name in ours(imports(path))
        if layer_of(name) > layer_of(module_of(path))
    ]
    assert not wrong, "\n".join(wrong)


def test_pictures_read_results_only():
    """viz draws what results hold, where need be in a process of its own; it never computes physics."""
    wrong = [
        f"{shown(path)} imports {name}"
        for path in FILES
        if module_of(path).startswith("viz")
        for name in ours(imports(path))
        if name.startswith("sim") and ORDER[layer_of(name)] not in ("machine", "case", "store", "results")
    ]
    assert not wrong, "\n".join(wrong)


def test_only_the_command_line_draws():
    wrong = [
        f"{shown(path)} imports {name}"
        for path in FILES
        if not shown(path).startswith(("viz/", "sim/cli/", "joistbay/"))
        for name in imports(path)
        if name.split(".")[0] in ("viz", "pyvista", "vtkmodules", "matplotlib")
    ]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("folder", ["sim/physics/", "sim/airflow/", "sim/solver/multigrid"])
def test_kernels_know_no_case(folder):
    """They take arrays and plain values; constants and property tables of the case package are plain values."""
    plain = {"sim.case.constants", "sim.case.fluids"}
    wrong = [
        f"{shown(path)} imports {name}"
        for path in FILES
        if shown(path).startswith(folder)
        for name in ours(imports(path))
        if name.startswith("sim.case") and name not in plain
    ]
    assert not wrong, "\n".join(wrong)


def test_each_library_enters_in_its_place():
    """Annotations may name a library's types anywhere (behind TYPE_CHECKING): nothing is imported for them."""
    wrong = []
    for path in FILES:
        for library in {name.split(".")[0] for name in imports(path, types=False)}:
            if library in ANYWHERE | set(sys.stdlib_module_names) | {"sim", "viz", "joistbay"}:
                continue
            home = HOMES.get(library)
            if home is None or not shown(path).startswith(home):
                wrong.append(f"{shown(path)} imports {library}" + (f", at home in {home}" if home else ""))
    assert not wrong, "\n".join(wrong)


def asks_for_the_word(node):
    """Whether a comparison asks for the word that a file has for its kind of case."""
    sides = [node.left, *node.comparators] if isinstance(node, ast.Compare) else []
    words = {side.value for side in sides if isinstance(side, ast.Constant)}
    return any(ast.unparse(side).endswith(".kind") for side in sides) and bool(words & {"bay", "blocks", "house"})


def test_kinds_of_case_are_types():
    """What differs from kind to kind is asked of the case or of its problem, never of the word in its file."""
    wrong = [
        f"{shown(path)}:{node.lineno} {ast.unparse(node)}"
        for path in FILES
        for node in ast.walk(tree(path))
        if asks_for_the_word(node)
    ]
    assert not wrong, "\n".join(wrong)
    assert asks_for_the_word(ast.parse('case.kind != "bay"', mode="eval").body)


KNOW_CLASSES = ("sim/problems/", "sim/build_up.py")
"""Where kinds live: only there a case's class decides."""


def asks_for_the_class(node):
    """Whether a call asks which kind of case something is by its class."""
    asks = isinstance(node, ast.Call) and ast.unparse(node.func) == "isinstance" and len(node.args) == 2
    return asks and any(
        name.id in ("Case", "BlocksCase") for name in ast.walk(node.args[1]) if isinstance(name, ast.Name)
    )


def test_commands_ask_the_kind():
    """A new kind of case needs no edit of commands: they ask a case for its `joist_bay`, and its kind for the rest."""
    wrong = [
        f"{shown(path)}:{node.lineno} {ast.unparse(node)}"
        for path in FILES
        if not shown(path).startswith(KNOW_CLASSES)
        for node in ast.walk(tree(path))
        if asks_for_the_class(node)
    ]
    assert not wrong, "\n".join(wrong)
    for text in ("isinstance(case, Case)", "isinstance(x, (Case, BlocksCase))", "isinstance(x.case, Case | str)"):
        assert asks_for_the_class(ast.parse(text, mode="eval").body), text


def room_of(module):
    """The room of a module; empty for the doors, which stand above all."""
    parts = module.split(".")
    name = parts[0] if parts[0] in ("viz", "joistbay") else parts[1] if len(parts) > 1 else ""
    return name if name in ORDER else ""


def arrows_told():
    """Who imports whom, as the guide's table has it: lines of a room and the rooms that it knows."""
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8").partition("Room by room")[2].partition("Within a room too")[0]
    told, room = {}, ""
    for line in text.splitlines():
        words = line.replace(",", " ").split()
        if line.startswith("    ") and words:
            room, known = (room, words) if line.startswith("      ") else (words[0], words[1:])
            told.setdefault(room, set()).update(known)
    return told


def test_the_guide_tells_every_arrow():
    told = arrows_told()
    assert list(told) == ORDER[1:]
    new = {
        f"{ours_is} knows {other}: write it into the table of rooms in DEVELOPERS.md"
        for path in FILES
        for name in ours(imports(path)) & known_modules()
        if (ours_is := room_of(module_of(path))) and (other := room_of(name)) and ours_is != other
        if other not in told.get(ours_is, ())
    }
    assert not new, "\n".join(sorted(new))


def circle_in(graph):
    """One way that leads back to where it began, each module naming the next; empty where there is none."""
    done = set()

    def visit(module, trail):
        if module in trail:
            return [*trail[trail.index(module) :], module]
        if module not in done:
            for other in sorted(graph[module]):
                if found := visit(other, [*trail, module]):
                    return found
            done.add(module)
        return []

    return next((found for module in sorted(graph) if (found := visit(module, []))), [])


def test_no_circles():
    """The files of a room form layers: no import, in a function or for types neither, leads back to where it began."""
    graph = {module_of(path): ours(imports(path)) & known_modules() - {module_of(path)} for path in FILES}
    assert sum(map(len, graph.values())) > 1500
    found = circle_in(graph)
    assert not found, " -> ".join(found)


def test_circles_are_found():
    assert circle_in({"a": {"b"}, "b": {"c"}, "c": set()}) == []
    assert circle_in({"a": {"b"}, "b": {"c"}, "c": {"b"}}) == ["b", "c", "b"]


def test_the_checks_see_imports(tmp_path):
    """The reader of imports finds those at the top, in functions and behind TYPE_CHECKING, each when asked for."""
    file = tmp_path / "sample.py"
    top, hidden = "import numpy\n", "if TYPE_CHECKING:\n    import xarray\n"
    file.write_text(top + hidden + "def f():\n    from viz.layout import PictureSheet\n")
    assert imports(file) == {"numpy", "xarray", "viz.layout"}
    assert imports(file, types=False) == {"numpy", "viz.layout"}
    assert imports(file, types=False, bodies=False) == {"numpy"}
