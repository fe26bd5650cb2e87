"""Clean virtual environments, and a round through the program in them that touches every dependency."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
ROUND = (
    ("--version",),
    ("new", "mine"),
    ("plan", "mine", "-o", "build"),
    ("verify", "build"),
    ("compare", "build", "build", "-o", "same.html"),
    ("vehicle", "measure", "box wagon", "--defaults", "-o", "wagon.yaml"),
    ("vehicle", "from-mesh", "build/meshes/train.glb", "--units", "m", "-o", "again.yaml"),
    ("cavities", "wagon.yaml", "--json"),
    ("check", "nothing-of-this-name"),
)
"""Commands of the round; the last must end with 2."""


def direct_dependencies() -> dict[str, str]:
    """Return the lowest allowed version of each dependency, by name."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    found = {}
    for line in project["dependencies"]:
        name, bound = re.fullmatch(r"([\w-]+)>=([\d.]+)(?:,<[\d.]+)?", line).groups()  # type: ignore[union-attr]
        found[name] = bound
    return found


def program(environment: Path, name: str) -> Path:
    """Return where an environment keeps a program."""
    return environment / ("Scripts" if os.name == "nt" else "bin") / name


def installed(
    environment: Path, what: Sequence[str], python: str = sys.executable, constraints: Sequence[str] = ()
) -> Path:
    """Make an environment, install into it, and return it.

    Raises
    ------
    subprocess.CalledProcessError
        When that fails; what pip said stands in ``stderr``.
    """
    run([python, "-m", "venv", str(environment)])
    command = [str(program(environment, "python")), "-m", "pip", "install", "--quiet"]
    if constraints:
        bounds = environment / "constraints.txt"
        bounds.write_text("\n".join(constraints) + "\n", "utf-8")
        command += ["-c", str(bounds)]
    run([*command, "--disable-pip-version-check", *what])
    return environment


def versions(environment: Path) -> dict[str, str]:
    """Return what is installed in an environment, by name."""
    lines = run([str(program(environment, "python")), "-m", "pip", "list", "--format=freeze"]).split()
    return {
        name.lower().replace("_", "-"): version
        for name, _, version in (line.partition("==") for line in lines)
    }


def go_round(environment: Path, place: Path) -> list[str]:
    """Run the round in an empty folder, and return what did not go as it should, one line for each."""
    wrong = []
    clean = {key: value for key, value in os.environ.items() if not key.startswith(("PYTHON", "VIRTUAL"))}
    for words in ROUND:
        done = subprocess.run(
            [str(program(environment, "fitplan")), *words],
            cwd=place, env=clean | {"FITPLAN_TRACEBACK": "1"}, capture_output=True, text=True, check=False,
        )  # fmt: skip
        expected = 2 if words[0] == "check" else 0
        if done.returncode != expected or "Traceback" in done.stderr or "Warning" in done.stderr:
            wrong.append(f"{' '.join(words)}: status {done.returncode}: {done.stderr.strip()[-600:]}")
    return wrong


def run(command: Sequence[str]) -> str:
    """Run a command and return what it printed."""
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout
