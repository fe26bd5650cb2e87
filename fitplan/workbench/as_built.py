"""What a plan leaves behind once it is built, and what a later plan undoes of it.

`as_built_of` takes a plan for built. `rework_of` holds a train as it is planned now against what was built of
it, names each thing that is new or not as it was, and counts what must go whatever is done: of that no plan
undoes less.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from fitplan.model.as_built import (
    REWORK,
    AsBuilt,
    BuiltEnd,
    BuiltLeg,
    BuiltPart,
    BuiltPin,
    BuiltSplice,
    BuiltWire,
    Rework,
    Reworked,
    same_point,
)
from fitplan.model.built import BuiltTrain
from fitplan.model.placed import Placement
from fitplan.model.plan import Plan
from fitplan.model.wired import Wire, WireEnd

EXTRA = "longer as it is built"
"""The allowance of a wire that was cut longer than is asked now."""


def as_built_of(plan: Plan) -> AsBuilt:
    """Return what is there once a plan is built."""
    built = plan.built
    second = {wire.inside: wire.number for wire in built.harness.wires if wire.inside}
    opening = built.opening if built.opening is not None and built.opening.planned else None
    return AsBuilt(
        parts=tuple(
            BuiltPart(one.need, one.part.id, one.vehicle, one.place.pose.name, one.place.offset, one.shelf)
            for one in built.placements
        ),
        pins=tuple(BuiltPin(use.controller, use.net, use.pin) for use in built.pin_map if use.net),
        wires=tuple(
            BuiltWire(
                wire.number,
                wire.net,
                wire.colour,
                wire.awg,
                wire.cut_mm,
                _end(wire.start),
                _end(wire.end),
                tuple(BuiltLeg(leg.vehicle, leg.points, leg.enters, leg.leaves) for leg in wire.legs),
                second=second.get(wire.number, 0),
            )
            for wire in built.harness.wires
            if not wire.inside
        ),
        splices=tuple(BuiltSplice(one.name, one.net, one.vehicle, one.at) for one in built.harness.splices),
        holes=opening.holes if opening is not None else (),
        bricks_out=opening.remove if opening is not None else (),
    )


def _end(end: WireEnd) -> BuiltEnd:
    return BuiltEnd(end.kind, end.owner, end.pin)


def stays(wire: Wire, before: BuiltWire) -> bool:
    """Return whether a wire lies as it was built, between the same ends; its length is another question."""
    return (
        (wire.net, wire.colour, wire.awg) == (before.net, before.colour, before.awg)
        and (_end(wire.start), _end(wire.end)) == (before.start, before.end)
        and len(wire.legs) == len(before.legs)
        and all(
            (one.vehicle, one.enters, one.leaves) == (leg.vehicle, leg.enters, leg.leaves)
            and len(one.points) == len(leg.points)
            and all(map(same_point, one.points, leg.points))
            for one, leg in zip(wire.legs, before.legs, strict=True)
        )
    )


def as_cut(built: BuiltTrain, bare: BuiltTrain) -> BuiltTrain:
    """Return the train with wires that stay as long as they were cut, if that is enough.

    Parameters
    ----------
    bare
        The train before its wires got longer loops: a wire that is built goes without these, if it must.
    """
    before = {wire.number: wire for wire in built.train.as_built.wires}
    if not before:
        return built
    first = {wire.number: wire for wire in bare.harness.wires}

    def cut(wire: Wire) -> Wire:
        was = before.get(wire.number)
        if was is None or not stays(wire, was):
            return wire
        mine = wire if wire.cut_mm <= was.cut_mm else first[wire.number]
        if mine.cut_mm > was.cut_mm:
            return wire
        if mine.cut_mm == was.cut_mm:
            return mine
        asked = mine.bare_mm + sum(amount for _, amount in mine.allowances)
        more = (EXTRA, round(was.cut_mm - asked, 2))
        drop = round(mine.drop_v * was.cut_mm / mine.cut_mm, 5)
        return replace(mine, cut_mm=was.cut_mm, allowances=(*mine.allowances, more), drop_v=drop)

    wires = tuple(cut(wire) for wire in built.harness.wires)
    return replace(built, harness=replace(built.harness, wires=wires))


def staying(built: BuiltTrain) -> frozenset[int]:
    """Return the numbers of the wires that lie as they were built."""
    before = {wire.number: wire for wire in built.train.as_built.wires}
    wires = built.harness.wires
    return frozenset(one.number for one in wires if one.number in before and stays(one, before[one.number]))


# -- what is undone ----------------------------------------------------------------------------------------


def rework_of(built: BuiltTrain) -> Rework:
    """Return what is new and what is undone of what was built; nothing where nothing was built."""
    before = built.train.as_built
    if not (before.parts or before.wires):
        return Rework()
    parts = tuple(_parts(built))
    lost = {one.name for one in parts if one.must}
    must = {wire.number: why for wire in before.wires if (why := _why_it_must_go(wire, built, lost))}
    wires = tuple(_wires(built, must))
    splices = tuple(_splices(built, must))
    undone = {one.name for one in parts if one.change != "new"}
    changes = (*parts, *_additions(built, undone), *_pins(built), *wires, *splices)
    cut = {one.name for one in wires if one.change != "new"}
    return Rework(
        changes,
        kept_parts=len({one.need for one in before.parts} - undone),
        kept_wires=len({str(one.number) for one in before.wires} - cut),
        least=sum(one.must and one.change in REWORK for one in changes),
    )


def _parts(built: BuiltTrain) -> Iterator[Reworked]:
    before = {one.need: one for one in built.train.as_built.parts}
    now = {one.need: one for one in built.placements}
    needs = {need.name: need for need in built.train.needs}
    there = {entry.name for entry in built.train.vehicles}
    for name, was in before.items():
        here = now.get(name)
        if here is None and name not in needs and was.vehicle not in there:
            yield Reworked(
                "left at home", "part", name, was.vehicle, f"{name} stays in the {was.vehicle}", "", True
            )
        elif here is None:
            must = name not in needs or was.vehicle not in there
            why = "nothing asks for it any more" if name not in needs else "it has no place in this plan"
            if must and name in needs:
                why = f"{was.vehicle} is not in the train"
            yield Reworked("taken out", "part", name, was.vehicle, f"take {name} out", why, must)
        elif here.part.id != was.part:
            must = was.part not in {part.id for part in needs[name].candidates}
            why = f"the train file asks for another part than {was.part}" if must else "another part serves"
            words = f"{name}: put {here.part.name} there"
            yield Reworked("exchanged", "part", name, here.vehicle, words, why, must)
        elif (here.vehicle, here.place.pose.name) != (was.vehicle, was.pose) or not same_point(
            here.place.offset, was.offset
        ):
            must = was.vehicle not in there
            why = f"{was.vehicle} is not in the train" if must else "it made room"
            yield Reworked("moved", "part", name, here.vehicle, _moved_words(here, was.vehicle), why, must)
    for name, here in now.items():
        if name not in before:
            words = f"{here.part.name} goes into the {here.vehicle}"
            yield Reworked("new", "part", name, here.vehicle, words)


def _additions(built: BuiltTrain, undone: set[str]) -> Iterator[Reworked]:
    """Tell what carries parts that stay and is not as it was built."""
    now = {one.need: one for one in built.placements}
    for was in built.train.as_built.parts:
        here = now.get(was.need)
        if was.need in undone or was.on is None or here is None or here.shelf == was.on:
            continue
        words = (
            f"what carries {was.need}: {here.shelf.words if here.shelf is not None else 'nothing is added'}"
        )
        yield Reworked("built anew", "addition", was.need, was.vehicle, words, "something else is there now")


def _moved_words(here: Placement, was_in: str) -> str:
    if here.vehicle != was_in:
        return f"move {here.need} from the {was_in} to the {here.vehicle}"
    return f"move {here.need} to its new place"


def _pins(built: BuiltTrain) -> Iterator[Reworked]:
    before = {(one.controller, one.net): one.pin for one in built.train.as_built.pins}
    for use in built.pin_map:
        was = before.get((use.controller, use.net))
        if use.net and was is not None and was != use.pin:
            vehicle = built.vehicle_of(use.controller) or ""
            words = f"{use.net} from pin {was} to pin {use.pin}"
            yield Reworked(
                "moved", "pin", f"{use.controller}.{use.pin}", vehicle, words, "pins were given anew"
            )


def _wires(built: BuiltTrain, must: Mapping[int, str]) -> Iterator[Reworked]:
    now = {wire.number: wire for wire in built.harness.wires}
    before = {wire.number: wire for wire in built.train.as_built.wires}
    there = {entry.name for entry in built.train.vehicles}
    for number, was in before.items():
        wire = now.get(number)
        vehicle = was.legs[0].vehicle
        if wire is None and not {leg.vehicle for leg in was.legs} & there:
            words = f"wire {number}, {was.net}, stays in the {vehicle}"
            yield Reworked("left at home", "wire", str(number), vehicle, words, "", True)
            continue
        why = must.get(number, "it made room")
        ends = f"{_named(was.start)} and {_named(was.end)}"
        if wire is None:
            plugged = "connector" in (was.start.kind, was.end.kind) and "is not in the train" in why
            words = f"wire {number}, {was.net}, between {ends}"
            if plugged:
                yield Reworked("unplugged", "wire", str(number), vehicle, words, why, number in must)
            else:
                yield Reworked("unsoldered", "wire", str(number), vehicle, words, why, number in must)
        elif not stays(wire, was) or wire.cut_mm > was.cut_mm + 1e-6:
            words = f"wire {number}, {was.net}: {wire.cut_mm:g} mm of {wire.colour} for {was.cut_mm:g} mm"
            if (wire.colour, wire.awg) == (was.colour, was.awg) and wire.cut_mm <= was.cut_mm + 1e-6:
                words = (
                    f"wire {number}, {was.net}: lay it anew; the old one, {was.cut_mm:g} mm, is long enough"
                )
            if stays(wire, was) and number not in must:
                why = f"it must be {wire.cut_mm - was.cut_mm:g} mm longer"
            yield Reworked("cut again", "wire", str(number), vehicle, words, why, number in must)
    for number, wire in now.items():
        if number not in before and not wire.inside:
            ends = f"{_named(_end(wire.start))} to {_named(_end(wire.end))}"
            words = f"wire {number}, {wire.net}: {wire.cut_mm:g} mm of {wire.colour}, {ends}"
            yield Reworked("new", "wire", str(number), wire.legs[0].vehicle, words)


def _splices(built: BuiltTrain, must: Mapping[int, str]) -> Iterator[Reworked]:
    before: dict[str, set[int]] = {one.name: set() for one in built.train.as_built.splices}
    for wire in built.train.as_built.wires:
        for end in (wire.start, wire.end):
            if end.kind == "splice":
                before.setdefault(end.owner, set()).add(wire.number)
    now = {one.name: set(one.wires) for one in built.harness.splices}
    where = {one.name: one.vehicle for one in built.harness.splices}
    for name, wires in before.items():
        left = wires - set(must)
        if name in now and now[name] != wires:
            words = f"splice {name}: wires {_numbers(now[name])} for {_numbers(wires)}"
            gone = bool(wires & set(must)) and bool(left)
            why = "a wire in it must go" if gone else "a wire joins it"
            yield Reworked("soldered again", "splice", name, where[name], words, why, gone)


def _why_it_must_go(wire: BuiltWire, built: BuiltTrain, lost: set[str]) -> str:
    """Return why no plan keeps a wire: an end, a net or a vehicle of it is no more; empty when one might."""
    train = built.train
    vehicles = [entry.name for entry in train.vehicles]
    for leg in wire.legs:
        if leg.vehicle not in vehicles:
            return f"{leg.vehicle} is not in the train"
    net = next((net for net in train.nets if net.name == wire.net), None)
    if net is None:
        return f"there is no net {wire.net} any more"
    owners = {ref.owner for ref in net.joins}
    for end in (wire.start, wire.end):
        if end.kind == "pin" and end.owner in lost:
            return f"{end.owner} does not stay"
        if end.kind == "pin" and end.owner not in owners:
            return f"{end.owner} is not joined by {wire.net} any more"
        if end.kind == "connector" and not _has_mate(wire, end, built):
            return "what its connector plugs into is not in the train"
    for one, other in zip(wire.legs, wire.legs[1:], strict=False):
        if abs(vehicles.index(one.vehicle) - vehicles.index(other.vehicle)) != 1:
            return f"{one.vehicle} and {other.vehicle} are not coupled any more"
    return ""


def _has_mate(wire: BuiltWire, end: BuiltEnd, built: BuiltTrain) -> bool:
    """Return whether the other half of a connector is on the vehicle that is coupled there now."""
    vehicles = [entry.name for entry in built.train.vehicles]
    mine = wire.legs[0 if wire.start == end else -1].vehicle
    for other in built.train.as_built.wires:
        if other.number == wire.number or other.net != wire.net:
            continue
        for its, leg in ((other.start, other.legs[0]), (other.end, other.legs[-1])):
            if (its.kind, its.owner, its.pin) == (end.kind, end.owner, end.pin):
                beside = leg.vehicle in vehicles
                return beside and abs(vehicles.index(leg.vehicle) - vehicles.index(mine)) == 1
    return False


def _named(end: BuiltEnd) -> str:
    if end.kind == "pin":
        return f"{end.owner}.{end.pin}"
    return f"splice {end.owner}" if end.kind == "splice" else f"{end.owner} cavity {end.pin}"


def _numbers(wires: set[int]) -> str:
    return ", ".join(str(number) for number in sorted(wires))
