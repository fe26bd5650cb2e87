"""Set up a fresh clone and run fitplan, or its tests, in one command; needs Python 3.11 and nothing else.

::

    python3 fitplan/bootstrap.py plan harbour-line -o build
    python3 fitplan/bootstrap.py test

The first call makes a virtual environment in the clone's ``.venv`` and installs into it; later calls find it
there.  Everything after the script's name goes to ``fitplan``, except ``test``, which runs pytest with
whatever follows, or all tests on all cores if nothing does.  Runs from any directory, on Linux, macOS and
Windows.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import venv
from pathlib import Path

CLONE = Path(__file__).resolve().parent.parent
ENVIRONMENT = CLONE / ".venv"
OLDEST = (3, 11)
ALL_TESTS = ["-n", "auto", "--maxprocesses", "8", "--dist", "loadfile", "--no-loadscope-reorder"]


def _program(name: str) -> Path:
    """Return where the environment keeps a program."""
    return ENVIRONMENT / "Scripts" / f"{name}.exe" if os.name == "nt" else ENVIRONMENT / "bin" / name


def _set_up(extra: str) -> None:
    """Make the environment and install the clone into it, unless that was done for these very settings."""
    settings = (CLONE / "pyproject.toml").read_bytes()
    mark = hashlib.sha256(settings + sys.version.encode()).hexdigest()
    stamp = ENVIRONMENT / f"installed-{extra or 'base'}"
    if stamp.is_file() and stamp.read_text(encoding="ascii") == mark:
        return
    print("Setting up fitplan in", ENVIRONMENT, "(once; a minute or so) …", file=sys.stderr, flush=True)  # noqa: T201
    if not _program("python").exists():
        venv.create(ENVIRONMENT, with_pip=True)
    target = f"{CLONE}[{extra}]" if extra else str(CLONE)
    subprocess.run(
        [_program("python"), "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "-e", target],
        check=True,
    )
    stamp.write_text(mark, encoding="ascii")


def main(arguments: list[str]) -> int:
    """Set up what is missing, then run; returns the exit status of what was run."""
    if sys.version_info < OLDEST:
        print("fitplan needs Python 3.11 or newer; this is", sys.version.split()[0], file=sys.stderr)  # noqa: T201
        return 2
    test = arguments[:1] == ["test"]
    try:
        _set_up("test" if test else "")
    except (OSError, subprocess.CalledProcessError) as error:
        print(  # noqa: T201
            f"Could not set up {ENVIRONMENT}: {error}\n"
            "On Debian and Ubuntu the package python3-venv is needed; pip needs the network once.",
            file=sys.stderr,
        )
        return 2
    if test:
        command = [str(_program("python")), "-m", "pytest", *(arguments[1:] or ALL_TESTS)]
        return subprocess.run(command, cwd=CLONE, check=False).returncode
    return subprocess.run([str(_program("fitplan")), *arguments], check=False).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
