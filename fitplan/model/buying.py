"""What must be had to build a plan, piece by piece, by where one buys it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias, get_args

Shop: TypeAlias = Literal[
    "electronics",
    "cells and power",
    "wire and crimping",
    "bricks",
    "tools and tape",
    "findings ask for",
    "comes out",
]
SHOPS: tuple[Shop, ...] = get_args(Shop)
"""By where it is bought; at the end what findings ask for beside the plan, and bricks that become free."""

Unit: TypeAlias = Literal["pcs", "pair", "m", "mm", "g"]

WASTE_SHARE = 0.1
"""Share of wire that is bought beyond the cut lengths: trial cuts and ends (common practice, no source)."""


@dataclass(frozen=True)
class Asked:
    """A thing that a finding asks for beside the plan: what, and how much of it."""

    name: str
    quantity: float = 1.0
    unit: Unit = "pcs"


@dataclass(frozen=True)
class Article:
    """A thing to have: how many the plan takes, and how many more to have by.

    Attributes
    ----------
    part
        Its id in the catalogue; empty where it stands in none.
    serves
        Parts, couplings, splices, wires that it is for.
    each
        Price of one; 0 where the user gave none.
    owned
        How many of it the user has already: no more than needed and spare.
    """

    shop: Shop
    name: str
    needed: float
    spare: float
    unit: Unit
    serves: tuple[str, ...]
    where: str = ""
    part: str = ""
    note: str = ""
    each: float = 0.0
    owned: float = 0.0

    @property
    def buy(self) -> float:
        """How many to buy: what is needed and to spare, without what is there already."""
        return self.needed + self.spare - self.owned

    @property
    def cost(self) -> float:
        """What that costs; 0 where no price is known."""
        return self.buy * self.each
