"""What a choice costs at the least while parts of it are open: what the search for the best rests on.

A partial choice is a chain of picks, each with the figures of all up to it, so that one more pick costs a
look at the nets of one need and the memory of one link.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from fitplan.circuit.fuses import unfused_nets
from fitplan.model.facts import mass_of
from fitplan.model.needed import Need
from fitplan.model.nets import Net
from fitplan.model.part import Part
from fitplan.model.train import Train
from fitplan.planning.costs import fewest_crossings, vehicle_of
from fitplan.planning.refusal import weight_of
from fitplan.planning.shared_vehicle import SharedVehicle

PREFERENCE = 1e-6
"""What a less preferred vehicle or part costs: decides between choices that are otherwise equal."""


@dataclass(frozen=True)
class Pick:
    """One need decided: the part and the vehicle, or neither when it is left out."""

    need: Need
    part: Part | None
    vehicle: str
    rank: int

    @cached_property
    def places_down(self) -> int:
        """How many candidates stand ahead of the part in its need's list; none where it is left out."""
        return self.need.places_down(self.part.id) if self.part is not None else 0

    @cached_property
    def key(self) -> tuple[str, str, str]:
        """Need, part and vehicle by name: what tells picks of a train apart."""
        return (self.need.name, self.part.id if self.part is not None else "", self.vehicle)


@dataclass(frozen=True)
class Penalties:
    """What the tiers above all costs weigh, each more than everything below it together.

    Attributes
    ----------
    shut_in
        A part that cannot be exchanged as the user allows: chosen only when no other place is left.
    unsuitable
        Parts that do not work together: chosen only when nothing else is left; in the search up to twice as
        much, by how badly they do not.
    unplaced
        Leaving a part out.
    unmet
        The last of the preferences that the choice of vehicles decides; each before weighs twice as much.
    """

    shut_in: float
    unsuitable: float
    unplaced: float
    unmet: float = 0.0

    @classmethod
    def above(cls, train: Train) -> Penalties:
        """Return penalties for a train: rounded figures unless its own costs may be higher."""
        weights, needs = train.weights, len(train.needs)
        ends = sum(len(net.joins) for net in train.nets)
        length = sum(entry.vehicle.length + 100.0 for entry in train.vehicles)
        lever = max((entry.vehicle.width / train.track.gauge for entry in train.vehicles), default=0.0)
        bricks = sum(brick.cost for entry in train.vehicles for brick in entry.vehicle.removables)
        most = (
            (weights.vehicles_opened + weights.wagons_added) * len(train.vehicles)
            + (weights.conductors_across + weights.unfused_across) * ends * len(train.vehicles)
            + weights.bricks_removed * bricks
            + weights.wire_metres * ends * length / 1000.0
            + weights.mass_off_balance
            * lever
            * sum(mass_of(part) for need in train.needs for part in need.candidates)
            + weights.later_in_list * sum(len(need.candidates) for need in train.needs)
        )
        wished = SharedVehicle(train).worth
        shut_in = max(USUAL_PENALTIES.shut_in, most + wished * most)
        unsuitable = max(USUAL_PENALTIES.unsuitable, 2 * shut_in * max(needs, 1))
        unmet = most if wished else 0.0
        return cls(shut_in, unsuitable, max(USUAL_PENALTIES.unplaced, 4 * unsuitable), unmet)

    def of_unsuitable(self, why: str) -> float:
        """Return what a reason why parts do not work together weighs in the search; 0 where it is empty."""
        return weight_of(why) * self.unsuitable


USUAL_PENALTIES = Penalties(1e4, 1e5, 1e6)
"""What the tiers weigh unless a train's own costs may be higher."""


@dataclass(frozen=True, slots=True)
class Partial:
    """Some needs decided: the last pick and the partial choice before it, with the figures of all of them."""

    before: Partial | None
    pick: Pick | None
    used: frozenset[str]
    left_out: int
    crossings: float
    """What the conductors over couplings weigh at the least."""
    rank: int
    unmet: float = 0.0
    """What the preferences weigh that are left unmet, by `SharedVehicle`."""
    places_down: int = 0
    """How far the parts stand down the lists of their needs."""

    def picks(self) -> tuple[Pick, ...]:
        """Return all picks, in the order in which they were made."""
        return tuple(reversed(tuple(self._backwards())))

    def _backwards(self) -> Iterator[Pick]:
        link: Partial | None = self
        while link is not None and link.pick is not None:
            yield link.pick
            link = link.before


class _Spans:
    """Where the nets of one need lie in the train while that need is open."""

    def __init__(self) -> None:
        self._each: list[tuple[float, int, int, Net | None, list[int | None], list[bool]]] = []

    def add(self, net: Net, weight: float, places: list[int | None], own: list[bool]) -> None:
        """Add a net.

        Parameters
        ----------
        weight
            Of each crossing.
        places
            Of its ends, in the order of `Net.joins`; None where they are open.
        own
            Which of them are the need's.
        """
        known = [place for place in places if place is not None]
        runs = net if net.style == "home-run" else None
        if known or runs is not None:  # else it crosses nothing wherever the need goes
            self._each.append((weight, min(known, default=0), max(known, default=0), runs, places, own))

    def weight(self, place: int | None = None) -> float:
        """Return what the crossings weigh at the least with the need in a place, or while it is open."""
        total = 0.0
        # Asked a million times for a long train: comparisons, as calls of `max` and `min` take twice as long.
        for weight, low, high, runs, places, own in self._each:
            if runs is not None:
                there = [place if mine else other for other, mine in zip(places, own, strict=True)]
                total += weight * fewest_crossings(runs, there)
            elif place is None:
                total += weight * (high - low)
            else:
                total += weight * ((high if high > place else place) - (low if low < place else place))
        return total


class Bound:
    """Lower bounds of the costs of a train's choices.

    Parameters
    ----------
    added
        Names of vehicles that are in the train only when something is put into them.
    """

    def __init__(self, train: Train, penalties: Penalties, added: frozenset[str]) -> None:
        self._train, self._penalties, self._added = train, penalties, added
        self._wished = SharedVehicle(train)
        self._places: dict[frozenset[str], dict[str, int]] = {}
        self._touching: dict[str, tuple[int, ...]] = {
            need.name: tuple(
                number
                for number, net in enumerate(train.nets)
                if any(ref.owner == need.name for ref in net.joins)
            )
            for need in train.needs
        }
        self._ends = [[(ref.owner, vehicle_of(ref.owner, {})) for ref in net.joins] for net in train.nets]
        """Of each net its ends' owners, with the vehicle where that is given."""
        weights = train.weights
        self.unfused = unfused_nets(train)
        """The nets between cells and their fuse."""
        self._weighs = [
            weights.conductors_across + (weights.unfused_across if net.name in self.unfused else 0.0)
            for net in train.nets
        ]
        between_built_in = self._crossings({}, frozenset(), range(len(train.nets)))
        self.start = Partial(None, None, frozenset(), 0, between_built_in, 0)
        """Nothing is decided."""

    def of(self, picks: Sequence[Pick]) -> float:
        """Return a cost that no completion of these picks can be below."""
        return self.cost(self.extended(self.start, picks))

    def cost(self, partial: Partial) -> float:
        """Return a cost that no completion of a partial choice can be below."""
        weights = self._train.weights
        return (
            self._penalties.unplaced * partial.left_out
            + weights.vehicles_opened * len(partial.used)
            + weights.wagons_added * len(partial.used & self._added)
            + partial.crossings
            + self._penalties.unmet * partial.unmet
            + weights.later_in_list * partial.places_down
            + PREFERENCE * partial.rank
        )

    def extended(self, partial: Partial, picks: Sequence[Pick]) -> Partial:
        """Return a partial choice with more picks, of needs that were open before."""
        homes = homes_of(partial.picks())
        for pick in picks:
            partial = self.with_pick(partial, homes, pick)
            homes[pick.need.name] = pick.vehicle
        return partial

    def with_pick(self, partial: Partial, homes: Mapping[str, str], pick: Pick) -> Partial:
        """Return a partial choice with one more need decided; see `with_each`."""
        return self.with_each(partial, homes, (pick,))[0]

    def with_each(self, partial: Partial, homes: Mapping[str, str], ways: Sequence[Pick]) -> list[Partial]:
        """Return a partial choice with one more need decided, for each way to serve that need.

        Parameters
        ----------
        homes
            `homes_of` the picks of ``partial``.
        ways
            Of one need: what its nets join already is looked up once for all of them.
        """
        there = partial.used & self._added
        spans = self._spans(ways[0].need.name, homes, there) if ways else _Spans()
        now = spans.weight()
        places = self._places_with(there)
        found = []
        for pick in ways:
            if pick.part is None:
                found.append(replace(partial, before=partial, pick=pick, left_out=partial.left_out + 1,
                                     rank=partial.rank + pick.rank))  # fmt: skip
                continue
            used = partial.used
            if pick.vehicle not in used:  # else one set serves: there are a million links of a long train
                used |= {pick.vehicle}
            if used & self._added == there:
                more = spans.weight(places[pick.vehicle]) - now
            else:  # one vehicle more stands between others
                after = {**homes, pick.need.name: pick.vehicle}
                more = self._crossings(after, used, range(len(self._train.nets))) - partial.crossings
            unmet = 0.0
            if self._wished.worth:
                unmet = self._wished.unmet(pick.need.name, {**homes, pick.need.name: pick.vehicle})
            found.append(
                Partial(
                    partial,
                    pick,
                    used,
                    partial.left_out,
                    partial.crossings + more,
                    partial.rank + pick.rank,
                    partial.unmet + unmet,
                    partial.places_down + pick.places_down,
                )
            )
        return found

    def _spans(self, need: str, homes: Mapping[str, str], added: frozenset[str]) -> _Spans:
        """Return where the nets of a need lie in the train, without the need itself."""
        places, found = self._places_with(added), _Spans()
        for number in self._touching[need]:
            ends = self._ends[number]
            at = [fixed or homes.get(owner) for owner, fixed in ends]
            own = [owner == need for owner, _ in ends]
            lie = [places[end] if end and not mine else None for end, mine in zip(at, own, strict=True)]
            found.add(self._train.nets[number], self._weighs[number], lie, own)
        return found

    def _crossings(self, homes: Mapping[str, str], used: frozenset[str], nets: Sequence[int]) -> float:
        """Return what the crossings of some of the nets weigh at the least."""
        places = self._places_with(used & self._added)
        total = 0.0
        for number in nets:
            ends = [fixed or homes.get(owner) for owner, fixed in self._ends[number]]
            total += self._weighs[number] * fewest_crossings(
                self._train.nets[number], [places[end] if end else None for end in ends]
            )
        return total

    def _places_with(self, added: frozenset[str]) -> dict[str, int]:
        """Return the place of each vehicle in the train with some of the vehicles that may be added."""
        if added not in self._places:
            names = [entry.name for entry in self._train.vehicles]
            there = [name for name in names if name not in self._added or name in added]
            self._places[added] = {name: number for number, name in enumerate(there)}
        return self._places[added]


def homes_of(picks: Sequence[Pick]) -> dict[str, str]:
    """Return the vehicle of each need that has one."""
    return {pick.need.name: pick.vehicle for pick in picks if pick.part is not None}
