"""What the wiring says of itself beside the harness: bend radius, joints, couplings, styles, ribbon."""

from __future__ import annotations

from fitplan.model.plan import BuiltTrain, Outcome
from fitplan.routing.harness.couplers import coupler_outcome
from fitplan.routing.harness.flat_cable import ribbon_table
from fitplan.routing.harness.joint_findings import joint_findings
from fitplan.routing.harness.styles import compare, styles_table
from fitplan.routing.negotiation.layout import Layout
from fitplan.routing.ways.bend_room import SUBJECT, bend_findings


def wiring_outcome(built: BuiltTrain, layout: Layout, *, deadline: float | None = None) -> Outcome:
    """Return findings and tables on the harness of a wired train.

    Parameters
    ----------
    built
        The train with its harness.
    layout
        What the harness was laid out in (`fitplan.routing.harness.harness.Wired`).
    deadline
        A value of `time.monotonic`; after it no further net is laid in other styles.
    """
    harness = built.harness
    findings, bends = bend_findings(harness)
    proposals, couplers = coupler_outcome(built.train, harness)
    tables = (
        couplers,
        bends,
        styles_table(compare(built, harness, layout, deadline)),
        ribbon_table(built.train, harness),
    )
    findings = (*findings, *joint_findings(harness, layout), *proposals)
    return Outcome(SUBJECT, findings, tuple(table for table in tables if table is not None))
