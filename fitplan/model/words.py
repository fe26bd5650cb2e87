"""How several names are said one after the other."""

from __future__ import annotations

from collections.abc import Sequence


def listed(names: Sequence[str], last: str = "and") -> str:
    """Return one name, or several with commas and a word before the last: ``a, b and c``."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} {last} {names[-1]}"
