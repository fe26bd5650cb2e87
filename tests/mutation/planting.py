"""Exchange the code of one function, or one constant, in a process that has everything loaded."""

from __future__ import annotations

import ast
import gc
import sys
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

from tests.mutation.operators import Mutant, constant_at, planted


def plant(root: Path, mutant: Mutant) -> bool:
    """Plant a fault for the rest of this process; False when nothing that is loaded holds the place."""
    tree = planted(root, mutant)
    if not mutant.function:
        return _set_constant(root, mutant, tree)
    path = root / mutant.file
    made = compile(tree, str(path), "exec", dont_inherit=True)
    fresh = _code_of(made, mutant.function, mutant.line)
    done = False
    for one in gc.get_objects():
        if type(one) is not FunctionType:
            continue
        code = one.__code__
        same = (code.co_qualname, code.co_firstlineno) == (fresh.co_qualname, fresh.co_firstlineno)
        if same and Path(code.co_filename) == path:
            one.__code__ = fresh
            done = True
    return done


def _code_of(code: CodeType, name: str, line: int) -> CodeType:
    """Return the code of the function of this name around a line."""
    found = []

    def look(code: CodeType) -> None:
        for one in code.co_consts:
            if isinstance(one, CodeType):
                if one.co_qualname == name:
                    found.append(one)
                look(one)

    look(code)
    before = [one for one in found if one.co_firstlineno <= line]
    return max(before, key=lambda one: one.co_firstlineno)


def _set_constant(root: Path, mutant: Mutant, tree: ast.Module) -> bool:
    """Give a module's constant its new value, wherever it was imported to under its name."""
    name = constant_at(tree, mutant.line)
    modules = [m for m in list(sys.modules.values()) if getattr(m, "__file__", None)]
    home = next((m for m in modules if Path(str(m.__file__)) == root / mutant.file), None)
    if home is None:
        return False
    old: Any = getattr(home, name)
    statement = next(s for s in tree.body if s.lineno <= mutant.line <= (s.end_lineno or 0))
    new = ast.literal_eval(statement.value)  # type: ignore[attr-defined]
    for module in modules:
        if vars(module).get(name) is old:
            setattr(module, name, new)
    return True


def users_of_constant(root: Path, mutant: Mutant, files: list[Path]) -> list[tuple[str, int]]:
    """Return the lines (file, number) of functions that read a module's constant."""
    name = constant_at(ast.parse((root / mutant.file).read_text(encoding="utf-8")), mutant.line)
    found = []
    for file in files:
        text = file.read_text(encoding="utf-8")
        if name not in text:
            continue
        found += [
            (str(file.relative_to(root)), node.lineno)
            for node in ast.walk(ast.parse(text))
            if isinstance(node, ast.Name) and node.id == name and isinstance(node.ctx, ast.Load)
        ]
    return found
