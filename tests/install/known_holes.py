"""Known holes in the dependencies, direct and not: ``python -m tests.install.known_holes [PYTHON]``.

Installs the checkout, with the newest of all that it needs, and pip-audit (Apache 2.0) into a clean
environment of this or another interpreter, and asks pip-audit's service about every version that is there.
Where that tells nothing of one version, what it tells of the whole project serves, as long as the version is
its newest. `CONTROL` has holes that are known: a service that does not tell them is not believed. Needs the
network.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from importlib.metadata import distributions
from pathlib import Path
from typing import Any

from tests.install.environments import ROOT, installed, program, run

CONTROL = ("pycrypto", "2.6.1")
"""Not installed, only asked about: the last version of a library that was given up with holes in it."""
TOOLS = ("pip", "setuptools", "wheel", "fitplan")
"""What is not looked up: the environment's own."""


def holes_of(name: str, version: str) -> list[str] | str:
    """Return the holes that are known of a version, or why nothing is told of it; runs in the environment."""
    from packaging.version import Version
    from pip_audit._service import PyPIService
    from pip_audit._service.interface import ResolvedDependency

    service = PyPIService()
    ask = service.session.get

    def asked(url: str, **more: Any) -> Any:
        answer = ask(url=url, **more)
        if answer.status_code == 404:
            whole = ask(url=url.rsplit("/", 2)[0] + "/json", **more)
            if whole.ok and Version(whole.json()["info"]["version"]) == Version(version):
                return whole
        return answer

    service.session.get = asked
    found, told = service.query(ResolvedDependency(name, Version(version)))
    if reason := getattr(found, "skip_reason", ""):
        return str(reason)
    return sorted(one.id for one in told)


def inside() -> None:
    """Print what is told of everything in this environment that fitplan needs, and of the control."""
    needed = {one.metadata["Name"].lower(): one.version for one in distributions()}
    alone = json.loads(sys.stdin.read())
    asked = [CONTROL, *sorted((name, needed[name]) for name in alone if name in needed)]
    print(json.dumps([[name, version, holes_of(name, version)] for name, version in asked]))


def main(python: str) -> int:
    """Print the table; return 1 when a hole is known or nothing is told."""
    with tempfile.TemporaryDirectory() as place:
        plain = installed(Path(place) / "plain", [str(ROOT)], python)
        listed = json.loads(run([str(program(plain, "python")), "-m", "pip", "list", "--format=json"]))
        names = [one["name"].lower() for one in listed if one["name"].lower() not in TOOLS]
        both = installed(Path(place) / "both", [str(ROOT), "pip-audit"], python)
        done = subprocess.run(
            [str(program(both, "python")), "-m", "tests.install.known_holes", "--inside"],
            cwd=ROOT, input=json.dumps(names), capture_output=True, text=True, check=False,
        )  # fmt: skip
    if done.returncode:
        print(done.stderr[-600:], file=sys.stderr)
        return 1
    control, *found = json.loads(done.stdout)
    for name, version, holes in found:
        print(f"{name:20} {version:12} {', '.join(holes) if isinstance(holes, list) else holes}".rstrip())
    told = [one for one in found if isinstance(one[2], list)]
    bad = [one for one in told if one[2]]
    believed = isinstance(control[2], list) and bool(control[2])
    print(
        f"{len(found)} packages: {len(told)} told of, {len(bad)} with known holes; of {' '.join(CONTROL)} "
        + (
            f"{len(control[2])} are told, as they should be"
            if believed
            else "none are told: nothing is shown"
        )
    )
    return int(bool(bad) or len(told) < len(found) or not believed)


if __name__ == "__main__":
    if "--inside" in sys.argv:
        inside()
    else:
        sys.exit(main(sys.argv[1] if sys.argv[1:] else sys.executable))
