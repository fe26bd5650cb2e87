"""Safety: the usual cautions where they apply, and a fuse that fits the wire.

Makers' data sheets and local rules go before anything said here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fitplan.checks.ends import chosen_parts
from fitplan.checks.rays import first_hits, spread
from fitplan.checks.scene import obstacles_of
from fitplan.checks.wire import single_limit
from fitplan.circuit.currents import short_circuit_ma, source_current
from fitplan.circuit.supply import Rail, SupplyTree, build_supply
from fitplan.model.electrical import CellPack, Charger, Conductor, Fuse
from fitplan.model.part import Part
from fitplan.model.plan import BuiltTrain, Finding, Outcome, Placement, Severity
from fitplan.model.solids import DIRECTIONS, Box, axis_of, is_forward, unit_vector

SUBJECT = "safety"
DEFERS = "the makers' data sheets and local rules go before"
LITHIUM = f"IEC 62133-2:2017 covers sealed portable lithium cells (not read in full); {DEFERS}"

TEXTS: dict[str, tuple[str, str]] = {
    "lithium": (
        "lithium cells burn when shorted, crushed, overcharged or charged hot or frozen",
        "use cells with protection; charge them outside the model, on a surface that does not burn, watched; "
        f"never build in a swollen or dented cell; {DEFERS}",
    ),
    "button-cell": (
        "button cells burn a child's gullet within hours when swallowed",
        "keep them behind a lid that needs a tool and away from children; call for medical help at once if "
        "one is missing",
    ),
    "primary-cells": (
        "primary cells leak or burst when charged, mixed or left in flat",
        "use cells of one kind and age, never charge them, take them out when the train is put away",
    ),
    "mains-charger": (
        "chargers work from the mains",
        "use a whole, tested charger with the mark of your country; never open it, never charge in the model",
    ),
    "soldering": (
        "soldering burns and gives off fumes",
        "solder outside the model with the cells out, in fresh air, with eye protection; wash hands after",
    ),
    "small-parts": (
        "small parts can be swallowed or breathed in",
        "keep the model and loose parts away from children under 36 months",
    ),
}
"""For each caution that a part may carry: what can happen, and what to do."""
SOURCES = {
    "lithium": LITHIUM,
    "button-cell": f"EN 71-1 and IEC 62115 (not read in full); {DEFERS}",
    "primary-cells": f"common practice, no source; {DEFERS}",
    "mains-charger": f"IEC 62368-1 covers mains-fed equipment and chargers (not read in full); {DEFERS}",
    "soldering": f"common practice, no source; {DEFERS}",
    "small-parts": f"EN 71-1: cylinder of 31.7 mm, 25.4 to 57.1 mm deep (not read in full); {DEFERS}",
}


@dataclass(frozen=True)
class SafetySettings:
    """Limits.

    Attributes
    ----------
    cylinder_diameter, cylinder_depth
        EN 71-1: what fits in wholly is a small part (mm; the greater depth of the slanting bottom).
    swelling
        Share of its thickness by which a pouch cell may grow with age: leave it room (from memory).
    trip_factor
        A fuse should trip below this many times the wire's limit for a single wire.
    hold_factor
        A fuse should hold this many times the average current.
    """

    cylinder_diameter: float = 31.7
    cylinder_depth: float = 57.1
    swelling: float = 0.08
    trip_factor: float = 1.0
    hold_factor: float = 1.5


DEFAULTS = SafetySettings()


def check_safety(built: BuiltTrain, settings: SafetySettings = DEFAULTS) -> Outcome:
    """Collect the cautions that apply, and check protection, fuses and room round pouch cells."""
    chosen = chosen_parts(built)
    findings = [*_usual(chosen), *_small_parts(chosen, settings)]
    for tree in build_supply(built.train, chosen).trees:
        if isinstance(tree.source, CellPack):
            findings.extend(_protection(tree, tree.source, chosen))
            findings.extend(_fuse(built, tree, settings))
    for placement in built.placements:
        if _is_pouch(placement.part):
            findings.append(_room_to_swell(built, placement, settings))
    return Outcome(SUBJECT, tuple(findings))


def _usual(chosen: dict[str, Part]) -> Iterator[Finding]:
    for caution, (danger, remedy) in TEXTS.items():
        if caution == "small-parts":
            continue
        owners = [owner for owner, part in chosen.items() if caution in part.cautions]
        if owners:
            yield Finding(
                SUBJECT,
                "caution",
                ", ".join(owners),
                danger,
                float(len(owners)),
                0.0,
                "parts",
                remedy,
                SOURCES[caution],
            )


def is_small(part: Part, settings: SafetySettings = DEFAULTS) -> bool:
    """Return whether a part fits wholly into the small parts cylinder of EN 71-1, by its outer box."""
    one, two, longest = sorted(part.bounds.size)
    return math.hypot(one, two) <= settings.cylinder_diameter and longest <= settings.cylinder_depth


def _small_parts(chosen: dict[str, Part], settings: SafetySettings) -> Iterator[Finding]:
    small = [owner for owner, part in chosen.items() if is_small(part, settings)]
    if small:
        danger, remedy = TEXTS["small-parts"]
        yield Finding(
            SUBJECT,
            "note",
            ", ".join(small),
            danger,
            float(len(small)),
            0.0,
            "parts",
            remedy,
            SOURCES["small-parts"],
        )


def _protection(tree: SupplyTree, pack: CellPack, chosen: dict[str, Part]) -> Iterator[Finding]:
    if pack.chemistry != "li-ion":
        return
    chargers = [part.figure(Charger) for part in chosen.values()]
    protected = pack.protected or any(one is not None and one.protected for one in chargers)
    yield Finding(
        SUBJECT,
        "note" if protected else "stop",
        tree.owner,
        f"{tree.owner} has a protection circuit against deep discharge, overcharge and shorts"
        if protected
        else f"{tree.owner} has no protection circuit",
        float(protected),
        1.0,
        "circuits",
        "nothing to do; check that it is there before you wire it"
        if protected
        else "use protected cells, or a charging board with protection between cells and train",
        LITHIUM,
    )


def _fuse(built: BuiltTrain, tree: SupplyTree, settings: SafetySettings) -> Iterator[Finding]:
    """Check what limits the current when the supply is shorted behind its first wire."""
    drawn = source_current(tree)
    shorted = short_circuit_ma(tree)
    awgs = [wire.awg for wire in built.harness.wires if wire.net == tree.root.net]
    if not awgs:
        figures = built.train.catalogue.get(built.train.wiring.power_wire)
        conductor = figures.figure(Conductor) if figures is not None else None
        awgs = [conductor.awg if conductor is not None else 24]
    limit = settings.trip_factor * single_limit(max(awgs))
    hold = settings.hold_factor * drawn.average_ma
    fuse = _fuse_behind(tree.root)
    proposed = (
        f"put a resettable fuse next to {tree.owner}: holds {max(hold, 50):.0f} mA or more, trips at "
        f"{limit:.0f} mA or less"
    )
    source = f"wire table of a handbook; a fuse protects the wire behind it: common practice; {DEFERS}"
    lithium = isinstance(tree.source, CellPack) and tree.source.chemistry == "li-ion"
    if fuse is None:
        if shorted <= limit:
            return
        severity: Severity = "caution"
        if isinstance(tree.source, CellPack) and lithium and not tree.source.protected:
            severity = "stop"
        elif isinstance(tree.source, CellPack) and tree.source.chemistry == "alkaline":
            severity = "note"
        yield Finding(
            SUBJECT,
            severity,
            tree.owner,
            f"a short behind {tree.owner} drives up to {shorted / 1000:.0f} A through AWG {max(awgs)}",
            round(shorted),
            limit,
            "mA",
            proposed,
            source,
        )
        return
    bad = fuse.trip_ma > limit
    yield Finding(
        SUBJECT,
        "caution" if bad else "note",
        tree.owner,
        f"the fuse behind {tree.owner} trips at {fuse.trip_ma:.0f} mA; AWG {max(awgs)} stands {limit:.0f} mA",
        fuse.trip_ma,
        limit,
        "mA",
        f"{proposed}, or use thicker wire" if bad else "nothing to do; keep the lead to the fuse short",
        source,
    )


def _fuse_behind(rail: Rail) -> Fuse | None:
    """Return the first fuse that all current of a rail passes: nothing is fed before it."""
    if rail.fed or len(rail.links) != 1 or rail.links[0].kind != "through":
        return None
    link = rail.links[0]
    return link.part.figure(Fuse) or _fuse_behind(link.below)


def _is_pouch(part: Part) -> bool:
    pack = part.figure(CellPack)
    return part.family == "pouch" or (pack is not None and "pouch" in pack.cell_size.lower())


def _room_to_swell(built: BuiltTrain, placement: Placement, settings: SafetySettings) -> Finding:
    """Measure the room across a pouch cell's thickness by rays from both of its large faces."""
    body = placement.place.move_solid(placement.part.bounds)
    assert isinstance(body, Box)
    thin = int(np.argmin(body.size))
    scene = obstacles_of(built, placement.vehicle, placement.need)
    room = 0.0
    for direction in (one for one in DIRECTIONS if axis_of(one) == thin):
        points = spread(body, 256)
        points[:, thin] = body.high[thin] if is_forward(direction) else body.low[thin]
        rays = np.tile(np.array(unit_vector(direction), dtype=float), (len(points), 1))
        nearest = float(first_hits(points + 1e-6 * rays, rays, scene).distance.min())
        room += min(nearest, 100.0)
    wanted = settings.swelling * body.size[thin]
    tight = room < wanted
    return Finding(
        SUBJECT,
        "stop" if tight else "note",
        f"{placement.need} in {placement.vehicle}",
        f"{placement.need} has {room:.1f} mm of room across its thickness",
        round(room, 2),
        round(wanted, 2),
        "mm",
        f"give it {wanted:.1f} mm: a pouch cell grows with age and must never be squeezed"
        if tight
        else "nothing to do; keep edges and screws away from it",
        f"growth of {100 * settings.swelling:.0f} %: from memory; {LITHIUM}",
    )
