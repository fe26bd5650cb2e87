"""Why chosen parts do not work together, and how badly: what ranks choices where none works."""

from __future__ import annotations

from typing import Self

OUTDONE = 1.0
"""Each would run, but another choice runs with fewer stops or strains, or uses up more of its cells."""
FAILS = 1.4
"""A pin is missing, or a supply does not feed what hangs on it, or not for as long as is wanted."""
RUINS = 1.8
"""A part is destroyed."""
_SPREAD = 0.2
"""What stops add at the most: less than lies between two kinds."""


class Refusal(str):
    """The reason in words; empty where nothing is refused.

    Attributes
    ----------
    weight
        1 to 2: by the kind of the reason, and within a kind by how many stops stand.
    """

    weight: float

    def __new__(cls, why: str, kind: float = OUTDONE, stops: int = 0) -> Self:
        """Return a reason with its weight; an empty one weighs nothing."""
        made = super().__new__(cls, why)
        made.weight = kind + _SPREAD * (1 - 1 / (1 + stops)) if why else 0.0
        return made


def weight_of(why: str) -> float:
    """Return what a reason weighs: 1 where it does not say how bad it is, 0 where it is empty."""
    return why.weight if isinstance(why, Refusal) else float(bool(why))
