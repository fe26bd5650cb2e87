"""What the user decides about the harness: wires, connectors, allowances, spools."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fitplan.model.nets import WiringStyle


@dataclass(frozen=True)
class Allowances:
    """What is added to a bare way, in mm; all of it common practice, no source.

    Attributes
    ----------
    lead_out
        At each pin, and at a connector's cavity: a straight piece before the way begins. 0 as a rule, since
        the way itself begins at the pin, along its exit.
    slack_share
        Share of the bare way, as a wire that is taped down is never taut.
    per_bend
        At each turn by more than `bend_from_deg` degrees.
    bend_from_deg
        See above.
    strip
        Insulation taken off at a pin or cavity; the copper is part of the cut length.
    splice_overlap
        At a splice: bared copper that lies alongside the other wires.
    service_loop
        At an end whose part has to come out again.
    rounding
        Cut lengths are rounded up to a multiple of this.
    """

    lead_out: float = 0.0
    slack_share: float = 0.04
    per_bend: float = 1.0
    bend_from_deg: float = 30.0
    strip: float = 4.0
    splice_overlap: float = 8.0
    service_loop: float = 25.0
    rounding: float = 5.0

    def __post_init__(self) -> None:
        """Refuse negative figures and a rounding step of nothing."""
        for name in ("lead_out", "slack_share", "per_bend", "strip", "splice_overlap", "service_loop"):
            if not getattr(self, name) >= 0:
                raise ValueError(f"the allowance {name} is at least 0, not {getattr(self, name)}")
        if not self.rounding > 0:
            raise ValueError(f"lengths are rounded up to a positive step, not {self.rounding}")


@dataclass(frozen=True)
class Slack:
    """What is added to the longest distance over a coupling, and what is kept below.

    Attributes
    ----------
    share, least
        Slack as a share of the longest distance, but at least so many mm (common practice, no source).
    above_rail
        The wires stay at least so far above the rail head, in mm (common practice, no source).
    """

    share: float = 0.1
    least: float = 6.0
    above_rail: float = 4.0


SPOOL_COLOURS = ("BK", "BN", "RD", "OG", "YE", "GN", "BU", "VT", "GY", "WH", "PK", "GD", "TQ", "SR")
"""Colours that a wire may have, by the letter codes of IEC 60757 (from memory, not confirmed). Green and
yellow together mark protective earth and are never given out."""


@dataclass(frozen=True)
class Spool:
    """Wire of one colour that the user owns; ``metres`` of it, inf when not said; ``awg`` 0: of any gauge."""

    colour: str
    metres: float = math.inf
    awg: int = 0


@dataclass(frozen=True)
class Wiring:
    """What the user decides about the harness.

    ``drop_limit_v`` is the largest drop there and back in a ground or supply net, in V (common practice, no
    source).
    """

    signal_wire: str = "wire-awg28"
    power_wire: str = "wire-awg24"
    style: WiringStyle = "tree"
    coupling_connector: str = ""
    """Catalogue id of the connector pair at each coupling; empty: wires run through."""
    drop_limit_v: float = 0.15
    allowances: Allowances = Allowances()
    coupling_slack: Slack = Slack()
    spools: tuple[Spool, ...] = ()
    """Colours at hand; none named: all of `SPOOL_COLOURS`."""
    leads: tuple[str, ...] = ()
    """Ids of ready-made single leads, taken for wires whose ends they fit, the first that does."""
    solder: bool = True
    """False: nothing may need a soldering iron."""


USUAL_WIRING = Wiring()
"""What holds where the user decides nothing."""
