"""The library for meshes, loaded by itself.

Where scipy is installed the library takes it in for much that is not asked of it here, and then takes six
times as long to load. It does without where there is none, as for most users, and so it does here.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def without(name: str) -> Iterator[None]:
    """Let a module count as not installed while this lasts, unless it is loaded already."""
    if name in sys.modules:
        yield
        return
    sys.modules[name] = None  # type: ignore[assignment]  # so the import system is told that there is none
    try:
        yield
    finally:
        del sys.modules[name]


with without("scipy"):
    import trimesh as trimesh
