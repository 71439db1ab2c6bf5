"""Public functions say what they take and give: no `Any` outside compiled kernels, but for a list that only shrinks."""

import ast
from pathlib import Path

ROOT = Path(__file__).parents[2]
FILES = sorted(ROOT.glob("sim/**/*.py"))

ALLOWED = {
    "arrays of an accelerator, which are those of whichever library there is": (
        "airflow/device/flows.py FlowBatch.field_of",
        "airflow/device/products.py Products.rotate Products.sample",
        "airflow/device/seam.py Backend.kernel_view Backend.cells Backend.faces Backend.each Backend.rotate "
        "Backend.sample Backend.to_host Rehearsal.kernel_view Rehearsal.cells Rehearsal.faces Rehearsal.each "
        "Rehearsal.rotate Rehearsal.sample Rehearsal.to_host Accelerator.kernel_view Accelerator.cells "
        "Accelerator.faces Accelerator.each Accelerator.rotate Accelerator.sample Accelerator.to_host bind",
    ),
    "arguments and answers of kernels": (
        "airflow/domain.py axis_slice",
        "airflow/pressure.py build_pressure",
        "airflow/subgrid.py Subgrid.apply",
        "machine/threads.py share_loop",
        "machine/compiling.py njit",
    ),
    "either of two steppers, on the processor or a device": (
        "airflow/box.py stepper_maker",
        "resolved/march.py lay_out",
    ),
    "results, what was harvested of them, or exceptions in their place": (
        "house/bays_together.py answers_together",
        "study/many.py solve_many",
        "study/together.py pursue",
        "study/compare.py Comparison.rows",
        "study/side_by_side.py SideBySide.rows",
    ),
    "values of a schema before it is checked": (
        "case/control.py Spot.read Spot.write",
        "case/fields.py worked_out key",
        "case/materials.py read_row",
    ),
    "JSON that was read": (
        "physics/learned_films.py law_from learned_data",
        "resolved/calibration.py FilmRow.from_dict Calibration.from_dict",
        "results/house_words.py in_words weather_words",
        "solver/checkpoint_file.py read_checkpoint_file",
    ),
    "a library that may be missing, as a module": ("machine/notebook.py library_pandas",),
    "a kind of problem, whichever: their parameters have no common bound": ("problems/kinds.py kind_of kind_stated",),
    "what a library's method of that name takes": ("cli/sheet.py WholeConsole.render_str WholeConsole.print",),
}
"""Why a public function may say `Any`, and which do. Nothing may be added without a reason of this kind."""


def is_kernel(function):
    return any("jit" in ast.unparse(d) or "compiled" in ast.unparse(d) for d in function.decorator_list)


def annotations(function):
    found = function.args
    taken = (*found.posonlyargs, *found.args, *found.kwonlyargs, found.vararg, found.kwarg)
    return [part for part in (*(a.annotation for a in taken if a is not None), function.returns) if part is not None]


def says_any(function):
    return any(isinstance(n, ast.Name) and n.id == "Any" for part in annotations(function) for n in ast.walk(part))


def public_functions(node, prefix=""):
    for child in node.body:
        if getattr(child, "name", "_").startswith("_"):
            continue
        if isinstance(child, ast.ClassDef):
            yield from public_functions(child, f"{child.name}.")
        elif isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef) and not is_kernel(child):
            yield prefix + child.name, child


def test_public_functions_have_real_types():
    found = {
        f"{path.relative_to(ROOT / 'sim').as_posix()} {name}"
        for path in FILES
        for name, function in public_functions(ast.parse(path.read_text("utf-8")))
        if says_any(function)
    }
    lines = [line.split() for files in ALLOWED.values() for line in files]
    allowed = {f"{file} {name}" for file, *names in lines for name in names}
    assert found <= allowed, f"say what it is: {sorted(found - allowed)}"
    assert allowed <= found, f"no longer needed, take it off the list: {sorted(allowed - found)}"


def test_the_scan_sees_any():
    text = "def f(a: Any): ...\ndef _g(a: Any): ...\n@njit\ndef h(a: Any): ...\n"
    text += "class K:\n    def m(self) -> list[Any]: ..."
    assert [name for name, function in public_functions(ast.parse(text)) if says_any(function)] == ["f", "K.m"]
