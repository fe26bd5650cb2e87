"""Leads that stay cut in two until they are led through: with its plug on, an end does not pass."""

from __future__ import annotations

from fitplan.model.led_through import over_studs, plug_at, slips
from fitplan.model.plan import Plan
from fitplan.model.work import EndOf, WorkStep


def parted_leads(plan: Plan) -> dict[EndOf, int]:
    """Return the ends of shortened leads that are led through a port or hole too narrow for their plug.

    With each stands the step that leads it through the last of these: what was cut off with the plug is
    joined on again there.
    """
    return {
        end: step.number
        for step in plan.work.steps
        if step.act == "thread" and not step.parts
        for end in step.ends
        if _is_kept_out(plan, step, end)
    }


def _is_kept_out(plan: Plan, step: WorkStep, end: EndOf) -> bool:
    number, side = end
    wire = next((one for one in plan.built.harness.wires if one.number == number), None)
    if wire is None or wire.lead is None or not wire.lead.shortened:
        return False
    vehicle = plan.built.train.vehicle(step.vehicle).vehicle
    port = vehicle.port(step.port)
    if step.hole is not None:
        size = step.hole.size
    elif port is not None:
        size = over_studs(vehicle, port, plan.built.taken_out(step.vehicle))
    else:
        return False
    return not slips(plug_at(plan.built, wire.start if side == "start" else wire.end), size)
