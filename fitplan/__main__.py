"""Let ``fitplan`` and ``python -m fitplan`` begin; a break-off in the first moment is told like any other."""

from __future__ import annotations

import atexit
import gc
import os
import sys


def main() -> None:
    """Load the command line and run it."""
    # All memory goes back at the end: looking for rings in it once more would take a third of a second.
    atexit.register(gc.freeze)
    # The largest matrix has a few hundred rows: threads for it take five times what they save.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        from fitplan.cli import main as run
    except KeyboardInterrupt:
        sys.stderr.write("Stopped; nothing was half-written.\n")
        sys.exit(130)
    run()


if __name__ == "__main__":
    main()
