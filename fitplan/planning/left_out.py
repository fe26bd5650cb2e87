"""Why a part found no place."""

from __future__ import annotations

from fitplan.checks.gaps import shut_window
from fitplan.model.placed import Placement
from fitplan.model.proposed import FitRow
from fitplan.model.undrawn import undrawn_room_for, undrawn_words
from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.fit_table import may_go, open_as_built
from fitplan.planning.of_its_family import others_of_its_family, words_for
from fitplan.planning.run_state import PlanningRun
from fitplan.planning.suitability import Suitability


def why_left_out(
    name: str,
    rows: tuple[FitRow, ...],
    run: PlanningRun,
    suitability: Suitability,
    placed: tuple[Placement, ...],
) -> str:
    """Say why a need found no place, and what else of its family would find one."""
    others = others_of_its_family(run.train.need(name), run, suitability, placed)
    return _why(name, rows, run, placed) + words_for(others)


def _why(name: str, rows: tuple[FitRow, ...], run: PlanningRun, placed: tuple[Placement, ...]) -> str:
    """Say why a need found no place: the closest miss of its candidates, on its own."""
    need = run.train.need(name)
    for entry in run.train.vehicles:
        rooms = [undrawn_room_for(entry.vehicle, part) for part in need.candidates]
        if may_go(need, entry.name) and (room := next(filter(None, rooms), None)) is not None:
            return undrawn_words(entry.name, room)
    if need.looks is not None:
        name_of, _ = need.looks
        if shut := shut_window(run.train.vehicle(name_of).vehicle, name_of, need):
            return f"in the {name_of}: {shut}"
    mine = [row for row in rows if row.need == name and row.reason]
    if mine:
        closest = min(mine, key=lambda row: (row.missing_mm == 0, row.missing_mm))
        called = {one.id: one.name for one in need.candidates}.get(closest.part_id, closest.part_id)
        # Of one part alone its name says nothing new, and the figure stands first.
        which = f"{called} in" if len(need.candidates) > 1 else "in"
        return f"{which} the {closest.vehicle}: {closest.reason}"
    reasons = []
    for entry in run.train.vehicles:
        if not may_go(need, entry.name):
            continue
        for part in need.candidates:
            wanted = Wanted(need, part)
            packing = run.pack(entry.name, (wanted,))
            if packing.holds:
                reasons.append(_beside_others(entry.name, wanted, run, placed))
            else:
                missing, _, _, sentence = run.packer.box_shortage(entry.name, wanted)
                sentence = open_as_built(packing, wanted) or sentence
                reasons.append((missing, f"{entry.name}: {sentence or packing.reason}"))
    # The least that is missing says most; what has no figure comes after what has one.
    reasons.sort(key=lambda reason: (reason[0] == 0.0, reason[0]))
    return "; ".join(dict.fromkeys(sentence for _, sentence in reasons[:2]))


def _beside_others(
    vehicle: str, wanted: Wanted, run: PlanningRun, placed: tuple[Placement, ...]
) -> tuple[float, str]:
    """Say which of the parts placed in a vehicle leave no room for one more, and what is missing."""
    beside = tuple(
        Wanted(run.train.need(place.need), place.part) for place in placed if place.vehicle == vehicle
    )
    if beside and run.pack(vehicle, (wanted, *beside)).verdict == "cannot fit":
        failure = run.packer.why_not_together(vehicle, (wanted, *beside))
        return (failure.missing_mm, failure.text)
    return (0.0, f"{vehicle}: {wanted.part.name} would go in alone, not beside the others there")
