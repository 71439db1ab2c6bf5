"""Public functions say what they take and give: no `Any` outside compiled kernels, nor behind a name of our own."""

import ast

import our_source
from our_source import ROOT

FILES = [path for path in our_source.FILES if our_source.shown(path).split("/")[0] != "viz"]

ALLOWED = {
    "a default stands where the value of its key will be, of whatever type": ("sim/case/fields.py worked_out key",),
    "a kind of problem, whichever: their parameters have no common bound": (
        "sim/problems/kinds.py kind_in_time kind_of kind_stated",
    ),
}
"""Why a public function may say `Any`, and which do. Nothing may be added without a reason of this kind."""


def is_kernel(function):
    return any("jit" in ast.unparse(d) or "compiled" in ast.unparse(d) for d in function.decorator_list)


def is_overload(node):
    return any(ast.unparse(each) == "overload" for each in getattr(node, "decorator_list", ()))


def annotations(function):
    found = function.args
    taken = (*found.posonlyargs, *found.args, *found.kwonlyargs, found.vararg, found.kwarg)
    return [part for part in (*(a.annotation for a in taken if a is not None), function.returns) if part is not None]


def names_in(node):
    return {each.id for each in ast.walk(node) if isinstance(each, ast.Name)}


def vague_names(trees):
    """For every file the names in it that stand for `Any`, or for something with `Any` in it."""
    vague, before = {path: {"Any"} for path in trees}, None
    while before != (before := sum(map(len, vague.values()))):
        for path, tree in trees.items():
            vague[path] |= {name for name, value in named_types(tree) if names_in(value) & vague[path]}
            for origin, name, own in imported(tree):
                vague[path] |= {own} if name in vague.get(origin, ()) else set()
    return vague


def named_types(tree):
    """Names of types at the top of a module, and what they stand for."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.Assign | ast.AnnAssign):
            continue
        if isinstance(node.value, ast.Subscript | ast.Name | ast.BinOp):
            target = node.targets[0] if isinstance(node, ast.Assign) else node.target
            if isinstance(target, ast.Name) and target.id[:1].isupper() and not target.id.isupper():
                yield target.id, node.value


def imported(tree):
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            origin = ROOT.joinpath(*node.module.split(".")).with_suffix(".py")
            yield from ((origin, each.name, each.asname or each.name) for each in node.names)


def public_functions(node, prefix=""):
    """All of them; of overloaded ones what they say of themselves, and not the body behind them."""
    overloaded = {child.name for child in node.body if is_overload(child)}
    for child in node.body:
        if getattr(child, "name", "_").startswith("_") or (child.name in overloaded and not is_overload(child)):
            continue
        if isinstance(child, ast.ClassDef):
            yield from public_functions(child, f"{child.name}.")
        elif isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef) and not is_kernel(child):
            yield prefix + child.name, child


def vague_functions(trees):
    vague = vague_names(trees)
    for path, tree in trees.items():
        for name, function in public_functions(tree):
            if any(names_in(part) & vague[path] for part in annotations(function)):
                yield path, name


def test_public_functions_have_real_types():
    trees = {path: our_source.tree(path) for path in FILES}
    found = {f"{path.relative_to(ROOT).as_posix()} {name}" for path, name in vague_functions(trees)}
    lines = [line.split() for files in ALLOWED.values() for line in files]
    allowed = {f"{file} {name}" for file, *names in lines for name in names}
    assert found <= allowed, f"say what it is: {sorted(found - allowed)}"
    assert allowed <= found, f"no longer needed, take it off the list: {sorted(allowed - found)}"


def test_the_scan_sees_any():
    text = "def f(a: Any): ...\ndef _g(a: Any): ...\n@njit\ndef h(a: Any): ...\n"
    text += "class K:\n    def m(self) -> list[Any]: ...\n"
    text += "Values = dict[str, Any]\nMany = list[Values]\nWhole = list[int]\n"
    text += "def many(a: Many): ...\ndef whole(a: Whole): ...\n"
    text += "@overload\ndef either(a: int): ...\n@overload\ndef either(a: Any): ...\ndef either(a: object): ..."
    there = ast.parse("from sim.here import Many as Lots\ndef lots() -> Lots: ...")
    here = ROOT / "sim" / "here.py"
    found = vague_functions({here: ast.parse(text), ROOT / "sim" / "there.py": there})
    assert [name for _, name in found] == ["f", "K.m", "many", "either", "lots"]
