"""Support: what would tip where it lies, hangs in the air or would slide off a deck, and what holds it.

Whether a part stands was found when it was placed (`Placement.steady`). On a vehicle that is open at the top
a load is also held against sliding: along each level direction something solid must stand close to it, or a
fastening must hold it (`BuiltTrain.fastenings`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fitplan.checks.on_additions import added_to_badly, told_where
from fitplan.checks.rays import first_hits
from fitplan.checks.scene import obstacles_of
from fitplan.checks.toppling import JOLT_G, RESERVE, Toppling, topples
from fitplan.model.built import BuiltTrain
from fitplan.model.buying import Asked
from fitplan.model.facts import mass_of, sideways_n
from fitplan.model.found import Finding, Outcome, Severity
from fitplan.model.placed import (
    ITS_MOUNT,
    NOTHING,
    SHELF_WORDS,
    STUCK_SO,
    STUCK_TO,
    TAPE_MM2_PER_G,
    TAPE_WIDTH,
    Fastening,
    Placement,
)
from fitplan.model.solids import (
    DIRECTIONS,
    PLACE_WORDS,
    WAY_WORDS,
    Box,
    Direction,
    axis_of,
    is_forward,
    unit_vector,
)

SUBJECT = "support"
_WAYS = DIRECTIONS[:4]
_RAYS = 7


@dataclass(frozen=True)
class SupportSettings:
    """What is asked of support.

    Attributes
    ----------
    heavy_g
        A part heavier than this that would tip is a stop; a lighter one is held by tape or its leads (common
        practice, no source).
    slide_mm
        A load may slide no further than this on an open deck: a stud (common practice, no source).
    touch_mm, foam_mm
        What lies no further than the first from something is glued or taped to it as it is, up to the second
        with foam tape between (common practice, no source).
    """

    heavy_g: float = 20.0
    slide_mm: float = 8.0
    touch_mm: float = 1.0
    foam_mm: float = 3.2


DEFAULTS = SupportSettings()


def check_support(built: BuiltTrain, settings: SupportSettings) -> Outcome:
    """Return what would tip, what would slide on an open deck, and what each part is held by."""
    findings: list[Finding] = []
    for placement in built.placements:
        held = [entry for entry in built.fastenings if entry.need == placement.need]
        if held:
            findings.append(_held(placement, held, settings))
        if not _held_down(placement, held, settings):
            findings.append(_tips(placement, settings))
        if placement.carried_by == ITS_MOUNT:
            findings += in_the_air(built, placement, settings)
            findings += _stuck(built, placement, settings)
        if not (is_light(placement, settings) and any(entry.tape_mm for entry in held)):
            findings += [_topples(placement, one, settings) for one in topples(built, placement)]
        heavy = not is_light(placement, settings)
        findings += added_to_badly(built, placement, held, heavy=heavy)
        ways = {way for entry in held for way in entry.ways}
        for way, free in sliding_ways(built, placement, settings).items():
            if way not in ways:
                findings.append(_slides(placement, way, free, settings))
    return Outcome(SUBJECT, tuple(findings))


def tips(placement: Placement) -> bool:
    """Return whether a part would tip where it lies."""
    return not placement.steady


def _held_down(placement: Placement, held: Sequence[Fastening], settings: SupportSettings) -> bool:
    taped = any(entry.tape_mm for entry in held) and is_light(placement, settings)
    return not tips(placement) or taped or any("+z" in entry.ways for entry in held)


def unsupported(built: BuiltTrain, settings: SupportSettings = DEFAULTS) -> tuple[Placement, ...]:
    """Return what would tip and is too heavy for tape, or has nothing under it, and nothing holds down."""
    return tuple(
        placement
        for placement in built.placements
        if not is_light(placement, settings)
        and not _held_down(
            placement, [entry for entry in built.fastenings if entry.need == placement.need], settings
        )
    )


def is_light(placement: Placement, settings: SupportSettings = DEFAULTS) -> bool:
    """Return whether tape holds a part that would tip: where there is something to stick it to."""
    return placement.carried_by != NOTHING and mass_of(placement.part) <= settings.heavy_g


def sliding_ways(
    built: BuiltTrain, placement: Placement, settings: SupportSettings = DEFAULTS
) -> dict[Direction, float]:
    """Return the directions in which a load on an open deck may slide, with the free way in mm."""
    need = built.need_of(placement)
    if not built.train.vehicle(placement.vehicle).vehicle.load_top:
        return {}
    if need.looks is not None or need.sits is not None or not placement.part.mount.needs_support:
        return {}
    bounds = placement.bounds
    obstacles = obstacles_of(built, placement.vehicle, placement.need)
    found: dict[Direction, float] = {}
    for way in _WAYS:
        origins = _face_points(bounds, way)
        directions = np.tile(np.array(unit_vector(way), dtype=float), (len(origins), 1))
        free = float(first_hits(origins, directions, obstacles).distance.min())
        if free > settings.slide_mm:
            found[way] = free
    return found


def in_the_air(
    built: BuiltTrain, placement: Placement, settings: SupportSettings = DEFAULTS
) -> list[Finding]:
    """Tell a small part that touches nothing: what is nearest to it, and how it is held there."""
    beside = _beside(built, placement)
    way = min(beside, key=lambda one: (beside[one][0], DIRECTIONS.index(one)))
    gap, by = beside[way]
    if gap <= settings.touch_mm:
        return []
    name = placement.need
    pressed = any(access.often for access in placement.part.access)
    thick = gap <= settings.foam_mm
    if not math.isfinite(gap):
        remedy = f"give {name} another place"
    elif thick:
        remedy = f"stick it to {by} with foam tape {math.ceil(gap * 2) / 2:g} mm thick between"
    else:
        remedy = f"put plates or a bracket between it and {by}, and stick it to these" + (
            "" if pressed else "; or let its own leads hold it"
        )
    return [
        Finding(
            SUBJECT,
            "caution" if pressed and not thick else "note",
            f"{name} in {placement.vehicle}",
            f"{name} touches nothing: nearest to it is {by}, {gap:.1f} mm off {PLACE_WORDS[way]}"
            if math.isfinite(gap)
            else f"{name} touches nothing, and nothing lies beside it",
            round(min(gap, 1000.0), 1),
            settings.touch_mm,
            "mm",
            remedy,
            "rays from its sides along the axes; what tape and foam bridge is common practice, no source",
            add=(Asked("foam tape, double-sided"),) if thick else (),
        )
    ]


def _beside(built: BuiltTrain, placement: Placement) -> dict[Direction, tuple[float, str]]:
    """Return what is nearest to a part in each direction: how far off (mm), and what it is."""
    obstacles = obstacles_of(built, placement.vehicle, placement.need)
    found: dict[Direction, tuple[float, str]] = dict.fromkeys(DIRECTIONS, (math.inf, ""))
    for solid in placement.part.envelope:
        box = placement.place.move_solid(solid).bounds
        for one in DIRECTIONS:
            origins = _face_points(box, one)
            directions = np.tile(np.array(unit_vector(one), dtype=float), (len(origins), 1))
            hits = first_hits(origins, directions, obstacles)
            nearest = int(np.argmin(hits.distance))
            if hits.distance[nearest] < found[one][0] - 1e-6:
                by = obstacles[int(hits.index[nearest])].name
                found[one] = (float(hits.distance[nearest]), f"the {by}" if by == "body" else by)
    return found


def _stuck(built: BuiltTrain, placement: Placement, settings: SupportSettings) -> Iterator[Finding]:
    """Tell where a part that nothing else holds is stuck: to what it touches, from below if may be."""
    need = built.need_of(placement)
    if need.looks is not None or need.sits is not None:
        return
    touched = {way: one for way, one in _beside(built, placement).items() if one[0] <= settings.touch_mm}
    if touched:
        way = min(touched, key=lambda one: (one != "-z", one == "+z", touched[one][0], DIRECTIONS.index(one)))
        gap, by = touched[way]
        yield Finding(
            SUBJECT,
            "note",
            f"{placement.need} in {placement.vehicle}",
            f"{placement.need}{STUCK_TO}{by} {PLACE_WORDS[way]}{STUCK_SO}",
            round(gap, 1),
            settings.touch_mm,
            "mm",
            "glue it there, or use thin double-sided tape",
            "rays from its sides along the axes; common practice, no source",
        )


def tape_needed(placement: Placement) -> float:
    """Return the length of tape that holds a part for good, in mm."""
    return math.ceil(mass_of(placement.part) * TAPE_MM2_PER_G / TAPE_WIDTH / 5) * 5.0


def _held(placement: Placement, held: list[Fastening], settings: SupportSettings) -> Finding:
    what = " and ".join(entry.words for entry in held)
    if placement.carried_by == SHELF_WORDS["wall"]:
        what = what.replace("tape under it", SHELF_WORDS["wall"])
    ways = [WAY_WORDS[way] for entry in held for way in entry.ways if way != "+z"]
    down = any("+z" in entry.ways for entry in held)
    against = [f"sliding {', '.join(ways)}"] if ways else []
    light = is_light(placement, settings)
    taped = any(entry.tape_mm and (not entry.ways or (tips(placement) and light)) for entry in held)
    against += ["tipping"] if down or taped else []
    gaps = [_gap(placement, brick.box) for entry in held for brick in entry.bricks if "+z" not in entry.ways]
    push = sideways_n(placement.part)
    pressed = down and tips(placement)
    turns = (
        f"; it rests on {placement.carried_by} on one side only, and is pressed down there" if pressed else ""
    )
    return Finding(
        SUBJECT,
        "note",
        f"{placement.need} in {placement.vehicle}",
        f"{placement.need} ({mass_of(placement.part):.0f} g) is kept from {' and '.join(against)} by {what}; "
        f"in a tumble, at 1 g sideways, {push:.1f} N push it{turns}",
        round(max(gaps, default=0.0), 1),
        settings.slide_mm,
        "mm",
        "press the bricks on last, and lift them off before the part"
        if gaps
        else "clean both faces; the tape is in the parts list",
        "a stud of play; a stud holds 1 N, a lead draws with 0.5 N; 57 cm² of tape a kilogram, from memory; "
        "common practice, no source",
    )


def _gap(placement: Placement, box: Box) -> float:
    bounds = placement.bounds
    return max(max(box.low[i] - bounds.high[i], bounds.low[i] - box.high[i]) for i in (0, 1))


def _tips(placement: Placement, settings: SupportSettings) -> Finding:
    mass = mass_of(placement.part)
    if placement.carried_by == NOTHING:
        return Finding(
            SUBJECT,
            "stop",
            f"{placement.need} in {placement.vehicle}",
            f"nothing carries {placement.need} ({mass:.0f} g), and nothing can be built up to it: no floor "
            "lies under it, or other parts and the room that they keep clear lie between",
            mass,
            0.0,
            "g",
            "close the floor under it, or give it or what lies under it another place",
            "room under a part in exact millimetres; pads, plates, brackets and tiles at its side were tried",
        )
    heavy = mass > settings.heavy_g
    severity: Severity = "stop" if heavy else "caution"
    return Finding(
        SUBJECT,
        severity,
        f"{placement.need} in {placement.vehicle}",
        f"{placement.need} ({mass:.0f} g) rests on {placement.carried_by} on one side only and would tip",
        mass,
        settings.heavy_g,
        "g",
        "give it room for plates under its other side, or studs free beside it for stacks that hold a plate"
        " over it: all such places are taken or too weak" + told_where(placement)
        if heavy
        else "put plates or a bracket under its other side, or press it between plates above and below",
        "its middle against the hull of its contacts; grams that tape holds are common practice",
        add=(Asked("plates or a bracket"),),
    )


def _topples(placement: Placement, one: Toppling, settings: SupportSettings) -> Finding:
    heavy = mass_of(placement.part) > settings.heavy_g
    soon = one.at_g < one.running_g
    return Finding(
        SUBJECT,
        ("stop" if soon else "caution") if heavy else "note",
        f"{placement.need} in {placement.vehicle}",
        f"{placement.need} ({mass_of(placement.part):.0f} g) stands {2 * one.height:.0f} mm high on a foot "
        f"{one.foot:.0f} mm wide: at {one.at_g:.2f} g it topples {WAY_WORDS[one.way]}"
        + (f", and running asks for {one.running_g:.2f} g" if soon else ""),
        round(one.at_g, 2),
        round(one.jolt_g, 2),
        "g",
        f"lay it flat, or build bricks close beside it that reach above {one.height:.0f} mm, or a bracket"
        + (told_where(placement) if heavy else ""),
        "g·e/h about the edge of its foot, textbook; tape doubles it; a jolt of "
        f"{JOLT_G:g} g and a reserve of {RESERVE:g} in curves: settings of this check, no source",
        add=(Asked("plates or a bracket"),) if heavy else (),
    )


def _slides(placement: Placement, way: Direction, free: float, settings: SupportSettings) -> Finding:
    clear = "nothing" if not np.isfinite(free) else f"nothing within {free:.0f} mm"
    return Finding(
        SUBJECT,
        "caution" if mass_of(placement.part) > settings.heavy_g else "note",
        f"{placement.need} in {placement.vehicle}",
        f"{placement.need} lies on an open deck and may slide {WAY_WORDS[way]}: {clear} holds it there",
        min(free, 1000.0),
        settings.slide_mm,
        "mm",
        "press a brick or tile onto the studs at that end, or fix it with tape",
        "level rays from the side of the part; a stud of play is common practice, no source",
    )


def _face_points(bounds: Box, way: Direction) -> np.ndarray:
    """Return a grid of points on a side of a box, (n, 3), a little inside its edges."""
    axis = axis_of(way)
    lines = [
        np.linspace(low + 0.05 * (high - low), high - 0.05 * (high - low), _RAYS)
        for low, high in zip(bounds.low, bounds.high, strict=True)
    ]
    lines[axis] = np.array([bounds.high[axis] if is_forward(way) else bounds.low[axis]])
    return np.stack(np.meshgrid(*lines, indexing="ij"), axis=-1).reshape(-1, 3)
