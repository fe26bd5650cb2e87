"""Whether each dependency is ready-made for each system: ``python -m tests.install.wheels``.

Asks pip, for the newest version of every dependency and what it needs in turn, for a wheel for Linux, macOS
and Windows on x86-64 and ARM; prints what is missing. Nothing is installed. Needs the network.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile

from tests.install.environments import direct_dependencies

PLATFORMS = {
    "Linux x86-64": ("manylinux2014_x86_64", "manylinux_2_28_x86_64"),
    "Linux ARM": ("manylinux2014_aarch64", "manylinux_2_28_aarch64"),
    "macOS x86-64": ("macosx_10_9_x86_64", "macosx_10_13_x86_64", "macosx_13_0_x86_64"),
    "macOS ARM": ("macosx_11_0_arm64", "macosx_14_0_arm64"),
    "Windows x86-64": ("win_amd64",),
    "Windows ARM": ("win_arm64",),
}
PYTHONS = ("3.11", "3.12", "3.13", "3.14")


def missing(platforms: tuple[str, ...], python: str) -> str:
    """Return what pip says is missing for a system and a Python; empty when all is there."""
    tags = [word for tag in platforms for word in ("--platform", tag)]
    with tempfile.TemporaryDirectory() as place:
        command = [
            sys.executable, "-m", "pip", "install", "--dry-run", "--quiet", "--disable-pip-version-check",
            "--ignore-installed", "--target", place, "--only-binary", ":all:", "--python-version", python,
            *tags, *direct_dependencies(),
        ]  # fmt: skip
        done = subprocess.run(command, capture_output=True, text=True, check=False)
    errors = [line for line in done.stderr.splitlines() if line.startswith("ERROR")]
    return "" if done.returncode == 0 else "; ".join(errors) or done.stderr[-300:]


def main() -> int:
    """Print the table; return 1 when something is missing."""
    wrong = 0
    print(f"{'system':16}" + "".join(f"{python:>8}" for python in PYTHONS), flush=True)
    for system, platforms in PLATFORMS.items():
        told = [missing(platforms, python) for python in PYTHONS]
        print(f"{system:16}" + "".join(f"{'missing' if one else 'all':>8}" for one in told), flush=True)
        for one in filter(None, dict.fromkeys(told)):
            print(f"  {one}")
            wrong = 1
    return wrong


if __name__ == "__main__":
    sys.exit(main())
