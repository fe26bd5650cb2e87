"""What can be wrong with the nets as nets: a kind, and what it is about."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

FaultKind: TypeAlias = Literal[
    "role of a net",
    "no ground",
    "part without wire",
    "part without ground",
    "part without supply",
    "supply pin open",
    "supply feeds nobody",
    "pin open",
    "grounds apart",
    "source shorted",
    "polarity reversed",
    "ground pin on plus",
    "supply pin on ground",
    "different volts",
    "sources in parallel",
    "output on supply",
    "fed at its output",
    "signal on ground",
    "ground pin on signal",
    "outputs shorted",
    "trigger on echo",
    "switch bypassed",
    "switches side by side",
    "switch open",
    "net joins nothing",
    "net without source",
    "signal without sender",
    "input held",
    "series of unlike cells",
    "too many volts",
    "volts out of range",
    "regulator input open",
    "regulator feeds nobody",
    "charger without cells",
    "driver without motor",
    "motor on a pin",
    "motor lead open",
    "motor leads joined",
    "motor not switched",
    "motor across channels",
    "driver without commands",
]


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong.

    Attributes
    ----------
    owners, nets, pins
        What it is about, in the order of the train file; pins as ``owner.pin``.
    figure, limit
        The number that is wrong against what it should be at most (at least for counts of zero).
    """

    kind: FaultKind
    owners: tuple[str, ...]
    nets: tuple[str, ...] = ()
    pins: tuple[str, ...] = ()
    figure: float = 0.0
    limit: float = 1.0
    follows: tuple[str, ...] = ()
    """Owners that get nothing, or get it the wrong way round, by this alone."""
    idle: tuple[str, ...] = ()
    """Sources that feed nothing by this alone."""
    instead: str = ""
    """What would do: the pin that could take what this one cannot, as ``owner.pin``; the role of a net."""
