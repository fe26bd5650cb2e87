"""How several names are said one after the other."""

from __future__ import annotations

from collections.abc import Sequence


def listed(names: Sequence[str], last: str = "and") -> str:
    """Return no name, one, or several with commas and a word before the last: ``a, b and c``."""
    return "".join(names) if len(names) < 2 else f"{', '.join(names[:-1])} {last} {names[-1]}"
