"""What there is to say of a harness beside its electrics: bends, joints, couplings, styles, ribbon."""

from __future__ import annotations

from fitplan.checks.connector_bodies import connector_bodies
from fitplan.checks.wire_bends import SUBJECT, bend_findings
from fitplan.checks.wire_colours import colour_findings
from fitplan.checks.wire_couplers import coupler_outcome
from fitplan.checks.wire_ends import end_findings
from fitplan.checks.wire_ribbon import ribbon_table
from fitplan.checks.wire_styles import styles_table
from fitplan.checks.wire_trunks import tree_findings, trunk_findings, trunk_table
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Outcome


def check_wiring(built: BuiltTrain) -> Outcome:
    """Word what routing found out of the harness (`fitplan.model.wiring_facts`)."""
    harness = built.harness
    findings, bends = bend_findings(harness.facts.bends)
    proposals, couplers = coupler_outcome(built.train, harness)
    tables = (
        couplers,
        bends,
        styles_table(harness.facts.styles),
        trunk_table(harness.facts.trunks),
        ribbon_table(built.train, harness),
    )
    findings = (
        *findings,
        *end_findings(harness),
        *trunk_findings(harness.facts.trunks),
        *tree_findings(harness.facts.unproved),
        *colour_findings(built),
        *proposals,
        *connector_bodies(built),
    )
    return Outcome(SUBJECT, findings, tuple(table for table in tables if table is not None))
