"""Which part goes into which vehicle, and which of the allowed parts is chosen: one decision for the train.

A best-first search over the needs.  The cost of what is decided so far never exceeds the cost of any way
to go on, so the first choice that comes off the queue with its true cost is the best; the search can say so.
Packing is asked last, only for choices that could still win, and every set of parts that cannot share a
vehicle is remembered and never tried again.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from fitplan.budget import Budget
from fitplan.model.part import Part
from fitplan.model.plan import Option, Placement
from fitplan.model.train import Need, Train
from fitplan.packing.vehicle.pack import Packing
from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.costs import Costs, conductors_across, mass_off_balance, wire_length

UNPLACED = 1e6
"""Cost of leaving a part out: more than all else together."""
UNSUITABLE = 1e5
"""Cost of parts that do not work together: chosen only when nothing else is left."""
SHUT_IN = 1e4
"""Cost of a part that cannot be exchanged as the user allows: chosen only when no other place is left."""
LOOKS = 2
"""Whole choices that are packed to find one runner-up."""
PREFERENCE = 1e-6
"""What a less preferred vehicle or part costs: decides between choices that are otherwise equal."""

MOST_NODES = 60_000
"""Partial choices that are looked at for the best; beyond, the best so far is kept without a proof."""
PASSES = 3
"""Passes over all needs in which the first whole choice is bettered."""

Packer = Callable[[str, tuple[Wanted, ...]], Packing]
Holds = Callable[[str, tuple[Wanted, ...]], bool]
Suits = Callable[[Mapping[str, Part]], str]


@dataclass(frozen=True)
class Pick:
    """One need decided: the part and the vehicle, or neither when it is left out."""

    need: Need
    part: Part | None
    vehicle: str
    rank: int


@dataclass(frozen=True)
class Chosen:
    """A whole choice with its places and costs."""

    picks: tuple[Pick, ...]
    packings: tuple[Packing, ...]
    costs: Costs
    score: float
    unsuitable: str

    @property
    def shut_in(self) -> int:
        """How many parts cannot be exchanged as the user allows."""
        return sum(len(packing.shut_in) for packing in self.packings)

    @property
    def placements(self) -> tuple[Placement, ...]:
        """Where everything lies."""
        return tuple(place for packing in self.packings for place in packing.placements)

    @property
    def left_out(self) -> tuple[str, ...]:
        """Needs that found no place."""
        return tuple(pick.need.name for pick in self.picks if pick.part is None)

    def option(self, chosen: bool) -> Option:
        """Return the choice as a row of the table of options."""
        return Option(
            parts=tuple((p.need.name, p.part.id, p.vehicle) for p in self.picks if p.part is not None),
            vehicles_opened=self.costs.vehicles_opened,
            wagons_added=self.costs.wagons_added,
            conductors_across=self.costs.conductors_across,
            bricks_removed=self.costs.bricks_removed,
            wire_mm=round(self.costs.wire_mm, 1),
            mass_off_balance_g=round(self.costs.mass_off_balance_g, 2),
            score=round(self.score, 4),
            chosen=chosen,
            shut_in=self.shut_in,
        )


@dataclass(frozen=True)
class Decision:
    """The best choice, those that no other beats in every respect, and whether the best is proved best."""

    best: Chosen
    options: tuple[Option, ...]
    proved: bool


@dataclass
class _Search:
    train: Train
    picks: tuple[tuple[Pick, ...], ...]
    pack: Packer
    suits: Suits
    added: frozenset[str]
    budget: Budget
    order: dict[str, int]
    starts: dict[str, float]
    holds: Holds
    misfits: list[frozenset[tuple[str, str, str]]] = field(default_factory=list)
    found: dict[tuple[tuple[str, str, str], ...], Chosen] = field(default_factory=dict)
    work: int = 0
    """Steps that packing took; what is asked again counts again, so an answer hangs on no one's memory."""

    def _pack(self, name: str, wanted: tuple[Wanted, ...]) -> Packing:
        packing = self.pack(name, wanted)
        self.work += packing.work
        return packing

    def bound(self, picks: Sequence[Pick]) -> float:
        """Return a cost that no completion of these picks can be below."""
        homes = {pick.need.name: pick.vehicle for pick in picks if pick.part is not None}
        weights = self.train.weights
        used = set(homes.values())
        left_out = sum(pick.part is None for pick in picks)
        return (
            UNPLACED * left_out
            + weights.vehicles_opened * len(used)
            + weights.wagons_added * len(used & self.added)
            + weights.conductors_across * conductors_across(self.train, self.order, homes)
            + PREFERENCE * sum(pick.rank for pick in picks)
        )

    def impossible(self, picks: Sequence[Pick]) -> bool:
        """Return True when some of the picks are known not to share their vehicle."""
        have = _names(picks)
        return any(misfit <= have for misfit in self.misfits)

    def complete(self, picks: tuple[Pick, ...], unsuitable: str) -> Chosen | None:
        """Pack the vehicles of a whole choice; None, and a lesson learnt, when one cannot hold its parts."""
        packings: list[Packing] = []
        for name in self.order:
            wanted = tuple(Wanted(p.need, p.part) for p in picks if p.part is not None and p.vehicle == name)
            if not wanted:
                continue
            packing = self._pack(name, wanted)
            if not packing.holds:
                self.misfits.append(self._smallest_misfit(name, wanted))
                return None
            packings.append(packing)
        placements = [place for packing in packings for place in packing.placements]
        homes = {pick.need.name: pick.vehicle for pick in picks if pick.part is not None}
        costs = Costs(
            vehicles_opened=len(packings),
            wagons_added=len(set(homes.values()) & self.added),
            conductors_across=conductors_across(self.train, self.order, homes),
            bricks_removed=sum(packing.cost for packing in packings),
            wire_mm=wire_length(self.train, self.starts, placements),
            mass_off_balance_g=mass_off_balance(self.train, placements),
        )
        score = (
            costs.score(self.train.weights)
            + UNPLACED * sum(pick.part is None for pick in picks)
            + (UNSUITABLE if unsuitable else 0.0)
            + SHUT_IN * sum(len(packing.shut_in) for packing in packings)
            + PREFERENCE * sum(pick.rank for pick in picks)
        )
        chosen = Chosen(picks, tuple(packings), costs, score, unsuitable)
        self.found[tuple(sorted(_names(picks)))] = chosen
        return chosen

    def _smallest_misfit(self, name: str, wanted: tuple[Wanted, ...]) -> frozenset[tuple[str, str, str]]:
        """Drop parts one by one while the rest still cannot share the vehicle."""
        kept = list(wanted)
        for entry in wanted:
            if len(kept) == 1 or self.budget.used_up(self.work):
                break
            fewer = tuple(other for other in kept if other is not entry)
            if not self._pack(name, fewer).holds:
                kept = list(fewer)
        return frozenset((entry.need.name, entry.part.id, name) for entry in kept)

    def first(self, allowed: Sequence[Sequence[Pick]]) -> Chosen | None:
        """Return a whole choice found without looking back, bettered by moving one need at a time.

        What has the fewest ways is decided first, then what is largest. It bounds the search for the best,
        and stands in for it where there is too much to look at.
        """
        order = sorted(range(len(allowed)), key=lambda i: (len(allowed[i]) > 2, -_volume(allowed[i])))
        picks: dict[int, Pick] = {}
        for number in order:
            ways = sorted(allowed[number], key=lambda pick: self.bound([*picks.values(), pick]))
            picks[number] = next(
                (way for way in ways if self._takes(picks, number, way)), allowed[number][-1]
            )
        for _ in range(PASSES):
            moved = [self._bettered(picks, number, allowed[number]) for number in order]
            if not any(moved):
                break
        chosen = tuple(picks[number] for number in range(len(allowed)))
        return self.complete(chosen, self.suits({p.need.name: p.part for p in chosen if p.part is not None}))

    def _bettered(self, picks: dict[int, Pick], number: int, ways: Sequence[Pick]) -> bool:
        """Move one need to where the whole costs less, if there is such a place; True when it was moved."""
        now = self.bound(list(picks.values()))
        for way in ways:
            others = [pick for place, pick in picks.items() if place != number]
            if way != picks[number] and self.bound([*others, way]) < now and self._takes(picks, number, way):
                picks[number] = way
                return True
        return False

    def _takes(self, picks: dict[int, Pick], number: int, way: Pick) -> bool:
        """Return whether a vehicle holds one more part beside those picked for it."""
        if way.part is None:
            return True
        beside = [
            Wanted(pick.need, pick.part)
            for place, pick in sorted(picks.items())
            if place != number and pick.part is not None and pick.vehicle == way.vehicle
        ]
        return self.holds(way.vehicle, (*beside, Wanted(way.need, way.part)))

    def best(self, allowed: Sequence[Sequence[Pick]], most: int | None = None) -> tuple[Chosen | None, bool]:
        """Return the best choice among the allowed picks, and whether the search could prove it best.

        ``most`` whole choices are packed at the most.
        """
        ticket = itertools.count()
        # The deepest first among equals: a plateau of equal bounds is walked down, not across.
        queue: list[tuple[float, int, int, tuple[Pick, ...], str | None, Chosen | None]] = [
            (0.0, 0, next(ticket), (), None, None)
        ]
        fallback = self.first(allowed) if most is None else None
        packed = nodes = 0
        while queue:
            cost, _, _, picks, unsuitable, chosen = heapq.heappop(queue)
            if chosen is not None:
                return chosen, True
            nodes += 1
            if fallback is not None and cost >= fallback.score:
                return fallback, True  # nothing that is left can cost less
            if self.budget.used_up(self.work) or nodes > MOST_NODES:
                return fallback, False
            if len(picks) < len(allowed):
                for pick in allowed[len(picks)]:
                    longer = (*picks, pick)
                    if not self.impossible(longer):
                        entry = (self.bound(longer), -len(longer), next(ticket), longer, None, None)
                        heapq.heappush(queue, entry)
                continue
            if self.impossible(picks):
                continue
            if unsuitable is None:
                why = self.suits({p.need.name: p.part for p in picks if p.part is not None})
                price = cost + (UNSUITABLE if why else 0.0)
                heapq.heappush(queue, (price, -len(picks), next(ticket), picks, why, None))
                continue
            whole = self.found.get(tuple(sorted(_names(picks))))
            if whole is None:
                if most is not None and packed >= most:
                    return fallback, False
                packed += 1
                whole = self.complete(picks, unsuitable)
            if whole is None:
                continue
            if fallback is None or whole.score < fallback.score:
                fallback = whole
            heapq.heappush(queue, (whole.score, -len(picks) - 1, next(ticket), picks, unsuitable, whole))
        return fallback, True


def _volume(ways: Sequence[Pick]) -> float:
    return max((pick.part.bounds.volume for pick in ways if pick.part is not None), default=0.0)


def _names(picks: Sequence[Pick]) -> frozenset[tuple[str, str, str]]:
    return frozenset((p.need.name, p.part.id, p.vehicle) for p in picks if p.part is not None)


@dataclass
class Choosing:
    """The best choice, and the search that goes on to the runners-up when asked."""

    best: Chosen
    proved: bool
    _search: _Search
    _ordered: tuple[tuple[Pick, ...], ...]
    _late: bool = False

    @property
    def late(self) -> bool:
        """Whether the choice is not proved best because a deadline was reached."""
        return not self.proved and self._late

    def runners_up(self, budget: Budget, pack: Packer | None = None) -> tuple[Option, ...]:
        """Return the table of options: the best choice first, then those that nothing beats in every respect.

        Parameters
        ----------
        budget
            For the runners-up together.
        pack
            Another packer, for looking on while the first is busy elsewhere.
        """
        if pack is not None:
            self._search.pack = pack
        self._search.budget, self._search.work = budget, 0
        _look_around(self._search, self._ordered, self.best)
        return _not_dominated(self._search, self.best)


def choose(
    train: Train,
    pack: Packer,
    suits: Suits,
    *,
    holds: Holds | None = None,
    added: frozenset[str] = frozenset(),
    budget: Budget | None = None,
) -> Decision:
    """Decide and look for the runners-up in one go, each with its share of the budget."""
    budget = budget or Budget.usual()
    choosing = decide(train, pack, suits, holds=holds, added=added, budget=budget.share("choice"))
    options = choosing.runners_up(budget.share("runners-up"))
    return Decision(choosing.best, options, choosing.proved)


def decide(
    train: Train,
    pack: Packer,
    suits: Suits,
    *,
    holds: Holds | None = None,
    added: frozenset[str] = frozenset(),
    budget: Budget | None = None,
) -> Choosing:
    """Decide which part serves each need and which vehicle it goes into.

    Parameters
    ----------
    pack
        Packs parts into a vehicle (and rebuilds it where that helps); asked again and again with the same
        sets, so it should remember.
    suits
        Returns why the chosen parts, by need, do not work together, or an empty text.
    holds
        Returns quickly whether parts surely go into a vehicle as it is; asked for the first whole choice.
        Without it the packer is asked.
    added
        Names of vehicles that are not in the user's train but may be added.
    budget
        For the best choice.
    """
    budget = budget or Budget.usual().share("choice")
    picks = tuple(_picks_of(train, need) for need in train.needs)
    # The needs with the fewest ways first: a dead end shows early.
    ordered = tuple(sorted(picks, key=lambda ways: (len(ways), ways[0].need.name)))
    search = _Search(
        train=train,
        picks=ordered,
        pack=pack,
        suits=suits,
        added=added,
        budget=budget,
        order={entry.name: number for number, entry in enumerate(train.vehicles)},
        starts=train.starts(),
        holds=holds or (lambda name, wanted: pack(name, wanted).holds),
    )
    best, proved = search.best(ordered)
    if best is None:
        nothing = tuple(ways[-1] for ways in ordered)
        best = search.complete(nothing, "")
        assert best is not None  # nothing at all always fits
    return Choosing(best, proved, search, ordered, budget.late)


def _picks_of(train: Train, need: Need) -> tuple[Pick, ...]:
    """Return every way to serve a need, preferred first; leaving it out comes last."""
    if need.pinned is not None:
        homes = [need.pinned[0]]
    elif need.looks is not None:
        homes = [need.looks[0]]
    elif need.sits is not None:
        homes = [need.sits[0]]
    else:
        locos = [entry.name for entry in train.vehicles if entry.vehicle.kind != "wagon"]
        wagons = [entry.name for entry in train.vehicles if entry.vehicle.kind == "wagon"]
        homes = list(need.vehicles) or [*locos, *wagons]
    ways = [(part, home) for home in homes for part in need.candidates]
    found = [Pick(need, part, home, rank) for rank, (part, home) in enumerate(ways)]
    return (*found, Pick(need, None, "", len(found)))


def _look_around(search: _Search, ordered: Sequence[tuple[Pick, ...]], best: Chosen) -> None:
    """Find the best choice for every other part and every other vehicle of the needs that leave a choice."""
    mine = {pick.need.name: pick for pick in best.picks}
    for number, ways in enumerate(ordered):
        own = mine[ways[0].need.name]
        others = {(pick.part.id, pick.vehicle) for pick in ways if pick.part is not None}
        others.discard((own.part.id if own.part else "", own.vehicle))
        for part_id, home in sorted(others):
            if search.budget.used_up(search.work):
                return
            forced = tuple(
                pick
                for pick in ways
                if pick.part is not None and (pick.part.id, pick.vehicle) == (part_id, home)
            )
            allowed = [*ordered[:number], forced, *ordered[number + 1 :]]
            search.best(allowed, LOOKS)


def _not_dominated(search: _Search, best: Chosen) -> tuple[Option, ...]:
    whole = [
        c for c in search.found.values() if not c.left_out and not c.unsuitable and c.shut_in <= best.shut_in
    ]
    kept = [c for c in whole if not any(other.costs.dominates(c.costs) for other in whole)]
    kept.sort(key=lambda c: c.score)
    rows: list[Option] = [best.option(chosen=True)]
    seen: set[tuple[object, ...]] = {_figures(rows[0])}
    for chosen in kept:
        row = chosen.option(chosen=False)
        if chosen is not best and _figures(row) not in seen:
            seen.add(_figures(row))
            rows.append(row)
    return tuple(rows)


def _figures(row: Option) -> tuple[object, ...]:
    return (
        row.vehicles_opened,
        row.wagons_added,
        row.conductors_across,
        row.bricks_removed,
        row.wire_mm,
        row.mass_off_balance_g,
    )
