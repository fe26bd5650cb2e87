"""What each style of joining a net takes, as a table."""

from __future__ import annotations

from collections.abc import Sequence

from fitplan.model.found import Table
from fitplan.model.nets import WiringStyle
from fitplan.model.wiring_facts import NetStyles, StyleCost

NAMES: dict[WiringStyle, str] = {"tree": "tree", "home-run": "home runs", "chain": "daisy chain"}


def styles_table(found: Sequence[NetStyles]) -> Table | None:
    """Return the comparison as a table, or None when no net has three pins."""
    if not found:
        return None
    rows = []
    for entry in found:
        cells: list[str | float] = [entry.net, float(entry.pins), NAMES[entry.style]]
        for cost in entry.costs:
            cells += ["not possible", ""] if cost.reason else [round(cost.copper_mm), float(cost.joints)]
        rows.append((*cells, _remark(entry.costs)))
    heads = [head for name in NAMES.values() for head in (f"{name}, mm", f"{name}, joints")]
    return Table(
        title="Styles compared, net by net",
        columns=("net", "pins", "planned as", *heads, "remark"),
        rows=tuple(rows),
        note=(
            "Cheapest ways alone in the placed train, without allowances. A daisy chain puts two wires on "
            "each pin between its ends that takes two; the others hang from it by a splice. Choose with "
            "'style' of the net or of 'wiring'."
        ),
    )


def _remark(costs: Sequence[StyleCost]) -> str:
    """Say what is not possible and why, which takes the least copper, and what crosses couplings."""
    said = [f"{NAMES[cost.style]}: {cost.reason}" for cost in costs if cost.reason]
    possible = {cost.style: cost for cost in costs if not cost.reason}
    if possible:
        least = min(possible, key=lambda style: (round(possible[style].copper_mm), possible[style].joints))
        said.append(f"least copper: {NAMES[least]}")
    across = {NAMES[style]: cost.across for style, cost in possible.items()}
    if len(set(across.values())) > 1:
        counts = ", ".join(f"{name} {count}" for name, count in across.items())
        said.append(f"conductors across: {counts}")
    return "; ".join(said)
