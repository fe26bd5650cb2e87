"""Trunk and branches: what it costs in wire that small loads pass on nobody else's current."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from fitplan.checks.sources import PRACTICE
from fitplan.checks.wire_bends import SUBJECT
from fitplan.model.found import Finding, Table
from fitplan.model.wiring_facts import Trunk, Unproved


def trunk_findings(trunks: Sequence[Trunk]) -> Iterator[Finding]:
    """Tell of each net that runs through pins of small loads after all, as no splice has room."""
    for trunk in trunks:
        if not trunk.branched:
            loads = ", ".join(load for branch in trunk.branches for load in branch)
            yield Finding(
                subject=SUBJECT,
                severity="caution",
                where=f"{trunk.net} in {trunk.vehicle}",
                message=(
                    f"the net {trunk.net} runs on through pins of small loads ({loads}): no splice has room "
                    "for a trunk with branches"
                ),
                figure=0.0,
                limit=1.0,
                unit="trunks",
                remedy="put in a distribution board and join it in the net, or leave room for a splice",
                source=PRACTICE,
            )


def tree_findings(unproved: Sequence[Unproved]) -> Iterator[Finding]:
    """Tell of each tree that is not proved shortest by how much it may be too long."""
    for tree in unproved:
        gap = 100 * (1 - tree.least_mm / tree.cost_mm) if tree.cost_mm else 0.0
        yield Finding(
            subject=SUBJECT,
            severity="note",
            where=f"{tree.net} in {tree.vehicle}",
            message=(
                f"the tree of {tree.net} over {tree.pins} places is not proved to be the shortest: it counts "
                f"{tree.cost_mm:.0f} mm, and none counts less than {tree.least_mm:.0f} mm"
            ),
            figure=round(gap, 1),
            limit=0.0,
            unit="% at most too long",
            remedy="nothing to do; split the net by a distribution board where wire is short",
            source="exact tree of some of its places, and half of the ways that span all",
        )


def trunk_table(trunks: Sequence[Trunk]) -> Table | None:
    """Return what each net takes with its loads as branches and strung through them, or None without any."""
    rows = [
        (
            trunk.net,
            trunk.vehicle,
            "; ".join(" – ".join(branch) for branch in trunk.branches),
            round(trunk.copper_mm),
            round(trunk.strung_mm),
            round(trunk.copper_mm - trunk.strung_mm),
        )
        for trunk in trunks
        if trunk.branched
    ]
    if not rows:
        return None
    return Table(
        title="Trunk and branches",
        columns=("net", "vehicle", "branches", "wire, mm", "strung through loads, mm", "more, mm"),
        rows=tuple(rows),
        note=(
            "Pins of small loads pass on only what loads of the same kind draw; everything else is joined at "
            "supply, controller, couplings and splices. The style 'chain' of a net strings it all the same."
        ),
    )
