"""Single errors that may be planted in a source file: one operator, constant, comparison, sign, order or term each.

Messages, annotations and decorators are left alone: nobody computes with them.
"""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult, ast.FloorDiv: ast.Div,
    ast.Mod: ast.FloorDiv, ast.BitOr: ast.BitAnd, ast.BitAnd: ast.BitOr,
}  # fmt: skip
COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.Gt), ast.LtE: (ast.Lt, ast.GtE), ast.Gt: (ast.GtE, ast.Lt), ast.GtE: (ast.Gt, ast.LtE),
    ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.Is: (ast.IsNot,), ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,), ast.NotIn: (ast.In,),
}  # fmt: skip
NAMES = {
    "min": "max", "minimum": "maximum", "floor": "ceil", "sin": "cos", "sinh": "cosh", "any": "all", "argmin": "argmax",
    "zeros": "ones", "exp": "expm1", "log": "log1p",
}  # fmt: skip

WORDS = (ast.Raise, ast.JoinedStr, ast.Import, ast.ImportFrom)
NAMES |= {new: old for old, new in NAMES.items()}


@dataclass(frozen=True)
class Mutant:
    """One error: where it stands (file relative to the tree, line, bytes from and to in the file), and the change."""

    file: str
    line: int
    start: int
    stop: int
    kind: str
    old: str
    new: str
    function: str

    @property
    def key(self) -> str:
        return f"{self.file}:{self.line}:{self.start}-{self.stop}:{self.kind}:{self.new}"

    def plant(self, source: str) -> str:
        """The source with this error in it."""
        data = source.encode()
        assert data[self.start : self.stop].decode() == self.old, f"{self.key}: the source has changed"
        return (data[: self.start] + self._in_place().encode() + data[self.stop :]).decode()

    def _in_place(self) -> str:
        """What is written, over as many lines as before, so that all that follows stays on its line."""
        lost = "\n" * (self.old.count("\n") - self.new.count("\n"))
        return f"{self.new[:-1]}{lost})" if self.new.endswith(")") else f"{self.new}{lost}"


def mutants_of(root: Path, file: str) -> list[Mutant]:
    """Every error that may be planted in a file, in the order of the source."""
    source = (root / file).read_text("utf-8")
    starts = [0]
    for line in source.encode().splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    found: dict[str, Mutant] = {}
    for node, function in _looked_at(ast.parse(source), ""):
        start = starts[node.lineno - 1] + node.col_offset
        stop = starts[node.end_lineno - 1] + node.end_col_offset
        old = source.encode()[start:stop].decode()
        for kind, changed in _changes(node):
            text = ast.unparse(changed)
            new = text if isinstance(changed, ast.stmt | ast.Constant | ast.Name) else f"({text})"
            mutant = Mutant(file, node.lineno, start, stop, kind, old, new, function)
            found.setdefault(mutant.key, mutant)
    return list(found.values())


def _looked_at(node: ast.AST, function: str) -> Iterator[tuple[ast.expr | ast.stmt, str]]:
    """Statements and expressions that are computed with, and the function each stands in (with its first line)."""
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if not isinstance(child, ast.AST) or isinstance(child, WORDS):
                continue
            if isinstance(child, ast.If) and ast.unparse(child.test) == "TYPE_CHECKING":
                continue
            if isinstance(child, ast.FunctionDef) and child.name in ("__str__", "__repr__"):
                continue
            inside = f"{child.name}:{first_line(child)}" if isinstance(child, ast.FunctionDef) else function
            if isinstance(child, ast.expr | ast.AugAssign):
                yield child, inside
            yield from _looked_at(child, inside)


def first_line(function: ast.FunctionDef) -> int:
    """The first line of its code object: that of its first decorator."""
    return min([function.lineno, *(part.lineno for part in function.decorator_list)])


def _changes(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    match node:
        case ast.BinOp(left=left, op=op):
            if type(op) in OPERATORS and not _is_text(node):
                yield "operator", _with(node, op=OPERATORS[type(op)]())
                if isinstance(op, ast.Add | ast.Sub):
                    yield "dropped term", left
        case ast.AugAssign(op=op) if type(op) in OPERATORS:
            yield "operator", _with(node, op=OPERATORS[type(op)]())
        case ast.Compare(ops=[op]):
            for other in COMPARISONS[type(op)]:
                yield "comparison", _with(node, ops=[other()])
        case ast.BoolOp(op=op):
            yield "and/or", _with(node, op=ast.Or() if isinstance(op, ast.And) else ast.And())
        case ast.UnaryOp(op=ast.USub() | ast.Not(), operand=operand) if not isinstance(operand, ast.Constant):
            yield "sign", operand
        case ast.Constant(value=bool(value)):
            yield "constant", ast.Constant(not value)
        case ast.Constant(value=int(value)):
            yield "constant", ast.Constant(value + 1)
        case ast.Constant(value=float(value)):
            yield "constant", ast.Constant(1.1 * value if value else 1.0)
        case ast.Call(func=func, args=[first, second, *_]) if _may_swap(func, first, second):
            yield "swapped", _with(node, args=[second, first, *node.args[2:]])
        case ast.Attribute(attr=name) if name in NAMES:
            yield "name", _with(node, attr=NAMES[name])
        case ast.Name(id=name) if name in NAMES and name in ("min", "max", "any", "all"):
            yield "name", ast.Name(NAMES[name])


def _with(node: ast.AST, **parts: object) -> ast.AST:
    changed = copy.copy(node)
    for name, value in parts.items():
        setattr(changed, name, value)
    return changed


def _may_swap(func: ast.expr, first: ast.expr, second: ast.expr) -> bool:
    plain = (ast.Name, ast.Attribute)
    told = ast.unparse(func) in ("isinstance", "getattr", "hasattr", "min", "max", "zip", "cast", "range")
    return isinstance(first, plain) and isinstance(second, plain) and not told and ast.dump(first) != ast.dump(second)


def _is_text(node: ast.BinOp) -> bool:
    """Whether an operator joins texts."""
    parts = [part for part in ast.walk(node) if isinstance(part, ast.JoinedStr | ast.Constant)]
    return any(isinstance(part, ast.JoinedStr) or isinstance(part.value, str) for part in parts)
