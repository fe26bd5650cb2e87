"""What is measured before a train is switched on for the first time, and what the meter should show.

A sequence of readings in the order in which they are taken: with the cells out, then with the cells in.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

Quantity: TypeAlias = Literal["Ω", "V", "mA"]
MeterStage: TypeAlias = Literal["continuity", "supply to ground", "neighbours", "coupled", "source", "power"]
STAGES: tuple[MeterStage, ...] = (
    "continuity",
    "supply to ground",
    "neighbours",
    "coupled",
    "source",
    "power",
)
STAGE_WORDS: dict[MeterStage, str] = {
    "continuity": (
        "Cells and banks out, switches off, couplings apart, no lead in a socket. "
        "Wire by wire, end to end: joined."
    ),
    "supply to ground": (
        "Still without cells. Each supply against its ground: never joined. Wait until the reading stands, "
        "read it again with the leads exchanged; the higher counts."
    ),
    "neighbours": (
        "Still without cells. Pins and cavities that lie side by side: the lowest reading of each row. "
        "Where it is too low, exchange the leads and read again; the higher counts."
    ),
    "coupled": "Still without cells. Couple the train, then through each coupling; then switches and fuses.",
    "source": (
        "Part the couplings. Only when all readings before were right: cells in, switches off, no load "
        "plugged in yet."
    ),
    "power": (
        "One vehicle and one load after the other. Switch off before anything is plugged, coupled or "
        "soldered. Smoke, smell or warmth: switch off, cells out."
    ),
}
"""The state of the train in each stage, and what is measured then."""


@dataclass(frozen=True)
class Probe:
    """Where a lead of the meter touches: a pin of a part, or a cavity of a half of a coupling connector."""

    kind: Literal["pin", "connector"]
    owner: str
    pin: str
    vehicle: str


@dataclass(frozen=True)
class MeterTest:
    """One reading.

    Attributes
    ----------
    first
        What is done before it; empty where nothing changes.
    pairs
        Red lead and black lead; several pairs are one row, of which the lowest reading counts.
    low, high
        What the reading must lie between; ``high`` None: no limit.
    wires
        The wires between the two leads.
    look
        What a wrong reading means, and where to look.
    """

    number: int
    stage: MeterStage
    vehicle: str
    first: str
    quantity: Quantity
    pairs: tuple[tuple[Probe, Probe], ...]
    low: float
    high: float | None
    wires: tuple[int, ...]
    look: str

    def passes(self, reading: float) -> bool:
        """Return whether a reading is as it must be; an open circuit reads infinite."""
        return self.low <= reading and (self.high is None or reading <= self.high)


@dataclass(frozen=True)
class MeterCoverage:
    """How many single faults the readings without cells tell, of how many; ``untold`` says which they do not.

    Opens: each wire broken. Shorts: each two neighbouring pins or cavities bridged. Swaps: the wires of each
    two neighbours exchanged.
    """

    opens: int = 0
    opens_told: int = 0
    shorts: int = 0
    shorts_told: int = 0
    swaps: int = 0
    swaps_told: int = 0
    untold: tuple[str, ...] = ()


@dataclass(frozen=True)
class MeterPlan:
    """All readings, in order; ``held`` says why nothing may be switched on, empty where it may."""

    tests: tuple[MeterTest, ...] = ()
    coverage: MeterCoverage = MeterCoverage()
    held: str = ""


NO_METER = MeterPlan()
"""Nothing to measure."""

JOINED_OHM = 2.0
"""Highest reading of what is joined, beside wires and resistors: leads and contacts (common practice)."""
APART_OHM = 100.0
"""Least reading of what is apart, where no part between asks for less (common practice, no source)."""
SHORT_OHM = 1.0
"""What a bridge of solder or a stray strand has at most (common practice, no source)."""
NEIGHBOUR_MM = 6.0
"""Pins farther apart than this are no neighbours: longer than a stray strand (common practice, no source)."""
NEIGHBOUR_SHARE = 1.3
"""A pin's neighbours lie within so many times the distance of the nearest one."""
