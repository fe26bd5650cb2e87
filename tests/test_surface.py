"""What the package hands to a Python user, and what importing it costs."""

from __future__ import annotations

import doctest
import importlib
import pkgutil
import subprocess
import sys
import textwrap
from pathlib import Path
from typing import Any

import pytest

import fitplan
import fitplan.surface

HEAVY = ("numpy", "networkx", "wasmtime", "pydantic", "trimesh", "reportlab", "openpyxl", "jinja2", "rich")
SURFACE = [
    "ContradictionError",
    "Finding",
    "FitplanError",
    "InputError",
    "Placement",
    "Plan",
    "PlanOptions",
    "Report",
    "Train",
    "Wire",
    "__version__",
    "plan_train",
    "read_plan",
    "read_train",
    "summary",
    "verdict",
    "verify_plan",
    "write_plan",
]


def test_the_surface_is_what_it_was() -> None:
    """Names come and go only on purpose."""
    assert (
        fitplan.__all__
        == SURFACE
        == [*fitplan.surface.__all__[:10], "__version__", *fitplan.surface.__all__[10:]]
    )
    for name in SURFACE:
        assert getattr(fitplan, name) is not None
    assert set(SURFACE) <= set(dir(fitplan))
    with pytest.raises(AttributeError, match="no attribute 'planner'"):
        _ = fitplan.planner


def test_the_quarter_page_of_the_readme_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """As it is typed, of a smaller example: read, plan, tell, verify, write; and read again."""
    text = (Path(__file__).parents[1] / "README.md").read_text("utf-8")
    lines = text.partition("From Python the same")[2].partition("\n\n")[2].partition("\n\n#")[0]
    typed = textwrap.dedent(lines)
    assert typed.count('"harbour-line"') == 1
    assert typed.count("fitplan.") > 4
    monkeypatch.chdir(tmp_path)
    named: dict[str, Any] = {}
    exec(compile(typed.replace("harbour-line", "narrow-crane-wagon"), "README.md", "exec"), named)
    plan = named["plan"]
    assert capsys.readouterr().out.startswith(f"cannot fit - {fitplan.summary(plan)}\n")
    assert fitplan.read_plan(tmp_path / "build") == plan
    assert fitplan.read_plan(tmp_path / "build" / "plan.json") == plan
    with pytest.raises(fitplan.InputError, match="narrow-crane-wagon"):
        fitplan.read_train("narow-crane-wagon")


@pytest.mark.parametrize("arguments", [["-c", "import fitplan"], ["-m", "fitplan", "--help"]])
def test_nothing_heavy_is_loaded_for_nothing(arguments: list[str]) -> None:
    """Importing the package and asking for help load none of the large libraries."""
    done = subprocess.run(
        [sys.executable, "-X", "importtime", *arguments], capture_output=True, text=True, check=True
    )
    modules = [line.rsplit("|", 1)[-1].strip() for line in done.stderr.splitlines() if "|" in line]
    loaded = {module.split(".")[0] for module in modules}
    assert "fitplan" in loaded
    assert not loaded & set(HEAVY)


def test_examples_in_docstrings_are_true() -> None:
    """Every example in a docstring of the package runs and gives what it says."""
    tried = 0
    for module in pkgutil.walk_packages(fitplan.__path__, "fitplan."):
        if module.name.endswith("__main__"):
            continue
        result = doctest.testmod(importlib.import_module(module.name))
        assert result.failed == 0, module.name
        tried += result.attempted
    assert tried >= 3
