"""Where an error gets to: the kernels that would be compiled with it, and the functions by which a test meets it.

Numba puts a compiled function into all that call it, and constants of a module too. So an error in one of them is in
every kernel that names it, directly or by way of others; all other kernels may stay as they were stored.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from plant import Mutant, first_line

KERNEL = re.compile(r"^(njit|compiled)\b")

STAMPS = "\n\ncaching._SourceFileBackedLocatorMixin.get_source_stamp = lambda self: 0\n"
"""What the copy's `sim/machine/compiling.py` ends with: errors outside kernels leave those that are stored in place."""


@dataclass(frozen=True)
class Part:
    """A function, or what a module assigns: its place as file:first line, its name, the names in it."""

    file: str
    place: str
    name: str
    names: frozenset[str]
    compiled: bool
    is_function: bool


def parts_of(root: Path, file: str) -> Iterator[Part]:
    """All functions of a file, those in classes and in each other too, and its constants."""
    tree = ast.parse((root / file).read_text("utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            compiled = any(KERNEL.match(ast.unparse(mark)) for mark in node.decorator_list)
            yield Part(file, f"{file}:{first_line(node)}", node.name, _names(node), compiled, True)
    for node in tree.body:
        targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
        for target in targets:
            if isinstance(target, ast.Name):
                yield Part(file, f"{file}:{node.lineno}", target.id, _names(node), False, False)


def _names(node: ast.AST) -> frozenset[str]:
    parts = list(ast.walk(node))
    plain = (part.id for part in parts if isinstance(part, ast.Name))
    return frozenset(plain) | {part.attr for part in parts if isinstance(part, ast.Attribute)}


class Reach:
    """Who holds what, over all files of a tree; `imports`: the files that each file imports."""

    def __init__(self, root: Path, files: list[str], imports: dict[str, set[str]]) -> None:
        self.parts = [part for file in files for part in parts_of(root, file)]
        self.imports = imports

    def kernels(self, mutant: Mutant) -> set[str]:
        """Places of the kernels that an error is compiled into."""
        return {part.place for part in self._holding(self._hit(mutant)) if part.compiled}

    def met_at(self, mutant: Mutant) -> set[str]:
        """Places of functions of which a test that meets the error enters one; none where any test may meet it."""
        hit = self._hit(mutant)
        holding = self._holding(hit)
        places = {part.place for part in holding | self._users(holding) if part.is_function}
        own = {f"{mutant.file}:{mutant.function.rpartition(':')[2]}"} if mutant.function else set()
        return own or (places if any(part.compiled for part in holding) else set())

    def _hit(self, mutant: Mutant) -> set[Part]:
        """The function that an error stands in, or the constant."""
        line = mutant.function.rpartition(":")[2] or mutant.line
        at = f"{mutant.file}:{line}"
        return {part for part in self.parts if part.place == at and part.is_function == bool(mutant.function)}

    def _holding(self, parts: set[Part]) -> set[Part]:
        """Parts, and kernels and constants that they are compiled or worked out into; a plain function into none."""
        found, ring = set(parts), {part for part in parts if part.compiled or not part.is_function}
        while ring:
            ring = {part for part in self._users(ring) if part.compiled or not part.is_function} - found
            found |= ring
        return found

    def _users(self, parts: set[Part]) -> set[Part]:
        """All that name one of the parts, in its own file or in one that imports it."""
        return {
            user for user in self.parts for part in parts
            if part.name in user.names and (user.file == part.file or part.file in self.imports.get(user.file, ()))
        }  # fmt: skip
