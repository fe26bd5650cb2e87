"""One word for one thing: a class name stands for one class in the whole package."""

from __future__ import annotations

import ast
from collections import defaultdict

from tests.test_rooms import PACKAGE, modules

TWICE: dict[str, str] = {}
"""Class names that may stand for two classes, each with its reason."""


def classes() -> dict[str, list[str]]:
    """Return the modules that define a class of each name, private and nested classes among them."""
    found = defaultdict(list)
    for path in modules():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef):
                found[node.name].append(path.relative_to(PACKAGE).as_posix())
    return found


def test_a_class_name_stands_for_one_class() -> None:
    """No class name is defined twice, but for those that are listed."""
    assert {name: where for name, where in classes().items() if len(where) > 1 and name not in TWICE} == {}


def test_no_name_is_excused_in_vain() -> None:
    """Every name that may stand for two classes does."""
    found = classes()
    assert all(len(found[name]) > 1 for name in TWICE)
