"""From the needs of a train file to those of a `Train`: where they may go, and which parts serve them."""

from __future__ import annotations

from fitplan.files.choice import Demand, Wish, candidates, pins_meant, unmet
from fitplan.files.fields import one_of_phrase
from fitplan.files.fixed_place import fixed_place, has_socket
from fitplan.files.look_up import Reading, tell_unknown, vehicle_named
from fitplan.files.need_entries import NeedEntry
from fitplan.files.train_file import TrainFile
from fitplan.files.train_nets import demand_on
from fitplan.model.needed import Choice, Exchange, Need
from fitplan.model.part import Part


def check_places(need: NeedEntry, reading: Reading) -> None:
    """Report vehicles, windows, faces and openings that a need names and that there are not."""
    for name in need.in_ or ():
        vehicle_named(name, reading)
    if need.looks is not None:
        vehicle = vehicle_named(need.looks.vehicle, reading)
        windows = [window.name for window in vehicle.windows] if vehicle is not None else []
        if vehicle is not None and need.looks.window not in windows:
            tell_unknown("window", need.looks.window, windows, reading, of=str(need.looks.vehicle))
    if need.sits is not None:
        vehicle = vehicle_named(need.sits.vehicle, reading)
        if vehicle is not None:
            built = next((item for item in vehicle.built_in if item.name == need.sits.on), None)
            if built is None:
                known = [item.name for item in vehicle.built_in]
                tell_unknown("built-in thing", need.sits.on, known, reading, of=str(need.sits.vehicle))
            elif all(face.name != need.sits.face for face in built.faces):
                faces = [face.name for face in built.faces]
                tell_unknown("face", need.sits.face, faces, reading, of=built.name)
    if need.at is not None:
        vehicle_named(need.at.vehicle, reading)
    if need.exchange is not None:
        _check_openings(need, reading)
    bound = [place.vehicle for place in (need.looks, need.sits, need.at) if place is not None]
    for name in bound:
        if name != bound[0]:
            reading.collector.add(
                name.spot, f"the vehicle {str(name)!r}", f"{str(bound[0])!r}, where the same need is bound to"
            )
        if need.in_ is not None and name not in need.in_ and name in reading.vehicles:
            names = one_of_phrase([repr(str(item)) for item in need.in_])
            reading.collector.add(name.spot, f"the vehicle {str(name)!r}", f"{names}, as in the need's 'in'")


def _check_openings(need: NeedEntry, reading: Reading) -> None:
    """Report openings that none of the vehicles has that a need may go into."""
    assert need.exchange is not None
    bound = [place.vehicle for place in (need.looks, need.sits, need.at) if place is not None]
    # Where a place is fixed to the last, the need may still name what it could be reached by elsewhere.
    frozen = need.at is not None and need.at.offset is not None
    names = [str(name) for name in ((not frozen and bound) or need.in_ or reading.vehicles)]
    homes = [reading.vehicles.get(name) for name in names]
    known = [opening.name for home in homes if home is not None for opening in home.openings]
    for name in need.exchange.open:
        if str(name) not in known and None not in homes:
            of = names[0] if len(names) == 1 else ""
            tell_unknown("opening", name, list(dict.fromkeys(known)), reading, of=of)


def need_of(item: NeedEntry, entry: TrainFile, asked: list[Part], reading: Reading) -> Need | None:
    """Return a need with the parts that may serve it, ``asked`` being those it names; None: none can."""
    demand = demand_on(str(item.name), item, entry, reading)
    if item.part is not None:
        found = asked
        if found:
            _check_named_part(item, found[0], demand, reading)
    else:
        found = _choose(item, asked, demand, entry, reading)
    if not found:
        return None
    if item.at is not None and item.at.plug_towards is not None and not has_socket(found):
        reading.collector.add(
            item.at.spot,
            f"'plug towards' of {str(item.name)!r}, which has no socket",
            "'front towards' or 'top towards'",
        )
    choose = item.choose
    home = reading.vehicles.get(item.at.vehicle) if item.at is not None else None
    return Need(
        name=str(item.name),
        candidates=tuple(found),
        choice=Choice(
            family=" or ".join(choose.family or sorted({part.family for part in found})),
            parts=tuple(str(name) for name in choose.parts or ()),
            pins=tuple(choose.pins),
            out_v=choose.volts or 0.0,
            min_hours=choose.hours or 0.0,
        )
        if choose is not None
        else None,
        vehicles=tuple(str(name) for name in item.in_ or ()),
        looks=(str(item.looks.vehicle), str(item.looks.window)) if item.looks is not None else None,
        sits=(str(item.sits.vehicle), str(item.sits.on), str(item.sits.face))
        if item.sits is not None
        else None,
        pinned=fixed_place(item.at, home) if item.at is not None and home is not None else None,
        duty=item.duty,
        exchange=Exchange(
            openings=tuple(str(name) for name in item.exchange.open),
            parts_out=item.exchange.parts_out,
            bricks_out=item.exchange.bricks_out,
            wanted=True,
        )
        if item.exchange is not None
        else Exchange(),
    )


def _check_named_part(item: NeedEntry, part: Part, demand: Demand, reading: Reading) -> None:
    """Report what a part that was asked by name cannot do."""
    assert item.part is not None
    spot = item.part.spot
    # Pins that it does not have, and * where it has none to choose from, are reported with the nets.
    chosen = demand.chosen if any(pin.can for pin in part.pins) else ()
    known = Demand(tuple(name for name in demand.pins if pins_meant(part, name)), chosen, demand.extra)
    if lacking := unmet(part, known):
        reading.collector.add(
            spot, f"the part {part.id!r}, which lacks {lacking}", "a part with what the nets ask for"
        )
    if item.looks is not None and part.mount.looks is None:
        reading.collector.add(
            spot, f"the part {part.id!r}, which does not look out", "a part whose 'mount' has 'looks'"
        )
    if item.sits is not None and part.mount.sits is None:
        reading.collector.add(
            spot, f"the part {part.id!r}, which sits on nothing", "a part whose 'mount' has 'sits'"
        )


def _choose(
    item: NeedEntry, asked: list[Part], demand: Demand, entry: TrainFile, reading: Reading
) -> list[Part]:
    assert item.choose is not None
    choose = item.choose
    if choose.parts is not None and not asked and any(name not in reading.catalogue for name in choose.parts):
        return []
    # As with a part that is asked by name: what no part can do at all is reported with the nets.
    known = Demand(
        tuple(name for name in demand.pins if any(pins_meant(part, name) for part in asked)),
        demand.chosen if any(pin.can for part in asked for pin in part.pins) else (),
        demand.extra,
    )
    wish = Wish(
        families=tuple(choose.family or ()),
        parts=tuple(str(name) for name in choose.parts or ()),
        volts=choose.volts or 0.0,
        demand=known,
        looks=item.looks is not None,
        sits=item.sits is not None,
    )
    may = reading.only.get(str(item.name))
    known_parts = [part for part in reading.catalogue.values() if may is None or part.id in may]
    found, reason = candidates(known_parts, wish)
    if not wish.parts:
        drawer = {str(name) for name, count in entry.owned.parts if count}
        found.sort(key=lambda part: part.id not in drawer)
    if not found:
        expected = "a choice that some part of the catalogue meets"
        reading.collector.add(
            choose.spot, f"a choice for {str(item.name)!r} that no part meets", expected, reason
        )
    return found
