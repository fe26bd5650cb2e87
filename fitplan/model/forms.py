"""Forms of one part in the catalogue: as it comes, bare, with soldered pin rows, with leads of its own."""

from __future__ import annotations

PLUGGED = "-plugged"
"""Added to the id of a part in whose socket a lead is plugged."""
_ENDINGS = ("-pins", "-leads", "-bare")


def stem_of(part_id: str) -> str:
    """Return what the ids of all forms of a part have in common."""
    stem = part_id.removesuffix(PLUGGED)
    return next((stem.removesuffix(ending) for ending in _ENDINGS if stem.endswith(ending)), stem)


def soldered_forms(part_id: str) -> tuple[str, ...]:
    """Return ids of forms that wires would be soldered to, of one that is plugged or comes with leads."""
    form = part_id.removesuffix(PLUGGED)
    plain = form.endswith(("-pins", "-leads"))
    return (f"{stem_of(part_id)}-bare", stem_of(part_id)) if plain else ()
