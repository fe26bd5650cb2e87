"""All lists of a plan together: what the workbook holds, and what becomes a CSV file each."""

from __future__ import annotations

from fitplan.model.plan import Plan
from fitplan.report.lists.bring_up_list import bring_up_list
from fitplan.report.lists.build_sequence import sequence_list
from fitplan.report.lists.buying_list import buying_list
from fitplan.report.lists.harness_lists import (
    bundle_list,
    connector_list,
    coupling_list,
    cut_list,
    harness_list,
    join_list,
    total_list,
)
from fitplan.report.lists.meter_list import meter_list
from fitplan.report.lists.parts_list import parts_list
from fitplan.report.lists.plan_list import PlanList
from fitplan.report.lists.result_lists import (
    added_list,
    assembly_list,
    exchange_list,
    finding_list,
    fit_list,
    option_list,
    pin_list,
    place_list,
)
from fitplan.report.lists.rework_list import rework_list


def all_lists(plan: Plan) -> tuple[PlanList, ...]:
    """Return every list of a plan, in the order of the workbook's sheets."""
    rework = rework_list(plan)
    return (
        *((rework,) if rework is not None else ()),
        parts_list(plan),
        buying_list(plan),
        harness_list(plan),
        bundle_list(plan),
        cut_list(plan),
        join_list(plan),
        connector_list(plan),
        coupling_list(plan),
        total_list(plan),
        place_list(plan),
        pin_list(plan),
        finding_list(plan),
        fit_list(plan),
        option_list(plan),
        assembly_list(plan),
        sequence_list(plan),
        added_list(plan),
        exchange_list(plan),
        meter_list(plan),
        bring_up_list(plan),
    )
