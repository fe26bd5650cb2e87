"""Which wires meet in each cavity of a connector pair at a coupling."""

from __future__ import annotations

from fitplan.model.plan import Plan
from fitplan.model.wired import Wire


def cavities(plan: Plan, coupling: str, ahead: str) -> dict[str, tuple[Wire | None, Wire | None]]:
    """Return for each cavity of a coupling's connector the wire ahead and the wire behind."""
    found: dict[str, tuple[Wire | None, Wire | None]] = {}
    for wire in plan.built.harness.wires:
        for end in (wire.start, wire.end):
            if end.kind == "connector" and end.owner == coupling:
                one, two = found.get(end.pin, (None, None))
                found[end.pin] = (wire, two) if end.vehicle == ahead else (one, wire)
    return dict(sorted(found.items(), key=lambda item: _number(item[0])))


def _number(cavity: str) -> tuple[int, str]:
    return (int(cavity), "") if cavity.isdecimal() else (10**6, cavity)
