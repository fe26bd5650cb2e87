"""Safety: the usual cautions where they apply, and a fuse that fits the wire.

Makers' data sheets and local rules go before anything said here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from fitplan.checks.ahead_of_fuse import wire_ahead_of_fuse
from fitplan.checks.ends import chosen_parts, circuit_of
from fitplan.checks.fuses import DEFERS, SUBJECT, fuse_limits
from fitplan.checks.rays import first_hits, spread
from fitplan.checks.scene import obstacles_of
from fitplan.circuit.nodes import Circuit
from fitplan.circuit.protection import chargings_of, partly_charged, protection_of
from fitplan.circuit.supply_tree import SupplyTree
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import CellPack
from fitplan.model.found import Finding, Outcome
from fitplan.model.part import Part
from fitplan.model.placed import Placement
from fitplan.model.solids import DIRECTIONS, Box, axis_of, is_forward, unit_vector
from fitplan.pins.train_circuit import TrainCircuit

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
    "nimh": (
        "NiMH cells drive tens of amps through a short, and heat or burst when charged too long or too fast",
        f"keep leads short and fused, charge them outside the model in a charger made for NiMH, never with a "
        f"lithium charger; {DEFERS}",
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
    "nimh": f"common practice, no source; {DEFERS}",
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
    """

    cylinder_diameter: float = 31.7
    cylinder_depth: float = 57.1
    swelling: float = 0.08
    trip_factor: float = 1.0


DEFAULTS = SafetySettings()


def check_safety(
    built: BuiltTrain, settings: SafetySettings = DEFAULTS, circuit: TrainCircuit | None = None
) -> Outcome:
    """Collect the cautions that apply, and check protection, fuses and room round pouch cells."""
    chosen = chosen_parts(built)
    findings = [*_usual(chosen), *_small_parts(chosen, settings)]
    circuit = circuit_of(built, circuit)
    for tree in circuit.supply.trees:
        if isinstance(tree.source, CellPack):
            findings.extend(cell_limits(circuit.nodes, chosen, tree, tree.source))
            if tree.root.everything():
                findings.extend(fuse_limits(built.train, chosen, tree, built.harness, settings.trip_factor))
                findings.extend(wire_ahead_of_fuse(tree, built.harness, settings.trip_factor))
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


def cell_limits(
    circuit: Circuit, chosen: Mapping[str, Part], tree: SupplyTree, pack: CellPack
) -> Iterator[Finding]:
    """Judge what guards cells and what charges them."""
    yield from _protection(circuit, chosen, tree, pack)
    yield from _charging(circuit, tree, pack)


def _protection(
    circuit: Circuit, chosen: Mapping[str, Part], tree: SupplyTree, pack: CellPack
) -> Iterator[Finding]:
    if pack.chemistry != "li-ion":
        return
    found = protection_of(circuit, chosen, tree, pack)
    what = {
        "none": f"{tree.owner} has no protection circuit",
        "not wired": f"{tree.owner} has no protection circuit: {found.owner} is not wired between it "
        "and the train",
        "without protection": f"{tree.owner} has no protection circuit: {found.owner} only charges",
        "wrong chemistry": f"{found.owner} is not made for the cells of {tree.owner}",
        "wrong number of cells": f"{found.owner} is made for another number of cells than the "
        f"{found.cells} in "
        f"series of {tree.owner}",
        "bypassed at minus": f"the protection of {found.owner} is bypassed: the minus of {tree.owner} "
        "and the "
        "train's ground are one conductor",
        "doubled": f"{found.owner} hang on the same cells: their currents add up, and neither ends the "
        "charge as it should",
        "bypassed at plus": f"the protection of {found.owner} is bypassed: more than it hangs on the plus of "
        f"{tree.owner}",
    }
    if not found.lack:
        yield Finding(
            SUBJECT,
            "note",
            tree.owner,
            f"{tree.owner} has a protection circuit against deep discharge, overcharge and shorts",
            1.0,
            1.0,
            "circuits",
            "nothing to do; check that it is there before you wire it",
            LITHIUM,
        )
        return
    if found.lack == "doubled":
        remedy = f"keep one of them between {tree.owner} and the train"
    elif found.lack.startswith("bypassed"):
        remedy = (
            f"join the cells to the cell pins of {found.owner} and to nothing else, and the train to "
            "its other "
            "pins, plus and ground"
        )
    elif found.cells == 1:
        remedy = (
            "use a cell with its own protection, or wire a charging board with protection for one "
            "cell between "
            "cell and train"
        )
    else:
        remedy = (
            f"use cells with their own protection, or a protection circuit for {found.cells} cells in series "
            "that levels them; a board for one cell is dangerous here; charge the cells outside the model"
        )
    yield Finding(SUBJECT, "stop", tree.owner, what[found.lack], 0.0, 1.0, "circuits", remedy, LITHIUM)


def _charging(circuit: Circuit, tree: SupplyTree, pack: CellPack) -> Iterator[Finding]:
    """Judge the charging boards that are wired to a source: chemistry, cells, current, levelling."""
    for owner in partly_charged(circuit, tree):
        packs = (tree.owner, *tree.below)
        yield Finding(
            SUBJECT,
            "stop",
            f"{owner} at {tree.owner}",
            f"{owner} hangs on some of the cells in series of {' and '.join(packs)} and not on all: they "
            "drift apart, and the fuller are overcharged or the emptier reversed",
            1.0,
            0.0,
            "chargers",
            "never connect it; charge each pack outside the model, or use a charger with protection for "
            f"{pack.elements} cells in series that levels them",
            LITHIUM if pack.chemistry == "li-ion" else f"common practice, no source; {DEFERS}",
        )
    for one in chargings_of(circuit, tree, pack):
        figures, where = one.figures, f"{one.owner} at {tree.owner}"
        if figures.chemistry != pack.chemistry or figures.cells != pack.elements:
            yield Finding(
                SUBJECT,
                "stop",
                where,
                f"{one.owner} charges {figures.cells} {figures.chemistry} cell"
                f"{'s' if figures.cells > 1 else ''}; {tree.owner} has {pack.elements} "
                f"{pack.chemistry} in series: "
                "they would be charged wrongly and may burn or burst",
                float(pack.elements),
                float(figures.cells) if figures.cells != pack.elements else 0.0,
                "cells",
                "never connect it; charge these cells outside the model in a charger made for their "
                "kind and number",
                LITHIUM if pack.chemistry == "li-ion" else f"common practice, no source; {DEFERS}",
            )
            continue
        if figures.charge_ma > one.most_ma:
            yield Finding(
                SUBJECT,
                "stop",
                where,
                f"{one.owner} charges with {figures.charge_ma:.0f} mA; cells of "
                f"{pack.capacity_mah:.0f} mAh stand "
                f"{one.most_ma:.0f} mA",
                figures.charge_ma,
                one.most_ma,
                "mA",
                f"set its current to {one.most_ma:.0f} mA or less as its data sheet says, or use "
                "cells of at least "
                f"{pack.capacity_mah * figures.charge_ma / one.most_ma:.0f} mAh",
                f"half the capacity in an hour where the cells state nothing: common practice; {DEFERS}",
            )
        if pack.elements > 1 and pack.chemistry == "li-ion" and not figures.balances:
            yield Finding(
                SUBJECT,
                "stop",
                where,
                f"{one.owner} does not level the {pack.elements} cells in series: one may be overcharged",
                0.0,
                1.0,
                "circuits",
                "use a charger that levels the cells, or charge each on its own outside the model",
                LITHIUM,
            )


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
