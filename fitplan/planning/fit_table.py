"""The fit table: whether each part goes into each vehicle, beside what must sit there anyway."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from fitplan.budget import LATE, Budget
from fitplan.checks.gaps import shut_window
from fitplan.model.needed import Need
from fitplan.model.part import Part
from fitplan.model.proposed import FitPlace, FitRow
from fitplan.model.train import Train
from fitplan.model.undrawn import undrawn_room_for, undrawn_words
from fitplan.packing.vehicle.box_shortage import surely_enough
from fitplan.packing.vehicle.pack import MAY_GO_IN, Packer
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.rebuild import pack_with_rebuild, whether_with_rebuild
from fitplan.packing.vehicle.seats import Wanted


def companions(train: Train, vehicle: str, but: str) -> tuple[Wanted, ...]:
    """Return what must sit in a vehicle whatever is chosen: parts that look, sit or are pinned there."""
    return tuple(
        Wanted(need, need.candidates[0])
        for need in train.needs
        if need.name != but and len(need.candidates) == 1 and _only_home(need) == vehicle
    )


def _only_home(need: Need) -> str:
    return need.bound_to or (need.vehicles[0] if len(need.vehicles) == 1 else "")


def fit_rows(
    train: Train,
    packer: Packer,
    budget: Budget,
    *,
    progress: Callable[[str, float], None] | None = None,
    every: bool = False,
    also: frozenset[str] = frozenset(),
) -> tuple[FitRow, ...]:
    """Ask of every candidate of every need that leaves a choice whether it fits into each vehicle.

    Each is asked beside the vehicle's `companions`, as it would have to live with them. After
    the deadline, if there is one, the rest is *not decided*. With ``every`` needs that leave no
    choice are asked too, in the vehicles that they may go into, and other forms of each candidate;
    ``also`` names single ones, which a plan leaves out: they are no companions of others.
    """
    asked = asked_rows(train, every=every, also=also)
    rows: list[FitRow] = []
    for number, (need, part, name) in enumerate(asked):
        if progress is not None:
            progress(f"{part.id} in {name}", number / len(asked))
        if budget.late:
            rows.append(FitRow(need.name, part.id, name, "not decided", f"{LATE} before this question", ""))
            continue
        rows.append(fit_row(train, packer, need, part, name, budget, left_out=also))
    return tuple(rows)


def asked_rows(
    train: Train, *, every: bool = False, also: frozenset[str] = frozenset()
) -> list[tuple[Need, Part, str]]:
    """Return the rows that `fit_rows` asks for: a need, a part that may serve it, a vehicle by name."""
    return [
        (need, part, entry.name)
        for need in train.needs
        if every or need.choice is not None or need.name in also
        for part in (*need.candidates, *(other_forms(need, train) if every else ()))
        for entry in train.vehicles
        if need.choice is not None or may_go(need, entry.name)
    ]


FORMS = ("", "-pins", "-bare")
"""Endings of the ids of one board in all its forms: as it comes, with pin rows, without any."""


def other_forms(need: Need, train: Train) -> tuple[Part, ...]:
    """Return the forms of a need's candidates that it does not ask for: with pin rows, or without."""
    asked = {part.id for part in need.candidates}
    names = [
        part.id.removesuffix("-pins").removesuffix("-bare") + ending
        for part in need.candidates
        for ending in FORMS
    ]
    others = dict.fromkeys(name for name in names if name not in asked and name in train.catalogue)
    return tuple(train.catalogue[name] for name in others)


def with_placed(rows: tuple[FitRow, ...], packings: Iterable[Packing]) -> tuple[FitRow, ...]:
    """Return the rows with what a plan shows: where a part lies it fits, though a deadline left that open.

    Parameters
    ----------
    packings
        Those of the plan.
    """
    lies = {
        (place.need, place.part.id, place.vehicle): packing
        for packing in packings
        for place in packing.placements
    }
    shown = []
    for row in rows:
        packing = lies.get((row.need, row.part_id, row.vehicle))
        if packing is not None and row.verdict == "not decided":
            row = FitRow(
                row.need, row.part_id, row.vehicle, packing.verdict, _removal(packing), _proof(packing)
            )
            row = replace(row, remove=_bricks(packing), cost=packing.cost, places=_places(packing))
        shown.append(row)
    return tuple(shown)


def may_go(need: Need, vehicle: str) -> bool:
    """Return whether a need may be served in a vehicle, as far as the train file says."""
    return vehicle in ((need.bound_to,) if need.bound_to else need.vehicles or (vehicle,))


def fit_row(
    train: Train,
    packer: Packer,
    need: Need,
    part: Part,
    name: str,
    budget: Budget,
    *,
    left_out: frozenset[str] = frozenset(),
) -> FitRow:
    """Ask whether one part, serving a need, fits into a vehicle beside what must sit there.

    What has no place there by itself, and what a plan leaves out, keeps nothing else out. The row may spend
    its share of the ``budget`` on each rebuild that it asks for.
    """
    wanted = Wanted(_free_to_go(need), part)
    beside = tuple(
        entry
        for entry in companions(train, name, need.name)
        if entry.need.name not in left_out
        and whether_with_rebuild(packer, name, (entry,), budget.share("row")).holds
    )
    packing = pack_with_rebuild(packer, name, (wanted, *beside), budget.share("row"))
    reason = packing.reason
    missing, axis, pose = 0.0, "", ""
    undrawn = None if packing.holds else undrawn_room_for(train.vehicle(name).vehicle, part)
    if not packing.holds and (shut := shut_window(train.vehicle(name).vehicle, name, need)):
        reason = shut
    elif undrawn is not None:
        reason = undrawn_words(name, undrawn)
    elif not packing.holds:
        alone = whether_with_rebuild(packer, name, (wanted,), budget.share("row"))
        if alone.holds and beside:
            others = ", ".join(entry.need.name for entry in beside)
            reason = f"alone it would go in, but not beside {others}: {reason}"
            if packing.verdict == "cannot fit":
                failure = packer.why_not_together(name, (wanted, *beside))
                reason, missing, axis = failure.text, failure.missing_mm, failure.axis
        else:
            missing, axis, pose, short = packer.box_shortage(name, wanted)
            if unclear := open_as_built(packing, wanted):
                missing, axis, pose, short = 0.0, "", "", unclear
            if not short and packing.verdict == "cannot fit":
                failure = packer.why_not_together(name, (wanted,))
                short, missing, axis = failure.text, failure.missing_mm, failure.axis
            reason = short or reason
    else:
        reason = _removal(packing) or reason
    return FitRow(
        need=need.name,
        part_id=part.id,
        vehicle=name,
        verdict=packing.verdict,
        reason=reason,
        proof=_proof(packing),
        missing_mm=missing,
        axis=axis,
        pose=pose,
        remove=_bricks(packing),
        cost=packing.cost,
        places=_places(packing),
    )


def open_as_built(packing: Packing, wanted: Wanted) -> str:
    """Return why it is open whether a part goes in between walls as they are built, and what surely does.

    Empty where something else is open. What its bounding box lacks tells nothing then: the part itself is so
    near that the play of bricks decides.
    """
    need = wanted.need
    if packing.verdict != "not decided" or MAY_GO_IN not in packing.reason or need.looks or need.pinned:
        return ""
    return f"{packing.reason}; {surely_enough(wanted.part)}"


def _places(packing: Packing) -> tuple[FitPlace, ...]:
    """Return where all parts would lie, so that others can look whether they do; none where they do not."""
    return tuple(
        FitPlace(one.need, one.part.id, one.place, one.shelf, one.steady)
        for one in (packing.placements if packing.holds else ())
    )


def _bricks(packing: Packing) -> tuple[str, ...]:
    return packing.rebuild.remove if packing.rebuild else ()


def _removal(packing: Packing) -> str:
    """Say which bricks a rebuild takes out; empty without one."""
    removes = packing.verdict == "fits after a rebuild" and packing.rebuild is not None
    return f"take out {', '.join(_bricks(packing))}" if removes else ""


def _free_to_go(need: Need) -> Need:
    """Return the need without the user's wish for a vehicle: the table asks of all of them."""
    return replace(need, vehicles=())


def _proof(packing: Packing) -> str:
    if packing.holds:
        return "placed in exact millimetres and checked by code that knows no solver"
    return packing.proof
