"""Wheel and source distribution in clean environments: ``python -m tests.install.pythons [PYTHON …]``.

Builds both from the checkout, and installs them for each Python named by its program: the wheel with the
newest dependencies, and with the lowest that are allowed and ready-made for that Python; each goes a round
through the program. What the source distribution installs must be the same files as the wheel's. Needs the
network.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from tests.install.environments import ROOT, direct_dependencies, go_round, installed, program, run, versions

TOOLS = ("hatchling", "uv")


def built(tools: Path, place: Path) -> tuple[Path, Path]:
    """Build wheel and source distribution."""
    subprocess.run(
        [str(program(tools, "python")), "-m", "hatchling", "build", "-d", str(place)],
        cwd=ROOT, check=True, capture_output=True,
    )  # fmt: skip
    return next(place.glob("*.whl")), next(place.glob("*.tar.gz"))


def files_of(environment: Path) -> dict[str, bytes]:
    """Return what is installed of fitplan itself."""
    (package,) = environment.glob("[Ll]ib/**/site-packages/fitplan")
    return {
        path.relative_to(package).as_posix(): path.read_bytes()
        for path in package.rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }


def with_lowest(tools: Path, environment: Path, wheel: Path, python: str) -> Path:
    """Make an environment with the lowest versions that are allowed and ready-made for a Python."""
    bounds = [f"{package}>={version}" for package, version in direct_dependencies().items()]
    run([python, "-m", "venv", str(environment)])
    run([
        str(program(tools, "uv")), "pip", "install", "--quiet", "--compile-bytecode",
        "--python", str(program(environment, "python")),
        "--resolution", "lowest-direct", "--only-binary", ":all:", str(wheel), *bounds,
    ])  # fmt: skip
    return environment


def tried(place: Path, environment: Path) -> list[str]:
    """Go the round in a folder of its own; return what went wrong."""
    folder = place / f"{environment.name} round"
    folder.mkdir()
    return go_round(environment, folder)


def main(pythons: list[str]) -> int:
    """Print the table; return 1 when something did not work."""
    bad = 0
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        tools = installed(place / "tools", TOOLS)
        wheel, source = built(tools, place / "dist")
        print(f"{wheel.name} {wheel.stat().st_size / 1e6:.1f} MB, {source.name}", flush=True)
        for number, python in enumerate(pythons or [sys.executable]):
            said = run([python, "--version"]).strip()
            newest = installed(place / f"newest {number}", [str(wheel)], python)
            lowest = with_lowest(tools, place / f"lowest {number}", wheel, python)
            bare = installed(place / f"source {number}", ["--no-deps", str(source)], python)
            same = files_of(newest) == files_of(bare)
            wrong = [*tried(place, newest), *tried(place, lowest)]
            wrong += [] if same else ["the source distribution installs other files"]
            bad += bool(wrong)
            print(said, "; ".join(wrong) or "all well: newest, lowest, and source as wheel", flush=True)
            pairs = (versions(newest), versions(lowest))
            print(
                "  " + ", ".join(f"{one} {pairs[1][one]} to {pairs[0][one]}" for one in direct_dependencies())
            )
    return min(bad, 1)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
