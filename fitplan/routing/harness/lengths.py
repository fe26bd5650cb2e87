"""From the bare way to the length that is cut: what the bench adds, each item with its setting."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from fitplan.model.wiring import Allowances

EndKind = Literal["pin", "splice", "connector"]


@dataclass(frozen=True)
class CutEnd:
    """One end of a wire.

    Attributes
    ----------
    kind
        What it is joined to.
    comes_out
        The part has to come out again (cells, a board to be programmed), so the wire gets a service loop.
    """

    kind: EndKind = "pin"
    comes_out: bool = False


@dataclass(frozen=True)
class CutLength:
    """A cut length and how it comes about.

    Attributes
    ----------
    bare_mm
        The way alone.
    additions
        (what, mm) in the order they were added; items of 0 are left out.
    cut_mm
        The sum, rounded up.
    """

    bare_mm: float
    additions: tuple[tuple[str, float], ...]
    cut_mm: float


def cut_length(
    bare_mm: float,
    ends: tuple[CutEnd, CutEnd],
    *,
    turns_deg: Sequence[float] = (),
    couplings: Sequence[tuple[float, float]] = (),
    allowances: Allowances | None = None,
) -> CutLength:
    """Return the length to cut for a wire.

    Parameters
    ----------
    bare_mm
        Length of the taut way inside the vehicles, in mm; couplings in between not counted.
    turns_deg
        By how many degrees the way turns at its corners (`fitplan.routing.ways.taut.turning_angles`).
    couplings
        For each coupling crossed: the free length over it at worst and the slack in it, in mm
        (`fitplan.routing.harness.coupling_slack`); slack is listed apart.

    Raises
    ------
    ValueError
        A length is negative.
    """
    if not bare_mm >= 0 or any(not free >= slack >= 0 for free, slack in couplings):
        raise ValueError("a way has a length of at least 0, and a coupling at least its slack")
    by = allowances or Allowances()
    items: list[tuple[str, float]] = []
    if couplings:
        items.append(("over couplings", sum(free - slack for free, slack in couplings)))
        items.append(("slack at couplings", sum(slack for _, slack in couplings)))
    items.append(("lead-out", sum(by.lead_out for end in ends if end.kind != "splice")))
    items.append(("not taut", bare_mm * by.slack_share))
    items.append(("bends", by.per_bend * sum(1 for turn in turns_deg if turn > by.bend_from_deg)))
    items.append(("stripping", sum(by.strip for end in ends if end.kind != "splice")))
    items.append(("splice overlap", sum(by.splice_overlap for end in ends if end.kind == "splice")))
    items.append(("service loop", sum(by.service_loop for end in ends if end.comes_out)))
    exact = bare_mm + sum(amount for _, amount in items)
    steps = math.ceil(exact / by.rounding - 1e-9)
    kept = tuple((name, amount) for name, amount in items if amount)
    return CutLength(bare_mm, kept, steps * by.rounding)
