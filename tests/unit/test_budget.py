"""Small files, short functions, no leftovers: limits of the project's style, held by reading the source."""

import ast
import io
import re
import tokenize
from collections import defaultdict
from functools import cache
from statistics import median

import pytest
from our_source import FILES, ROOT, shown, tree

FILE_LINES, BODY_LINES, MEDIAN_BODY, PARAMETERS = 400, 60, 8, 8
FUNCTIONS = ast.FunctionDef | ast.AsyncFunctionDef
AT_THE_DOOR = ("sim/cli/", "sim/__main__.py", "joistbay/__main__.py", "sim/machine/helpers.py")
"""What may print and exit: the commands; and processes that help them exit."""


@cache
def nodes(path):
    return list(ast.walk(tree(path)))


@cache
def functions(path):
    return [node for node in nodes(path) if isinstance(node, FUNCTIONS)]


def body_lines(function):
    """Lines of a function without its signature and docstring."""
    body = function.body[1:] if ast.get_docstring(function) is not None else function.body
    return body[-1].end_lineno - body[0].lineno + 1 if body else 0


def parameters(function):
    """How many parameters a caller has to know."""
    found = function.args
    names = [a.arg for a in (*found.posonlyargs, *found.args, *found.kwonlyargs)]
    return sum(name not in ("self", "cls") for name in names) + bool(found.vararg) + bool(found.kwarg)


def is_kernel(function):
    """Whether a function is compiled: kernels take their arrays one by one."""
    return any("njit" in ast.unparse(decorator) for decorator in function.decorator_list)


def public_parts(node, prefix=""):
    """Public classes, functions and methods, as (name, node)."""
    for child in node.body:
        if isinstance(child, (*FUNCTIONS.__args__, ast.ClassDef)) and not child.name.startswith("_"):
            yield prefix + child.name, child
            if isinstance(child, ast.ClassDef):
                yield from public_parts(child, f"{child.name}.")


def is_overload(node):
    """Whether a function only says one of the types of another, which explains itself."""
    return any(isinstance(mark, ast.Name) and mark.id == "overload" for mark in getattr(node, "decorator_list", ()))


def is_code(comment):
    """Whether a comment reads as a statement that does something."""
    try:
        statements = ast.parse(comment).body
    except SyntaxError:
        return False
    doing = (ast.Assign, ast.AugAssign, ast.Import, ast.ImportFrom, ast.Return, ast.Raise, ast.Delete)
    return any(
        isinstance(node, doing)
        or (isinstance(node, ast.AnnAssign) and node.value is not None)
        or (isinstance(node, ast.Expr) and isinstance(node.value, ast.Call | ast.Await | ast.Yield))
        for node in statements
    )


def comments(path):
    text = io.StringIO(path.read_text("utf-8"))
    for token in tokenize.generate_tokens(text.readline):
        if token.type == tokenize.COMMENT:
            yield token.start[0], token.string.lstrip("#: ").strip()


def listed(wrong):
    assert not wrong, "\n".join(wrong)


def test_files_are_short():
    lengths = {shown(path): len(path.read_text("utf-8").splitlines()) for path in FILES}
    listed([f"{name}: {count} lines, at most {FILE_LINES}" for name, count in lengths.items() if count > FILE_LINES])


def test_functions_are_short():
    listed(
        [
            f"{shown(path)}:{function.lineno} {function.name}: {body_lines(function)} lines, at most {BODY_LINES}"
            for path in FILES
            for function in functions(path)
            if body_lines(function) > BODY_LINES
        ]
    )


def test_most_functions_are_very_short():
    lengths = [body_lines(function) for path in FILES for function in functions(path)]
    assert median(lengths) <= MEDIAN_BODY


def test_signatures_are_short():
    listed(
        [
            f"{shown(path)}:{function.lineno} {function.name}: {parameters(function)} parameters"
            for path in FILES
            for function in functions(path)
            if parameters(function) > PARAMETERS
        ]
    )


def test_public_names_are_explained():
    wrong = [
        f"{shown(path)}:{node.lineno} {name} has no docstring"
        for path in FILES
        for name, node in public_parts(tree(path))
        if not ast.get_docstring(node) and not is_overload(node)
    ]
    wrong += [
        f"{shown(path)} has no docstring" for path in FILES if not ast.get_docstring(tree(path))
    ]
    listed(wrong)


PHYSICAL = ("physics", "bay", "solver", "airflow", "resolved", "house", "results", "rules", "problems", "study")
PLAIN_NUMBER = re.compile(r"\b(float|Array|NDArray|ndarray)\b")
KEYED = re.compile(r"(Mapping|dict)\[.*\]|Callable\[.*\]")
"""Numbers whose keys end in their units, and functions, which say it themselves."""
UNIT_OR_SHAPE = re.compile(
    r"\[[^\]]+\]|\([a-z]+(, ?[a-z0-9]+)*,?\)|%|0 to 1|R²"
    r"|\b(SI|units?|dimensionless|shares?|fractions?|ratios?|factors?|weights?|orders?|percent|COP)\b"
    r"|\b(Nusselt|Prandtl|Rayleigh)\b",
    re.IGNORECASE,
)


def bare_numbers(function):
    """Whether a function takes or gives numbers that nothing but its docstring explains."""
    known = function.args
    said = [a.annotation for a in (*known.posonlyargs, *known.args, *known.kwonlyargs)] + [function.returns]
    return any(PLAIN_NUMBER.search(KEYED.sub("", ast.unparse(one))) for one in said if one is not None)


def test_numbers_have_a_unit_or_a_shape():
    """A public function with numbers says what they are in, or that they have no dimension."""
    asked = [
        (path, node)
        for path in FILES
        if path.relative_to(ROOT).parts[:1] == ("sim",) and path.relative_to(ROOT).parts[1] in PHYSICAL
        for name, node in public_parts(tree(path))
        if "." not in name and isinstance(node, FUNCTIONS) and bare_numbers(node)
    ]
    assert len(asked) > 250
    silent = [(path, node) for path, node in asked if not UNIT_OR_SHAPE.search(ast.get_docstring(node) or "")]
    listed([f"{shown(path)}:{node.lineno} {node.name}: no unit and no shape" for path, node in silent])


@pytest.mark.parametrize(
    ("text", "asks", "told"),
    [
        ('def f(width: float):\n    """How wide."""', True, False),
        ('def f(width: float):\n    """How wide [m]."""', True, True),
        ('def f() -> Array:\n    """Of every cell (nx, ny, nz)."""', True, True),
        ('def f(report: Mapping[str, float]) -> str:\n    """In words."""', False, False),
    ],
)
def test_a_number_without_its_unit_is_seen(text, asks, told):
    function = ast.parse(text).body[0]
    assert bare_numbers(function) is asks
    assert bool(UNIT_OR_SHAPE.search(ast.get_docstring(function))) is told


def test_every_class_has_a_name_of_its_own():
    """A name that means two things is looked up in the wrong file."""
    places = defaultdict(list)
    for path in FILES:
        for node in nodes(path):
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                places[node.name].append(f"{shown(path)}:{node.lineno}")
    assert len(places) > 300
    listed([f"{name}: {', '.join(found)}" for name, found in places.items() if len(found) > 1])


def test_no_code_is_commented_out():
    listed([f"{shown(path)}:{line} {text}" for path in FILES for line, text in comments(path) if is_code(text)])


@pytest.mark.parametrize(
    ("text", "code"),
    [("x = solve(case)", True), ("print(x)", True), ("why: the plate is thin", False), ("rows, then columns", False)],
)
def test_code_in_comments_is_recognised(text, code):
    assert is_code(text) == code


def calls(path):
    for node in nodes(path):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name | ast.Attribute):
            yield node.lineno, ast.unparse(node.func)
        elif isinstance(node, ast.Raise) and node.exc is not None and "SystemExit" in ast.unparse(node.exc):
            yield node.lineno, "SystemExit"


def test_only_the_command_line_prints_and_exits():
    ends = ("print", "sys.exit", "exit", "quit", "os._exit", "SystemExit")
    listed(
        [
            f"{shown(path)}:{line} {name}"
            for path in FILES
            if not shown(path).startswith(AT_THE_DOOR)
            for line, name in calls(path)
            if name in ends
        ]
    )
