"""Who may know whom, what is called what, and what DEVELOPERS.md says of it: the house rules as tests."""

from __future__ import annotations

import ast
import importlib
import importlib.util
import re
from functools import cache
from pathlib import Path

import fitplan

PACKAGE = Path(fitplan.__file__).parent
TABLE = PACKAGE.parent / "DEVELOPERS.md"
FREE = frozenset({"__init__", "__main__", "bootstrap"})
"""Modules above all rooms: what the package hands out, and what starts it."""
GROUND = frozenset({"units", "errors", "budget"})
"""What every room may know without naming it."""


def rooms() -> dict[str, frozenset[str]]:
    """Return each room of the table, and the rooms that it may know."""
    rows = re.findall(r"^\| `([\w/]+?)(?:/|\.py)` \|.*\| ([^|]+) \|$", TABLE.read_text("utf-8"), re.MULTILINE)
    found = {}
    for room, known in rows:
        names = frozenset() if known == "nobody" else frozenset(known.split(", "))
        found[room] = names | (GROUND - {room})
    return found


def room_of(path: Path, table: dict[str, frozenset[str]]) -> str:
    """Return the innermost room of the table that a module stands in."""
    inside = path.relative_to(PACKAGE).with_suffix("")
    names = [inside.as_posix(), *(folder.as_posix() for folder in inside.parents)]
    return next((name for name in names if name in table), "")


def modules() -> list[Path]:
    """Return every module that stands in a room."""
    found = [path for path in PACKAGE.rglob("*.py") if "node_modules" not in path.parts]
    doors = {PACKAGE / group / "__init__.py" for group in ("packing", "routing")}
    return sorted(
        path for path in found if path not in doors and (path.parent != PACKAGE or path.stem not in FREE)
    )


@cache
def imported(path: Path) -> tuple[Path, ...]:
    """Return the modules of the package that a module imports, wherever in it."""
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: imports are written whole"
            names = [f"{node.module}.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        else:
            continue
        for name in names:
            if name.split(".")[0] == "fitplan":
                found += [module for module in [_file_of(name)] if module is not None]
    return tuple(dict.fromkeys(found))


@cache
def _file_of(name: str) -> Path | None:
    """Return the module that a dotted name is, or is a name in; None for what the package itself holds."""
    parts = name.split(".")[1:]
    for count in range(len(parts), 0, -1):
        path = PACKAGE.joinpath(*parts[:count])
        if path.with_suffix(".py").is_file():
            return path.with_suffix(".py")
        if (path / "__init__.py").is_file():
            return path / "__init__.py"
    return None


def test_every_module_stands_in_a_room() -> None:
    """No module and no folder is missing in the table, and every row of the table is there."""
    table = rooms()
    assert {room_of(path, table) for path in modules()} == set(table)


def test_rooms_know_only_whom_the_table_names() -> None:
    """Every import stays in its room or leads to one that the table allows."""
    table = rooms()
    for path in modules():
        here = room_of(path, table)
        for other in imported(path):
            there = room_of(other, table)
            assert there == here or there in table[here], f"{path.relative_to(PACKAGE)} knows {there}"


def test_the_table_names_nobody_in_vain() -> None:
    """What a room may know, it does know; so the table tells how things are, not how they might be."""
    table = rooms()
    met: dict[str, set[str]] = {room: set() for room in table}
    for path in modules():
        met[room_of(path, table)] |= {room_of(other, table) for other in imported(path)}
    for room, known in table.items():
        assert known - GROUND <= met[room], f"{room}: {known - GROUND - met[room]}"


def test_rooms_stand_on_each_other() -> None:
    """Rows stand from the ground up: each room knows only rooms that stand above it in the table."""
    table = rooms()
    order = list(table)
    for room, known in table.items():
        later = {name for name in known - GROUND if order.index(name) > order.index(room)}
        assert not later, f"{room} knows {later}"


def test_every_room_has_a_page_at_its_door() -> None:
    """Each room's package says what goes in, what comes out and where to begin."""
    for room in rooms():
        door = PACKAGE / room / "__init__.py"
        if door.is_file():
            text = ast.get_docstring(ast.parse(door.read_text(encoding="utf-8"))) or ""
            assert text.count("\n") >= 3, room


def test_a_class_name_stands_for_one_class() -> None:
    """One word for one thing: no class name, private or nested, is defined twice in the package."""
    found: dict[str, list[str]] = {}
    for path in modules():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef):
                found.setdefault(node.name, []).append(path.relative_to(PACKAGE).as_posix())
    assert {name: where for name, where in found.items() if len(where) > 1} == {}


def test_every_name_has_a_user() -> None:
    """What only tests would use is no part of the package: each public name is read somewhere in it.

    Commands, which their own library calls, and what the package hands to a Python user have users outside.
    """
    defined: dict[str, str] = {}
    used = {*fitplan.__all__, "__all__"}
    for path in modules():
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for node in tree.body:
            names = [getattr(node, "name", "")] if not getattr(node, "decorator_list", ()) else []
            targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
            names += [target.id for target in targets if isinstance(target, ast.Name)]
            defined |= {name: path.relative_to(PACKAGE).as_posix() for name in names if name}
        for node in ast.walk(tree):
            if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
                used.add(node.id)
            elif isinstance(node, ast.Attribute):
                used.add(node.attr)
            elif isinstance(node, ast.ImportFrom):
                used |= {alias.name for alias in node.names if alias.asname not in (None, alias.name)}
    assert {name: where for name, where in defined.items() if name not in used} == {}


def test_findings_are_made_in_the_checks() -> None:
    """Nobody but the room of checks makes a finding."""
    for path in modules():
        made = [
            node.lineno
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Finding"
        ]
        assert not made or path.is_relative_to(PACKAGE / "checks"), f"{path.relative_to(PACKAGE)}: {made}"


def test_what_this_page_names_is_there() -> None:
    """Every module, folder and dotted name that DEVELOPERS.md or docs/ has in code marks stands in the tree.

    A path is meant from the top, from the package, or as the end of one path.
    """
    pages = sorted((TABLE.parent / "docs").glob("*.md"))
    text = "\n".join(page.read_text("utf-8") for page in [TABLE, *pages])
    assert all(f"(docs/{page.name})" in text for page in pages)
    paths = set(re.findall(r"`([\w./-]+\.(?:py|c))(?=[` ])", text)) | set(re.findall(r"`((?:\w+/)+)`", text))
    tree = [path.as_posix() for path in [*PACKAGE.rglob("*"), *Path(__file__).parent.rglob("*")]]
    for path in paths:
        top = (TABLE.parent / path, PACKAGE / path)
        assert any(one.exists() for one in top) or any(one.endswith(f"/{path}") for one in tree), path
    for command in re.findall(r"-m ((?:fitplan|tests)[\w.]+)", text):
        assert importlib.util.find_spec(command) is not None, command
    for name in re.findall(
        r"`((?:fitplan|model|routing|planning|packing|report)\.[\w.]+?)(?:\(\w*\)|`)", text
    ):
        whole = name if name.startswith("fitplan.") else f"fitplan.{name}"
        room, _, thing = whole.rpartition(".")
        assert hasattr(importlib.import_module(room), thing), name
