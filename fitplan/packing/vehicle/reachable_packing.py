"""Packing so that what is exchanged often comes out with no more than the user allows, where that can be."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace

from fitplan.budget import Budget
from fitplan.model.needed import Need
from fitplan.model.placed import Placement
from fitplan.model.solids import Place
from fitplan.model.train import Train
from fitplan.packing.access.disassembly import Disassembly, Filling
from fitplan.packing.access.exchange import accesses, exchanges_in
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.rebuild import pack_with_rebuild
from fitplan.packing.vehicle.reserved_ways import ReservedWay, reserved_way
from fitplan.packing.vehicle.seats import Wanted

MOST_SETS = 12
"""Sets of parts that are left to lie in the way, where the user allows some."""
_Lie = tuple[str, str, Place, str]
"""What an answer hangs on: need, part, place and what carries it."""


class ReachablePacker:
    """Packs parts into vehicles, rebuilt where that helps, and sees that what is exchanged can be got at."""

    def __init__(
        self, train: Train, packer: Packer, budget: Budget | None = None, filled: Filling = Disassembly
    ) -> None:
        self._needs = {need.name: need for need in train.needs}
        self._packer = packer
        self._budget = budget or Budget.usual()
        self._filled = filled
        self._known: dict[tuple[str, frozenset[str], tuple[_Lie, ...]], tuple[str, ...]] = {}

    def pack(self, name: str, wanted: tuple[Wanted, ...]) -> Packing:
        """Put parts into a vehicle; `Packing.shut_in` names what cannot be exchanged as the user allows."""
        packing = pack_with_rebuild(self._packer, name, wanted, self._budget.share("rebuild"))
        if not packing.holds or not (shut := self._shut_in(packing)):
            return packing
        removed = frozenset(packing.rebuild.remove if packing.rebuild else ())
        # The parts make room: first for all that is exchanged here, then only for what is shut in.
        often = frozenset(
            entry.need.name
            for entry in wanted
            if any(access.often for access in accesses(entry.need, entry.part))
        )
        best = replace(packing, shut_in=shut)
        for come_out in dict.fromkeys((often, frozenset(shut), *(frozenset({one}) for one in shut))):
            other = self._packer.pack_as_it_is(name, wanted, removed, proofs=False, come_out=come_out)
            if other.holds and len(left := self._shut_in(other)) < len(best.shut_in):
                best = replace(packing, placements=other.placements, shut_in=left)
            if not best.shut_in:
                break
        for held in self._with_ways_of_their_own(best, wanted, removed):
            other = self._packer.pack_as_it_is(name, wanted, removed, proofs=False, held=held)
            if other.holds and len(left := self._shut_in(other)) < len(best.shut_in):
                best = replace(packing, placements=other.placements, shut_in=left)
        if best.shut_in:
            best = self._with_some_on_top(best, wanted, removed)
        return best.placed(best.placements)

    def _with_some_on_top(
        self, packing: Packing, wanted: tuple[Wanted, ...], removed: frozenset[str]
    ) -> Packing:
        """Let as many other parts lie in the way as the user allows: those are put where there is room."""
        name, shut = packing.vehicle, frozenset(packing.shut_in)
        most = max(self._needs[need].exchange.parts_out for need in shut)
        others = [entry for entry in wanted if entry.need.name not in shut]
        sets = (names for count in range(1, most + 1) for names in itertools.combinations(others, count))
        best = packing
        for last in itertools.islice(sets, MOST_SETS):
            first = self._packer.pack_as_it_is(
                name,
                tuple(entry for entry in wanted if entry not in last),
                removed,
                proofs=False,
                come_out=shut,
            )
            if not first.holds:
                continue
            held = tuple(reserved_way(place, ()) for place in first.placements)
            other = self._packer.pack_as_it_is(name, wanted, removed, proofs=False, held=held)
            if other.holds and len(left := self._shut_in(other)) < len(best.shut_in):
                best = replace(packing, placements=other.placements, shut_in=left)
            if not best.shut_in:
                break
        return best

    def _with_ways_of_their_own(
        self, packing: Packing, wanted: tuple[Wanted, ...], removed: frozenset[str]
    ) -> Iterator[tuple[ReservedWay, ...]]:
        """Yield what is shut in fixed to places that have a way out, straight or not, and the ways kept open.

        First the places where the parts lie, then those where they would lie alone.  What is fixed makes no
        room, so ways lead past it.
        """
        vehicle = self._packer.vehicle(packing.vehicle)
        fixed = [place for place in packing.placements if _is_fixed(self._needs[place.need])]
        here: list[ReservedWay] = []
        alone: list[ReservedWay] = []
        for entry in wanted:
            if entry.need.name not in packing.shut_in:
                continue
            lies = [place for place in packing.placements if place.need == entry.need.name]
            single = self._packer.pack_as_it_is(packing.vehicle, (entry,), removed, proofs=False)
            for places, kept in ((lies, here), (single.placements, alone)):
                for place in places:
                    beside = [other for other in fixed if other.need != place.need]
                    found = [
                        one
                        for one in exchanges_in(
                            vehicle, self._needs, [place, *beside], removed, only_often=True
                        )
                        if one.need == place.need
                    ]
                    # What another part carries would hang once that part has moved.
                    stands = place.shelf is None and place.carried_by not in self._needs
                    within = all(one.within(self._needs[place.need]) and not one.bricks for one in found)
                    if (stands or _is_fixed(self._needs[place.need])) and within:
                        kept.append(reserved_way(place, found))
        for kept in (here, alone):
            if kept:
                yield tuple(kept)

    def _shut_in(self, packing: Packing) -> tuple[str, ...]:
        removed = frozenset(packing.rebuild.remove if packing.rebuild else ())
        key = (packing.vehicle, removed, tuple(_lie(place) for place in packing.placements))
        if key not in self._known:
            inside = [place for place in packing.placements if self._often(place)]
            found = (
                exchanges_in(
                    self._packer.vehicle(packing.vehicle),
                    self._needs,
                    packing.placements,
                    removed,
                    only_often=True,
                    filled=self._filled,
                )
                if inside
                else ()
            )
            self._known[key] = tuple(
                dict.fromkeys(entry.need for entry in found if not entry.within(self._needs[entry.need]))
            )
        return self._known[key]

    def _often(self, place: Placement) -> bool:
        return any(access.often for access in accesses(self._needs[place.need], place.part))


def _is_fixed(need: Need) -> bool:
    """Return whether a need's part has one place and no other."""
    return need.pinned is not None and need.pinned.offset is not None


def _lie(place: Placement) -> _Lie:
    return (place.need, place.part.id, place.place, place.carried_by)
