"""The checker shares no code with what it checks."""

from __future__ import annotations

import ast
from pathlib import Path

import fitplan.verify

KNOWN = ("fitplan.model", "fitplan.units", "fitplan.errors", "fitplan.verify")


def test_the_checker_imports_only_the_model() -> None:
    """No module of the checker imports lattice, packing, routing, checks or the pipeline."""
    folder = Path(fitplan.verify.__file__).parent
    files = sorted(folder.glob("*.py"))
    assert len(files) > 10
    for file in files:
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            names: list[str] = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                assert node.level == 0
                names = [node.module or ""]
            for name in names:
                assert not name.startswith("fitplan") or name.startswith(KNOWN), f"{file.name}: {name}"
