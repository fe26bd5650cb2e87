"""How long a source feeds what hangs on it, told as a finding: as long as the train is to run, or not."""

from __future__ import annotations

import math
from collections.abc import Mapping

from fitplan.checks.supply_limits import NO_WAY, SUBJECT, links_of
from fitplan.circuit.chain import Undersupplied
from fitplan.circuit.discharge import Discharge, discharge
from fitplan.circuit.supply_tree import SupplyTree, nominal_volts
from fitplan.model.electrical import CellPack
from fitplan.model.found import Finding

SOLVED = "discharge solved with the cells' curves; cells differ by some 15 %"
LEAST_SERVICE = "alkaline cells that just meet the minimum of IEC 60086-2 (from memory) last 14 to 40 % less"

FIRST_FIFTH = 0.8
"""State of charge above which cells' volts are from memory."""
LOWER_V = 0.05
"""So much lower may a fresh cell's volts be than its curve (from memory)."""


def running_time(
    tree: SupplyTree, hours: float, leads: Mapping[str, float], run: Discharge, better: str = ""
) -> Finding:
    """Return how long a source lasts: a stop where it is less than the train is to run.

    Parameters
    ----------
    hours
        That the train is to run.
    leads
        Ohms of what leads there and back, by owner.
    run
        The discharge of the source with these leads.
    better
        What lasts as long, if it is known.
    """
    lower = _with_lower_cells(tree, run, leads)
    failed = run.failed
    if run.at_start and failed is not None:
        return Finding(
            SUBJECT,
            "stop",
            tree.owner,
            f"with fresh cells {failed.owner} already {failed.reason} at peak current",
            round(failed.figure, 3),
            round(failed.limit, 3),
            failed.unit,
            _rail_for(tree, failed) or better or NO_WAY,
            solved(tree),
        )
    ending = "then it is empty"
    if failed is not None:
        digits = 2 if failed.unit == "V" else 0
        ending = f"then {failed.owner} {failed.reason} ({failed.figure:.{digits}f} {failed.unit})"
    short = run.hours < hours
    needed = tree.source.capacity_mah * hours / run.hours if run.hours > 0 else 0.0
    return Finding(
        SUBJECT,
        "stop" if short else "note",
        tree.owner,
        f"runs for {in_hours(run.hours)}, {ending}; {run.average_ma:.0f} mAh per running hour{lower}",
        round(run.hours, 2) if run.hours < math.inf else 9999.0,
        hours,
        "h",
        (better or _no_such_cells(run.hours, hours, needed))
        if short
        else "nothing to do; have fresh or charged cells ready by then",
        solved(tree),
    )


def _no_such_cells(lasts: float, hours: float, needed_mah: float) -> str:
    """Return what helps where no usual way of the catalogue lasts as long as is asked."""
    return (
        f"no usual way with parts of the catalogue lasts {hours:g} h: let the train draw less, or change "
        f"cells every {in_hours(lasts)}; cells like these would have to hold at least {needed_mah:.0f} mAh"
    )


def _with_lower_cells(tree: SupplyTree, run: Discharge, leads: Mapping[str, float]) -> str:
    """Return how long cells of lower volts last where the run ends before a fifth of the charge is used.

    There the volts of the curve are from memory, and a little less of them costs most of the time.
    """
    if not isinstance(tree.source, CellPack) or run.failed is None or run.at_start or run.left < FIRST_FIFTH:
        return ""
    least = discharge(tree, leads, course=False, lower_v=LOWER_V).hours
    return f"; with cells that give {LOWER_V:g} V less each, {in_hours(least)}"


def _rail_for(tree: SupplyTree, failed: Undersupplied) -> str:
    """Return what helps a load that no cells help: its rail gives fewer volts than it needs by its label."""
    for link, _ in links_of(tree.root, nominal_volts(tree.source)):
        volts = link.regulator.out_v if link.regulator is not None else math.inf
        fed = next((one for one in link.below.fed if one.owner == failed.owner), None)
        if fed is not None and failed.unit == "V" and volts < fed.min_v:
            return f"feed {fed.owner} from a rail of {fed.min_v:g} V or more: here it gets {volts:g} V"
    return ""


def solved(tree: SupplyTree) -> str:
    """Return the source of hours, and how far off they may be."""
    return f"{SOLVED}; {LEAST_SERVICE}" if is_primary(tree) else SOLVED


def in_hours(hours: float) -> str:
    """Return hours as they are told."""
    return f"{hours:.1f} h" if hours < math.inf else "as long as the cells keep"


def is_primary(tree: SupplyTree) -> bool:
    """Return whether cells are thrown away once they are empty."""
    return isinstance(tree.source, CellPack) and tree.source.chemistry == "alkaline"
