"""Which pins are joined."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

NetRole: TypeAlias = Literal["ground", "supply", "signal"]
WiringStyle: TypeAlias = Literal["tree", "home-run", "chain"]


@dataclass(frozen=True)
class PinRef:
    """One end of a net.

    ``owner`` is a need's name, or ``vehicle/built-in``. ``pin`` is a pin's name, a role (``ground``,
    ``raw``, ``5v`` …: the part's pins of that role), or ``*``: any signal pin that can do what the other
    ends want, to be chosen by the pin matching.
    """

    owner: str
    pin: str


@dataclass(frozen=True)
class Net:
    """Pins that are joined.

    ``current_ma`` is the user's own figure for the gauge; 0: computed from the loads.
    """

    name: str
    role: NetRole
    joins: tuple[PinRef, ...]
    style: WiringStyle = "tree"
    current_ma: float = 0.0
    lead: str = ""
    """Id of the lead as bought that plugs its two ends together, ground with it; empty: wires."""
