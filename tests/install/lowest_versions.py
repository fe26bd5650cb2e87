"""The lowest allowed version of each dependency, all at once: ``python -m tests.install.lowest_versions``.

Installs the checkout with every direct dependency at its lower bound into a clean environment, goes a round
through the program, and prints the versions.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from tests.install.environments import ROOT, direct_dependencies, go_round, installed, versions


def main() -> int:
    """Print the table; return 1 when something did not work."""
    lowest = direct_dependencies()
    pinned = [f"{name}=={version}" for name, version in lowest.items()]
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        try:
            environment = installed(place / "lowest", [str(ROOT)], constraints=pinned)
        except subprocess.CalledProcessError as error:
            print(error.stderr, file=sys.stderr)
            return 1
        found = versions(environment)
        for package in lowest:
            print(f"{package:12} {found[package]}")
        wrong = go_round(environment, place)
    print("\n".join(wrong) or "all commands of the round work with them")
    return min(len(wrong), 1)


if __name__ == "__main__":
    sys.exit(main())
