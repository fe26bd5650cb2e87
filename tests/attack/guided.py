"""Inputs led by the lines that they reach: ``python -m tests.attack.guided READER [RUNS]``.

Needs atheris, which is a tool of development and no dependency: ``pip install atheris`` (wheels for Linux and
CPython 3.11 to 3.13). Inputs that reach new lines go into a folder that the next run begins with; the few
that reach most are kept in ``tests/attack/corpus`` and tried in the tests.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import atheris  # type: ignore[import-not-found,unused-ignore]

with atheris.instrument_imports(include=["fitplan.files", "fitplan.units"]):
    from tests.attack.readers import CORPUS, READERS, REFUSALS


def main(name: str, runs: int) -> None:
    """Fuzz one reader; what is no refusal ends it with a traceback and the input."""
    reader = READERS[name]
    found = Path(tempfile.gettempdir()) / f"fitplan-corpus-{name.replace(' ', '-')}"
    found.mkdir(exist_ok=True)
    for number, seed in enumerate(reader.seeds()):
        (found / f"seed-{number}").write_bytes(seed)

    def once(data: bytes) -> None:
        try:
            reader.read(data)
        except REFUSALS:
            return

    options = [f"-runs={runs}", "-timeout=10", "-rss_limit_mb=2000", "-max_len=40000", "-print_final_stats=1"]
    kept = CORPUS / name.replace(" ", "-")
    atheris.Setup([sys.argv[0], *options, str(found), *([str(kept)] if kept.is_dir() else [])], once)
    atheris.Fuzz()


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 100_000)
