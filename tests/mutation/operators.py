"""The faults that are planted: one small change of a syntax tree each.

Left out, or planted as a larger fault, is what provably changes nothing:

- types, decorators (``slots``, ``frozen``), defaults, assertions, raised by hand as well, wording of errors;
- ``strict`` of `zip`: it stops the program where it is wrong, and answers nothing;
- ``+ 3`` in an index turned to ``- 3``: of six columns it is the same one, so the 3 is left out instead;
- a tolerance of 1e-6 or less doubled: what lies between is rounding, so it becomes 0.1 instead;
- a whole number of 1000 or more, one more of it: a bound of work or a mark far away, so it becomes 1 instead.
"""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.Gt),
    ast.LtE: (ast.Lt, ast.GtE),
    ast.Gt: (ast.GtE, ast.Lt),
    ast.GtE: (ast.Gt, ast.LtE),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
}
ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.FloorDiv,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.BitXor: ast.BitAnd,
    ast.LShift: ast.RShift,
    ast.RShift: ast.LShift,
}
FAR, ROUNDING = 1000, 1e-6
TWINS = {
    "min": "max",
    "max": "min",
    "any": "all",
    "all": "any",
    "floor": "ceil",
    "ceil": "floor",
    "argmin": "argmax",
    "argmax": "argmin",
}


@dataclass(frozen=True)
class Mutant:
    """One fault.

    Attributes
    ----------
    file
        Path of the source, from the root of the checkout.
    line
        The line that is changed, from 1.
    function
        Qualified name of the outermost function around it; empty for a constant of the module.
    node, variant
        Which node of the tree, in the order of `ast.walk`, and which of its faults.
    before, after
        The changed piece of code.
    """

    file: str
    line: int
    function: str
    node: int
    variant: int
    before: str
    after: str

    def __str__(self) -> str:
        """Return place and change in one line."""
        where = f"{self.file}:{self.line}"
        return f"{where} {self.function or 'module'}: {self.before}  ->  {self.after}"


def mutants_of(root: Path, file: Path) -> list[Mutant]:
    """Return all faults that can be planted in a file."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    numbers = {id(node): number for number, node in enumerate(ast.walk(tree))}
    parents = {id(child): node for node in ast.walk(tree) for child in ast.iter_child_nodes(node)}
    found = []
    for node, function in _places(tree):
        for variant, changed in enumerate(_variants(node, parents.get(id(node)))):
            found.append(
                Mutant(
                    str(file.relative_to(root)),
                    node.lineno,  # type: ignore[attr-defined]
                    function,
                    numbers[id(node)],
                    variant,
                    _text(node),
                    _text(changed),
                )
            )
    return found


def planted(root: Path, mutant: Mutant) -> ast.Module:
    """Return the syntax tree of a file with the fault in it."""
    tree = ast.parse((root / mutant.file).read_text(encoding="utf-8"))
    node = list(ast.walk(tree))[mutant.node]
    parents = {id(child): node for node in ast.walk(tree) for child in ast.iter_child_nodes(node)}
    parent = parents[id(node)]
    changed = list(_variants(node, parent))[mutant.variant]
    ast.copy_location(changed, node)
    for name, value in ast.iter_fields(parent):
        if value is node:
            setattr(parent, name, changed)
        elif isinstance(value, list):
            value[:] = [changed if one is node else one for one in value]
    return ast.fix_missing_locations(tree)


def _text(node: ast.AST) -> str:
    text = " ".join(ast.unparse(node).split())
    return text if len(text) <= 100 else text[:97] + "..."


def _places(tree: ast.Module) -> Iterator[tuple[ast.AST, str]]:
    """Give each node that may be changed with the outermost function around it, in a fixed order."""

    def inside(node: ast.AST, function: str) -> Iterator[tuple[ast.AST, str]]:
        yield node, function
        for name, value in ast.iter_fields(node):
            # Types and defaults belong to the moment of import; wording and assertions are no behaviour.
            if name in ("annotation", "returns", "decorator_list", "args", "msg") and not isinstance(
                node, ast.Call
            ):
                continue
            for child in value if isinstance(value, list) else [value]:
                if isinstance(child, ast.AST) and not isinstance(child, (ast.JoinedStr, ast.Assert)):
                    if isinstance(node, ast.Raise) and name == "exc":
                        continue
                    yield from inside(child, function)

    def outside(body: list[ast.stmt], name: str) -> Iterator[tuple[ast.AST, str]]:
        for statement in body:
            if isinstance(statement, (ast.FunctionDef, ast.AsyncFunctionDef)):
                for inner in statement.body:
                    if not isinstance(inner, ast.Assert):
                        yield from inside(inner, name + statement.name)
            elif isinstance(statement, ast.ClassDef):
                yield from outside(statement.body, f"{name}{statement.name}.")
            elif not name and _constant_of(statement):
                value = statement.value  # type: ignore[attr-defined]
                if isinstance(value, ast.Constant):
                    yield value, ""

    yield from outside(tree.body, "")


def _constant_of(statement: ast.stmt) -> str:
    """Return the name that a statement of a module gives a plain value; empty when it does something else."""
    if isinstance(statement, ast.Assign) and isinstance(statement.targets[0], ast.Name):
        return statement.targets[0].id
    if isinstance(statement, ast.AnnAssign) and isinstance(statement.target, ast.Name):
        return statement.target.id
    return ""


def constant_at(tree: ast.Module, line: int) -> str:
    """Return the name of the module's constant that a statement on this line sets."""
    for statement in tree.body:
        if statement.lineno <= line <= (statement.end_lineno or 0):
            return _constant_of(statement)
    return ""


def _variants(node: ast.AST, parent: ast.AST | None) -> Iterator[ast.AST]:
    """Give each fault that this node can have, in a fixed order."""
    match node:
        case ast.Compare():
            for place, operator in enumerate(node.ops):
                for other in COMPARISONS[type(operator)]:
                    changed = copy.deepcopy(node)
                    changed.ops[place] = other()
                    yield changed
        case ast.BinOp(op=ast.Add(), right=ast.Constant(value=3)) if isinstance(
            parent, (ast.Subscript, ast.Tuple)
        ):
            yield copy.deepcopy(node.left)
        case ast.BinOp() if type(node.op) in ARITHMETIC and not _is_text(node, parent):
            changed_sum = copy.deepcopy(node)
            changed_sum.op = ARITHMETIC[type(node.op)]()
            yield changed_sum
        case ast.AugAssign() if type(node.op) in ARITHMETIC and not _is_text(node, parent):
            changed_step = copy.deepcopy(node)
            changed_step.op = ARITHMETIC[type(node.op)]()
            yield changed_step
            yield ast.Pass()
        case ast.UnaryOp(op=ast.Not() | ast.USub()):
            yield copy.deepcopy(node.operand)
        case ast.BoolOp():
            changed_logic = copy.deepcopy(node)
            changed_logic.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
            yield changed_logic
        case ast.IfExp() | ast.If() | ast.While():
            changed_test = copy.deepcopy(node)
            changed_test.test = ast.UnaryOp(ast.Not(), copy.deepcopy(node.test))
            yield changed_test
        case ast.Constant(value=bool()):
            if not (isinstance(parent, ast.keyword) and parent.arg == "strict"):
                yield ast.Constant(not node.value)
        case ast.Constant(value=int()):
            whole = int(node.value)  # type: ignore[arg-type]
            yield ast.Constant(whole + 1 if whole < FAR else 1)
        case ast.Constant(value=float()):
            value = float(node.value)  # type: ignore[arg-type]
            yield ast.Constant(1.0 if value == 0 else 0.1 if value <= ROUNDING else value * 2)
        case ast.Call(func=ast.Name(id=name)) if name in TWINS:
            changed_call = copy.deepcopy(node)
            changed_call.func = ast.Name(TWINS[name], ast.Load())
            yield changed_call
        case ast.Call(func=ast.Attribute(attr=name)) if name in TWINS:
            changed_method = copy.deepcopy(node)
            assert isinstance(changed_method.func, ast.Attribute)
            changed_method.func.attr = TWINS[name]
            yield changed_method
        case ast.Expr(value=ast.Call()):
            yield ast.Pass()
        case ast.Continue():
            yield ast.Break()
        case ast.Raise(exc=ast.Call(func=ast.Name(id="AssertionError"))):
            pass
        case ast.Raise():
            yield ast.Pass()


def _is_text(node: ast.BinOp | ast.AugAssign, parent: ast.AST | None) -> bool:
    """Tell whether an operation joins texts or, in `isinstance`, types."""
    sides = [node.left, node.right] if isinstance(node, ast.BinOp) else [node.value]
    if any(
        isinstance(s, ast.JoinedStr) or (isinstance(s, ast.Constant) and isinstance(s.value, str))
        for s in sides
    ):
        return True
    return (
        isinstance(parent, ast.Call) and isinstance(parent.func, ast.Name) and parent.func.id == "isinstance"
    )
