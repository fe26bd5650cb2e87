"""The choice against itself: options and their scores, the verdict, the rebuilds.

Rules, with their tolerances:

* an option scores the weighted sum of its own figures (0.01), a million more for each part left out, a
  hundred thousand where parts do not work together, ten thousand for each that is shut in; the chosen one
  names just the parts that are placed, and its figures are those of the plan: vehicles with parts in them,
  conductors, those ahead of a fuse, wagons added, bricks taken out; wire and mass off balance are those of
  the choice, and parts may have made way for wires since: a difference is a note;
* of the options none beats another in every figure, the chosen one aside, and none scores less than it;
* with parts left out the verdict is *cannot fit* or *not decided*, with bricks taken out *fits after a
  rebuild*, otherwise *fits*;
* parts that are said to be left aside are parts of the catalogue, and no candidates of their need;
* bricks taken out are bricks that come out, their costs add up, and the least is no more than the cost.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import CellPack, Fuse, Switch
from fitplan.model.facts import mass_of
from fitplan.model.forms import stem_of
from fitplan.model.nets import Net
from fitplan.model.part import Part
from fitplan.model.plan import Plan
from fitplan.model.proposed import Option
from fitplan.model.solids import Vec
from fitplan.model.train import ADDED_WAGON, Train
from fitplan.model.vehicle import built_in_name
from fitplan.verify.result import Tally

NEAR = 0.01
_LEFT_OUT, _UNSUITABLE, _SHUT_IN = 1e6, 1e5, 1e4
"""What a part left out, parts that do not work together, and a part that is shut in add to a score."""


def check_choice(plan: Plan, sheet: Tally) -> None:
    """Check all that a plan says of its own choice."""
    _verdict(plan, sheet)
    _options(plan, sheet)
    _rebuilds(plan, sheet)
    _left_out(plan, sheet)
    _left_aside(plan, sheet)
    lost = plan.built.harness.unreached
    for entry in sorted({str(entry) for entry in lost if lost.count(entry) > 1}):
        sheet.problem("unreached", "plan", f"is told twice: {entry}")
    sheet.trust("reasons of what no wire reaches", len(lost), "why none was found, or none can be")
    carried = len(plan.built.placements)
    sheet.trust(
        "words of what carries parts", carried, "that something does is worked out, not how it is put"
    )
    if plan.proved and plan.options:
        sheet.trust(
            "that no other choice costs less", 1, "the search is not run again, nor is its seed tried"
        )


def _verdict(plan: Plan, sheet: Tally) -> None:
    sheet.count("verdicts")
    if plan.unplaced:
        wanted = {"cannot fit", "not decided"}
    elif any(rebuild.remove for rebuild in plan.built.rebuilds):
        wanted = {"fits after a rebuild"}
    else:
        wanted = {"fits"}
    if plan.verdict not in wanted:
        message = f"is {plan.verdict!r}; what the plan holds is {' or '.join(sorted(wanted))}"
        sheet.problem("verdict", "plan", message)


# -- options -----------------------------------------------------------------------------------------------


def _options(plan: Plan, sheet: Tally) -> None:
    train = plan.built.train
    if not plan.options:
        if plan.outcomes:
            sheet.problem("options", "plan", "the table of options is empty; the plan itself is one")
        return
    chosen = [option for option in plan.options if option.chosen]
    if len(chosen) != 1:
        sheet.problem("options", "plan", f"{len(chosen)} options are chosen; expected one")
    for number, option in enumerate(plan.options, 1):
        where = f"option {number}"
        sheet.count("options")
        _names(train, option, where, sheet)
        _list_order(train, option, where, sheet)
        _score(train, option, where, sheet)
    for option in chosen:
        _as_planned(plan, option, sheet)
        for number, other in enumerate(plan.options, 1):
            better = other.score < option.score - NEAR and other.shut_in <= option.shut_in
            # what the user likes comes before what a choice costs
            better &= _apart(train, other) <= _apart(train, option)
            if not other.chosen and better and len(other.parts) >= len(option.parts):
                message = f"scores {other.score:g}, less than the chosen one, {option.score:g}"
                sheet.problem("options", f"option {number}", message, option.score - other.score, "")
    count = len(plan.options)
    sheet.trust("wire and balance of options", count, "of places that parts have left since, or never took")
    rest = [option for option in plan.options if not option.chosen]
    for number, option in enumerate(rest, 1):
        if any(_beats(other, option) for other in rest):
            sheet.problem("options", f"option {number + 1}", "is beaten by another in every figure")
    rows = sorted(sorted(option.parts) for option in plan.options)
    for row, next_row in pairwise(rows):
        if row == next_row:
            sheet.problem("options", "plan", "two options are one and the same")


def _names(train: Train, option: Option, where: str, sheet: Tally) -> None:
    vehicles = {entry.name for entry in train.vehicles} | {ADDED_WAGON}
    needs = {need.name: need for need in train.needs}
    for need, part_id, vehicle in option.parts:
        if need not in needs:
            sheet.problem("options", where, f"names {need}, which is no need")
        elif part_id not in {part.id for part in needs[need].candidates}:
            sheet.problem("options", where, f"takes {part_id} for {need}, which does not ask for it")
        elif vehicle not in vehicles:
            sheet.problem("options", where, f"puts {need} into {vehicle}, which is no vehicle")
        elif needs[need].vehicles and vehicle not in needs[need].vehicles:
            sheet.problem("options", where, f"puts {need} into {vehicle}, where it may not go")
    named = [need for need, _, _ in option.parts]
    if len(set(named)) != len(named):
        sheet.problem("options", where, "names a need twice")
    opened = len({vehicle for _, _, vehicle in option.parts})
    if option.vehicles_opened != opened:
        message = f"says it opens {option.vehicles_opened} vehicles; its parts lie in {opened}"
        sheet.problem("options", where, message, abs(option.vehicles_opened - opened), "vehicles")


def _list_order(train: Train, option: Option, where: str, sheet: Tally) -> None:
    """Check how far down their lists the parts of an option stand, what differs in its form alone as one."""
    ahead = 0
    for need, part_id, _ in option.parts:
        listed = [one.candidates for one in train.needs if one.name == need]
        stems = [stem_of(one.id) for one in (listed[0] if listed else ())]
        ahead += len({*stems[: stems.index(stem_of(part_id))]}) if stem_of(part_id) in stems else 0
    if option.later_in_list != ahead:
        message = f"says its parts stand {option.later_in_list} places down their lists; they stand {ahead}"
        sheet.problem("options", where, message, abs(option.later_in_list - ahead), "places")


def _score(train: Train, option: Option, where: str, sheet: Tally) -> None:
    weights = train.weights
    plain = (
        weights.vehicles_opened * option.vehicles_opened
        + weights.wagons_added * option.wagons_added
        + weights.conductors_across * option.conductors_across
        + weights.bricks_removed * option.bricks_removed
        + weights.wire_metres * option.wire_mm / 1000
        + weights.mass_off_balance * option.mass_off_balance_g
        + weights.unfused_across * option.unfused_across
        + weights.later_in_list * option.later_in_list
    )
    fixed = _LEFT_OUT * (len(train.needs) - len(option.parts)) + _SHUT_IN * option.shut_in
    more = option.score - plain - fixed
    rounding = NEAR + abs(weights.wire_metres) * 1e-4 + abs(weights.mass_off_balance) * 0.01
    if min(abs(more), abs(more - _UNSUITABLE)) > rounding:
        message = f"says it scores {option.score:g}; its figures make {plain + fixed:g}"
        sheet.problem("options", where, message, abs(more), "")


def _apart(train: Train, option: Option) -> tuple[bool, ...]:
    """Return for each wish for two things in one vehicle whether an option parts them, the first first."""
    homes = {need: vehicle for need, _, vehicle in option.parts}
    told = []
    for wish in train.preferences:
        if wish.kind in ("near", "same side as", "reachable from"):
            with_lid = {v.name for v in train.vehicles if wish.other in {o.name for o in v.vehicle.openings}}
            there = {homes[wish.other]} if wish.other in homes else {wish.other.split("/")[0]} | with_lid
            known = wish.other in homes or "/" in wish.other or bool(with_lid)
            told.append(wish.of in homes and known and homes[wish.of] not in there)
    return tuple(told)


def _beats(one: Option, other: Option) -> bool:
    a, b = _figures(one), _figures(other)
    return a != b and all(x <= y for x, y in zip(a, b, strict=True)) and one.shut_in <= other.shut_in


def _figures(option: Option) -> tuple[float, ...]:
    return (
        option.vehicles_opened,
        option.wagons_added,
        option.conductors_across,
        option.bricks_removed,
        round(option.wire_mm, 1),
        round(option.mass_off_balance_g, 2),
        option.unfused_across,
        option.later_in_list,
    )


def _as_planned(plan: Plan, option: Option, sheet: Tally) -> None:
    """Check the chosen option against the places of the plan."""
    built = plan.built
    placed = sorted((entry.need, entry.part.id, entry.vehicle) for entry in built.placements)
    if sorted(option.parts) != placed:
        sheet.problem("options", "chosen", "is not what is placed")
        return
    homes = {entry.need: entry.vehicle for entry in built.placements}
    across = _conductors_across(built.train, homes)
    if option.conductors_across != across:
        message = f"says {option.conductors_across} conductors cross couplings; its places ask for {across}"
        sheet.problem("options", "chosen", message, abs(option.conductors_across - across), "conductors")
    bare = _conductors_across(built.train, homes, _unfused(built.train))
    if option.unfused_across != bare:
        message = f"says {option.unfused_across} conductors cross couplings ahead of a fuse; {bare} do"
        sheet.problem("options", "chosen", message, abs(option.unfused_across - bare), "conductors")
    added = len({vehicle for vehicle in homes.values() if vehicle == ADDED_WAGON})
    if option.wagons_added != added:
        sheet.problem("options", "chosen", f"says {option.wagons_added} wagons are added; {added} are")
    removed = sum(rebuild.cost for rebuild in built.rebuilds)
    if abs(option.bricks_removed - removed) > NEAR:
        message = f"says bricks of {option.bricks_removed:g} come out; the plan takes out {removed:g}"
        sheet.problem("options", "chosen", message, abs(option.bricks_removed - removed), "")
    # Parts may have made way for wires after the choice: what those two figures were then is worth a note.
    wire = _wire_estimate(built)
    if abs(option.wire_mm - wire) > max(0.15 * wire, 60.0):
        message = (
            f"was weighed with about {option.wire_mm:.0f} mm of wire; where its parts lie now straight lines "
            f"between its pins make {wire:.0f}"
        )
        sheet.note("options", "chosen", message, abs(option.wire_mm - wire), "mm")
    balance = _off_balance(built)
    if abs(option.mass_off_balance_g - balance) > max(0.2 * balance, 1.0):
        message = (
            f"was weighed as {option.mass_off_balance_g:g} g off balance; where its parts lie now it is "
            f"{balance:.2f} g"
        )
        sheet.note("options", "chosen", message, abs(option.mass_off_balance_g - balance), "g")


def _unfused(train: Train) -> list[Net]:
    """Return the supply nets from each fuse back to cells: two ends each, only switches between."""

    def only(owner: str, kind: type[CellPack | Fuse | Switch]) -> bool:
        parts = next((need.candidates for need in train.needs if need.name == owner), ())
        wanted = [part.figure(kind) is not None for part in parts]
        return any(wanted) if kind is CellPack else bool(wanted) and all(wanted)

    lines = [
        (net, frozenset(owners))
        for net in train.nets
        if net.role == "supply" and len(owners := {ref.owner for ref in net.joins}) == 2
    ]
    meets = Counter(
        owner for net in train.nets if net.role == "supply" for owner in {r.owner for r in net.joins}
    )
    found: list[Net] = []
    for fuse in (need.name for need in train.needs if only(need.name, Fuse)):
        for first in lines:
            line, at = first, fuse
            path: list[Net] = []
            while at in line[1] and line[0] not in path:
                path.append(line[0])
                (at,) = line[1] - {at}
                onward = [one for one in lines if at in one[1] and one[0] is not line[0]]
                if not only(at, Switch) or meets[at] != 2 or len(onward) != 1:
                    break
                line = onward[0]
            if path and only(at, CellPack):
                found += [net for net in path if net not in found]
    return found


def _conductors_across(train: Train, homes: dict[str, str], nets: Sequence[Net] | None = None) -> int:
    """Return how many conductors cross couplings in all, as the style of each net has it."""
    order = {entry.name: place for place, entry in enumerate(train.vehicles)}
    total = 0
    for net in train.nets if nets is None else nets:
        owners = [(named[0] if (named := built_in_name(r.owner)) else homes.get(r.owner)) for r in net.joins]
        places = [order[home] for home in owners if home in order]
        if not places:
            continue
        if net.style == "home-run":
            total += sum(abs(place - places[0]) for place in places[1:])
        else:
            total += max(places) - min(places)
    return total


def _wire_estimate(built: BuiltTrain) -> float:
    """Return the length of all nets as links along the axes from pin to pin, in mm: trees, or home runs."""
    train = built.train
    starts = train.starts()
    total = 0.0
    for net in train.nets:
        spots: list[Vec] = []
        for ref in net.joins:
            vehicle = built.vehicle_of(ref.owner)
            if vehicle is None or vehicle not in starts:
                continue
            placement = built.placement(ref.owner)
            pins = [pin for pin in built.pins_of(ref.owner) if ref.pin in ("*", pin.name, pin.role)]
            if placement is not None:
                spot = placement.place.move(pins[0].at if pins else placement.part.bounds.center)
            elif pins:
                spot = pins[0].at
            else:
                continue
            spots.append(train.vehicle(vehicle).in_train(starts[vehicle], spot))
        reached, waiting = spots[:1], spots[1:]
        if net.style == "home-run":
            total += sum(sum(abs(a - b) for a, b in zip(spots[0], one, strict=True)) for one in waiting)
            continue
        while waiting:
            length, spot = min(
                (sum(abs(a - b) for a, b in zip(one, other, strict=True)), one)
                for one in waiting
                for other in reached
            )
            total += length
            waiting.remove(spot)
            reached.append(spot)
    return total


def _off_balance(built: BuiltTrain) -> float:
    """Return the grams on one rail that would right all vehicles sideways."""
    total = 0.0
    for entry in built.train.vehicles:
        moment = sum(
            mass_of(item.part) * (item.place.move(_middle(item.part))[1] - entry.vehicle.width / 2)
            for item in built.placements
            if item.vehicle == entry.name
        )
        total += abs(moment) / (built.train.track.gauge / 2)
    return total


def _middle(part: Part) -> Vec:
    return part.bounds.center


# -- rebuilds ----------------------------------------------------------------------------------------------


def _rebuilds(plan: Plan, sheet: Tally) -> None:
    built = plan.built
    vehicles = {entry.name: entry.vehicle for entry in built.train.vehicles}
    named = [rebuild.vehicle for rebuild in built.rebuilds]
    for name in sorted({name for name in named if named.count(name) > 1}):
        sheet.problem("rebuild", name, "is rebuilt twice")
    for rebuild in built.rebuilds:
        if rebuild.vehicle not in vehicles:
            continue  # told where vehicles are looked up
        sheet.count("costs of rebuilds")
        costs = {entry.name: entry.cost for entry in vehicles[rebuild.vehicle].removables}
        cost = sum(costs.get(name, 0.0) for name in rebuild.remove)
        if abs(rebuild.cost - cost) > 1e-6:
            message = f"says it costs {rebuild.cost:g}; its bricks cost {cost:g}"
            sheet.problem("rebuild", rebuild.vehicle, message, abs(cost - rebuild.cost), "")
        if not 0 <= rebuild.least <= rebuild.cost + 1e-6:
            message = f"says nothing below {rebuild.least:g} does; it costs {rebuild.cost:g} itself"
            sheet.problem("rebuild", rebuild.vehicle, message, rebuild.least - rebuild.cost, "")
        if len(set(rebuild.remove)) != len(rebuild.remove):
            sheet.problem("rebuild", rebuild.vehicle, "takes a brick out twice")
        stands = [item.shelf for item in built.placements if item.vehicle == rebuild.vehicle and item.shelf]
        if sorted(map(repr, stands)) != sorted(map(repr, rebuild.shelves)):
            sheet.problem("rebuild", rebuild.vehicle, "adds other pieces than carry its parts")
    sheet.trust("bounds of rebuilds", len(built.rebuilds), "that no cheaper set of bricks does is a proof")


def _left_out(plan: Plan, sheet: Tally) -> None:
    needs = {need.name for need in plan.built.train.needs}
    for name, why in plan.unplaced:
        sheet.count("needs left out")
        if name not in needs:
            sheet.problem("need", name, "is left out, and is no need of the train")
        if not why.strip():
            sheet.problem("need", name, "is left out, and no reason is given")
    sheet.trust(
        "reasons for parts left out", len(plan.unplaced), "that there is no place is a proof of its own"
    )


def _left_aside(plan: Plan, sheet: Tally) -> None:
    train = plan.built.train
    needs = {need.name: need for need in train.needs}
    for one in train.left_aside:
        sheet.count("parts left aside")
        need = needs.get(one.need)
        if need is None:
            sheet.problem("left aside", one.need, "is no need of the train")
            continue
        known = {part.id for part in need.candidates}
        for part in one.parts:
            if part in known or part not in train.catalogue:
                sheet.problem("left aside", one.need, f"{part} is chosen from, or no part of the catalogue")
    sheet.trust("why parts are left aside", len(train.left_aside), "they are not wired that way again")
