"""From the bare way to the length that is cut: what the bench adds, each item with its setting."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

EndKind = Literal["pin", "splice", "connector"]


@dataclass(frozen=True)
class Allowances:
    """What is added to a bare way, in mm; all of it common practice, no source.

    Attributes
    ----------
    lead_out
        At each pin: the piece along the pin's exit direction before the way begins; also at a
        connector's cavity.
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

    lead_out: float = 5.0
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
class End:
    """One end of a wire.

    Attributes
    ----------
    kind
        What it is joined to.
    comes_out
        The part has to come out again (cells, a board to be programmed), so the wire gets a service loop.
    lead_out
        Its own lead-out in mm where the part states one; None takes the setting.
    """

    kind: EndKind = "pin"
    comes_out: bool = False
    lead_out: float | None = None


@dataclass(frozen=True)
class CutLength:
    """A cut length and how it comes about.

    Attributes
    ----------
    bare_mm
        The way alone.
    additions
        (what, mm) in the order they were added; items of 0 are left out.
    exact_mm, cut_mm
        The sum, and the sum rounded up.
    """

    bare_mm: float
    additions: tuple[tuple[str, float], ...]
    exact_mm: float
    cut_mm: float


def cut_length(
    bare_mm: float,
    ends: tuple[End, End],
    *,
    turns_deg: Sequence[float] = (),
    joints: Sequence[tuple[float, float]] = (),
    allowances: Allowances | None = None,
) -> CutLength:
    """Return the length to cut for a wire.

    Parameters
    ----------
    bare_mm
        Length of the taut way inside the vehicles, in mm; couplings in between not counted.
    turns_deg
        By how many degrees the way turns at its corners (`fitplan.routing.taut.TautWay.turns_deg`).
    joints
        For each coupling crossed: the free length over the joint at worst and the slack in it, in mm
        (`fitplan.routing.coupling`); slack is listed apart.

    Raises
    ------
    ValueError
        A length is negative.
    """
    if not bare_mm >= 0 or any(not free >= slack >= 0 for free, slack in joints):
        raise ValueError("a way and a joint have lengths of at least 0, and a joint is at least its slack")
    by = allowances or Allowances()
    items: list[tuple[str, float]] = []
    if joints:
        items.append(("over couplings", sum(free - slack for free, slack in joints)))
        items.append(("slack at couplings", sum(slack for _, slack in joints)))
    leads = [_lead_out(end, by) for end in ends]
    items.append(("lead-out", sum(leads)))
    items.append(("not taut", bare_mm * by.slack_share))
    items.append(("bends", by.per_bend * sum(1 for turn in turns_deg if turn > by.bend_from_deg)))
    items.append(("stripping", sum(by.strip for end in ends if end.kind != "splice")))
    items.append(("splice overlap", sum(by.splice_overlap for end in ends if end.kind == "splice")))
    items.append(("service loop", sum(by.service_loop for end in ends if end.comes_out)))
    exact = bare_mm + sum(amount for _, amount in items)
    steps = math.ceil(exact / by.rounding - 1e-9)
    kept = tuple((name, amount) for name, amount in items if amount)
    return CutLength(bare_mm, kept, exact, steps * by.rounding)


def _lead_out(end: End, by: Allowances) -> float:
    if end.kind == "splice":
        return 0.0
    return by.lead_out if end.lead_out is None else end.lead_out
