"""Whether corners of wires have room for their bend radius."""

from __future__ import annotations

from collections.abc import Sequence

from fitplan.model.found import Finding, Table
from fitplan.model.wiring_facts import HOOK_UP_DIAMETERS, NOT_BELOW_DIAMETERS, LegBends

SUBJECT = "wiring"
HOOK_UP_SOURCE = "IPC/WHMA-A-620, Table 14-1: insulated hook-up wire, 2 outer diameters"
HARNESS_SOURCE = "NASA-STD-8739.4: harnesses, not below 6 outer diameters"


def bend_findings(bends: Sequence[LegBends]) -> tuple[tuple[Finding, ...], Table | None]:
    """Return cautions for wires that are bent too sharply, a note on their ends, and the table of all bends.

    Wires that are bent too sharply at one and the same place are told of together.
    """
    findings: list[Finding] = []
    places: dict[tuple[str, tuple[int, ...]], list[LegBends]] = {}
    for bend in bends:
        if bend.tightest_mm < HOOK_UP_DIAMETERS * bend.outer_mm - 1e-6:
            cell = tuple(round(c / 8.0) for c in bend.at)
            places.setdefault((bend.vehicle, cell), []).append(bend)
    for (vehicle, _), here in places.items():
        findings.append(_too_sharp(vehicle, here))
    at_ends = [b for b in bends if b.at_end_mm < HOOK_UP_DIAMETERS * b.outer_mm - 1e-6]
    if at_ends:
        findings.append(_at_ends(at_ends))
    return tuple(findings), _table(bends)


def _too_sharp(vehicle: str, here: Sequence[LegBends]) -> Finding:
    worst = min(here, key=lambda bend: bend.tightest_mm / bend.outer_mm)
    numbers = ", ".join(str(bend.wire) for bend in here)
    x, y, z = worst.at
    return Finding(
        subject=SUBJECT,
        severity="caution",
        where=f"{vehicle} at {x:.1f}, {y:.1f}, {z:.1f} mm",
        message=(
            f"{'wires' if len(here) > 1 else 'wire'} {numbers}: a corner has no room for the smallest bend "
            f"radius of a wire {worst.outer_mm:g} mm thick"
        ),
        figure=round(worst.tightest_mm, 2),
        limit=round(HOOK_UP_DIAMETERS * worst.outer_mm, 2),
        unit="mm",
        remedy=(
            "lead the wire round this corner in a wide curve and cut it longer, take a thinner wire, or "
            "leave more room there"
        ),
        source=HOOK_UP_SOURCE,
    )


def _at_ends(bends: Sequence[LegBends]) -> Finding:
    worst = min(bends, key=lambda bend: bend.at_end_mm / bend.outer_mm)
    numbers = ", ".join(dict.fromkeys(str(bend.wire) for bend in bends))
    return Finding(
        subject=SUBJECT,
        severity="note",
        where=f"ends of wires {numbers}",
        message="these wires turn so close to their pin or splice that they are bent there by hand",
        figure=round(worst.at_end_mm, 2),
        limit=round(HOOK_UP_DIAMETERS * worst.outer_mm, 2),
        unit="mm",
        remedy=(
            "bend them once, before soldering, over something round, and never at the edge of the solder; "
            "where a wider curve has room, set 'lead out' of 'wiring: allowances' so that the wire is "
            "long enough"
        ),
        source=HOOK_UP_SOURCE,
    )


def _table(bends: Sequence[LegBends]) -> Table | None:
    if not bends:
        return None
    by_vehicle: dict[str, list[LegBends]] = {}
    for bend in bends:
        by_vehicle.setdefault(bend.vehicle, []).append(bend)
    rows: list[tuple[str | float, ...]] = [(vehicle, *_counts(mine)) for vehicle, mine in by_vehicle.items()]
    return Table(
        title="Bend radius",
        columns=(
            "vehicle",
            "legs",
            "corners",
            f"legs with room for {NOT_BELOW_DIAMETERS:g} diameters",
            f"for {HOOK_UP_DIAMETERS:g} only",
            "for less",
            "tightest, mm",
        ),
        rows=tuple(rows),
        note=f"Corners at pins and splices are not counted here. {HARNESS_SOURCE}; {HOOK_UP_SOURCE}.",
    )


def _counts(mine: Sequence[LegBends]) -> list[float]:
    wide = sum(b.tightest_mm >= NOT_BELOW_DIAMETERS * b.outer_mm - 1e-6 for b in mine)
    sharp = sum(b.tightest_mm < HOOK_UP_DIAMETERS * b.outer_mm - 1e-6 for b in mine)
    corners = sum(b.corners for b in mine)
    counts = [len(mine), corners, wide, len(mine) - wide - sharp, sharp]
    return [*map(float, counts), round(min(b.tightest_mm for b in mine), 2)]
