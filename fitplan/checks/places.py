"""Parts without a place: one finding each, with all that follows from it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from fitplan.checks.gaps import shut_window
from fitplan.checks.sources import TRAIN_FILE
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding, Outcome
from fitplan.model.needed import Need
from fitplan.model.solids import Box
from fitplan.model.undrawn import drawing_advice, undrawn_room_for
from fitplan.model.wider_window import WiderWindow
from fitplan.model.words import listed
from fitplan.units import PLATE, STUD

SUBJECT = "places"
_TOUCH = 0.05
"""So far into a zone is not told (mm)."""


def check_places(
    built: BuiltTrain,
    unplaced: Sequence[tuple[str, str]] = (),
    wider_windows: Sequence[WiderWindow] = (),
) -> Outcome:
    """Tell every need that found no place, why, and which nets go without it.

    Parameters
    ----------
    unplaced
        (need, why); a need that is not among them is told without a reason.
    wider_windows
        What would make room for those that look out of a window.
    """
    why = dict(unplaced)
    offers = {offer.need: offer for offer in wider_windows}
    findings = []
    for need in built.train.needs:
        if built.placement(need.name) is not None:
            continue
        nets = [net.name for net in built.train.nets if any(ref.owner == need.name for ref in net.joins)]
        reason = f": {why[need.name]}" if why.get(need.name) else ""
        without = f"; {listed(nets)} {'go' if len(nets) > 1 else 'goes'} without it" if nets else ""
        findings.append(
            Finding(
                SUBJECT,
                "stop",
                need.name,
                f"{need.name} has no place{reason}{without}",
                0.0,
                1.0,
                "places",
                _remedy(_drawn_first(built, need), offers.get(need.name)),
                "the search for places",
            )
        )
    return Outcome(SUBJECT, (*findings, *_in_zones(built)))


def _remedy(drawn: str, offer: WiderWindow | None) -> str:
    """Return what to do for a part without a place: to drawings that are not as built, or to bricks."""
    if offer is None:
        return drawn or "allow a smaller part or another vehicle, or let bricks come out"
    return f"{drawn} where that is open as built; else {widening(offer)}" if drawn else widening(offer)


def _drawn_first(built: BuiltTrain, need: Need) -> str:
    """Return how to draw a window that is brick, or a room that is not drawn; empty where there is none."""
    if need.looks is not None:
        name, window = need.looks
        if shut_window(built.train.vehicle(name).vehicle, name, need):
            return f"in the file of {name} draw no bricks in {window} or before it, or move its box"
    for name in (
        (need.bound_to,) if need.bound_to else need.vehicles or [one.name for one in built.train.vehicles]
    ):
        for part in need.candidates:
            room = undrawn_room_for(built.train.vehicle(name).vehicle, part)
            if room is not None:
                return f"in the file of {name} {drawing_advice(room)}"
    return ""


def _in_zones(built: BuiltTrain) -> Iterator[Finding]:
    """Tell parts that were fixed by hand where a zone keeps them out."""
    for placement in built.placements:
        for zone in built.train.vehicle(placement.vehicle).vehicle.zones:
            deep = max(_shared_depth(solid.bounds, zone.box) for solid in placement.solids)
            if zone.shuts_out(placement.need) and deep > _TOUCH:
                yield Finding(
                    SUBJECT,
                    "stop",
                    placement.need,
                    f"{placement.need} is fixed {deep:.1f} mm deep in {zone.name}, a zone shut to it",
                    round(deep, 2),
                    0.0,
                    "mm",
                    "fix it elsewhere, or name it in the zone's `parts`",
                    TRAIN_FILE,
                )


def _shared_depth(one: Box, other: Box) -> float:
    """Return how deep (mm) two boxes reach into each other; below 0 where they do not."""
    return min(min(one.high[i], other.high[i]) - max(one.low[i], other.low[i]) for i in range(3))


def widening(offer: WiderWindow) -> str:
    """Return in a sentence what must go so that a part looks out of a window, and what goes in.

    Where nothing need go the gap is wide enough as it is drawn, and the window is told smaller than it.
    """
    alone = ", but not beside all that lies there now" if offer.alone else ""
    gone = [f"the {name}" for name in offer.remove]
    gone += [f"{_extent(box)} of brick ({_where(box)})" for box in offer.out]
    if not gone:
        low, high = (
            "[" + ", ".join(f"{value:g}" for value in end) + "]"
            for end in (offer.outline.low, offer.outline.high)
        )
        return (
            f"give {offer.window} of {offer.vehicle} the box {{from: {low}, to: {high}}}: the gap drawn"
            f" there is wide enough. Then {offer.need} looks out of it{alone}{_hidden(offer)}"
        )
    text = f"make {offer.window} wider in {offer.vehicle}: take out {listed(gone)}"
    if offer.size:
        proof = "no fewer will do" if offer.least == offer.size else f"at least {offer.least} must go"
        if not offer.least:
            proof = "fewer may do, or none where the play of the bricks helps"
        text += f", {offer.size} studs × plates in all: {proof}"
    if offer.plates:
        text += f"; close the gap with {listed([_plate(box) for box in offer.plates])}"
    if offer.rests_on_one_side:
        text += "; what lies above the gap has bricks on one side at most: hold it from above or behind"
    return f"{text}. Then {offer.need} looks out of it{alone}{_hidden(offer)}"


def _hidden(offer: WiderWindow) -> str:
    """Return what bricks hide of the beam, before and after, and what that means."""
    if max(offer.hidden_before, offer.hidden_after) < 0.005:
        return ""
    left = (
        ", and what comes back off them is read as something close by"
        if offer.hidden_after >= 0.005
        else ": nothing comes back off them any more"
    )
    return (
        f"; bricks hide {100 * offer.hidden_before:.0f} % of its beam there as it is,"
        f" {100 * offer.hidden_after:.0f} % then{left}"
    )


def _extent(box: Box) -> str:
    long, wide, high = (round(size / step) for size, step in zip(box.size, (STUD, STUD, PLATE), strict=True))
    studs = "stud" if long == wide == 1 else "studs"
    return f"{long} × {wide} {studs}, {high} {'plate' if high == 1 else 'plates'} high"


def _plate(box: Box) -> str:
    short, long = sorted(round(size / STUD) for size in box.size[:2])
    return f"a plate {short} × {long} ({_where(box)})"


def _where(box: Box) -> str:
    """Return where a box of the grid begins, in the words in which places are written."""
    rear, right = (round(value / STUD) for value in box.low[:2])
    studs = "stud" if right == 1 else "studs"
    return f"from rear {rear}, from right {right} {studs}, above rail {box.low[2]:g} mm"


def folded(outcomes: Sequence[Outcome], built: BuiltTrain) -> tuple[Outcome, ...]:
    """Return outcomes without findings about nothing but parts that have no place: those follow from that."""
    lost = {need.name for need in built.train.needs if built.placement(need.name) is None}
    if not lost:
        return tuple(outcomes)
    return tuple(
        Outcome(
            one.subject,
            tuple(found for found in one.findings if one.subject == SUBJECT or not _owners(found) <= lost),
            one.tables,
            one.plots,
        )
        for one in outcomes
    )


def _owners(finding: Finding) -> set[str]:
    """Return whom a finding is about: needs, pins as ``need.pin``, vehicles, nets."""
    named = re.split(r", | and ", finding.where)
    return {name.partition(".")[0] for name in named}
