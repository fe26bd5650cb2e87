"""What the user has already."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

Tool: TypeAlias = Literal["soldering iron", "crimping tool", "heat gun", "meter"]
TOOLS: tuple[Tool, ...] = ("soldering iron", "crimping tool", "heat gun", "meter")
"""Tools that a harness is made with."""


@dataclass(frozen=True)
class OnHand:
    """What the user has already.

    Attributes
    ----------
    parts
        Ids of the catalogue, and how many of each lie in the drawer.
    tools
        Tools at hand.
    """

    parts: tuple[tuple[str, int], ...] = ()
    tools: tuple[Tool, ...] = TOOLS

    def count(self, part: str) -> int:
        """Return how many of a part there are."""
        return dict(self.parts).get(part, 0)


ONLY_TOOLS = OnHand()
"""Every tool, and no parts."""
