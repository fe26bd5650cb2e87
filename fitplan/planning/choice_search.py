"""The search for the cheapest choice: best first, every answer of the packer learnt from.

The bound of what is decided never exceeds the cost of any way to go on, so the first choice that comes off
the queue with its true cost is the best.  Packing is asked last, only for choices that could still win.
Parts that are proved not to share a vehicle are never tried together again; parts of which that is not
decided are passed over too, but the least that a choice with them may cost is kept: from there on nothing is
proved.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import inf
from typing import Literal, TypeAlias

from fitplan.budget import Budget
from fitplan.model.part import Part
from fitplan.model.train import Train
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.choice_bound import (
    PREFERENCE,
    USUAL_PENALTIES,
    Bound,
    Partial,
    Penalties,
    Pick,
    homes_of,
)
from fitplan.planning.chosen import ROUNDING, Best, Chosen
from fitplan.planning.costs import Costs, conductors_across, mass_off_balance, wire_length, without
from fitplan.planning.pick_sets import Key, Keys, holds_any, holds_one, keys_in, keys_of, learn
from fitplan.planning.working_sets import WorkingSets, only_with, working_better

MOST_NODES = 60_000
"""Partial choices that are looked at for the best; beyond, the best so far is kept without a proof."""
MOST_IDLE = 5_000
"""So many of them after the best whole choice: the search ends when none has bettered it. A hundred are
enough where the bound closes at all; where it does not, sixty thousand came to nothing either."""
MOST_INSISTED = 4
"""So many needs without a place at once, and so many ways of each, are asked about thoroughly."""
PATIENCE = 0.15
"""When so much of the budget went into whole choices none of which betters the best the search ends: in all
that its bound knows they are alike, and wire and balance alone tell them apart."""
MOST_SETS = 4
"""So many sets of other parts are tried where those of the first whole choice do not work together."""
PASSES = 3
"""Passes over all needs in which the first whole choice is bettered."""

PackParts: TypeAlias = Callable[[str, tuple[Wanted, ...]], Packing]
"""Packs parts into a vehicle (and rebuilds it where that helps); asked again and again with the same sets."""
Holds: TypeAlias = Callable[[str, tuple[Wanted, ...], bool], bool]
"""Returns quickly whether parts surely go into a vehicle: as it is or, when told so, with its bricks out."""
Suits: TypeAlias = Callable[[Mapping[str, Part]], str]
"""Returns why chosen parts, by need, do not work together; an empty text when they do."""
Overfull: TypeAlias = Callable[[Mapping[str, str]], bool]
"""Tells whether homes of needs, by name, ask for more than ports are known to carry: not decided, then."""
Unpacked: TypeAlias = Literal["cannot fit", "not decided"]
"""Why a whole choice has no places: that is proved, or it is not known."""


@dataclass
class Search:
    """The choices of one train, and what is learnt of them."""

    train: Train
    picks: tuple[tuple[Pick, ...], ...]
    pack: PackParts
    suits: Suits
    holds: Holds
    added: frozenset[str]
    budget: Budget
    overfull: Overfull | None = None
    excluded: dict[Key, list[Keys]] = field(default_factory=dict)
    """Parts that are proved not to share a vehicle, by each of them."""
    doubts: dict[Key, list[Keys]] = field(default_factory=dict)
    """Parts that are not known to share a vehicle nor proved not to, by each of them."""
    nowhere: dict[tuple[str, str], bool] = field(default_factory=dict)
    """Whether the part of a need is proved to go nowhere, of those that were asked about."""
    found: dict[Keys, Chosen] = field(default_factory=dict)
    work: int = 0
    """Steps that packing took; what is asked again counts again, so an answer hangs on no one's memory."""

    def __post_init__(self) -> None:
        self.penalties = Penalties.above(self.train)
        self.bound = Bound(self.train, self.penalties, self.added)

    def best(
        self, allowed: Sequence[Sequence[Pick]], most: int | None = None, most_nodes: int = MOST_NODES
    ) -> Best:
        """Return the best choice among the allowed picks, and what is left open beside it.

        ``most`` whole choices are packed at the most, and ``most_nodes`` partial ones looked at.
        """
        ticket = itertools.count()
        # The deepest first among equals: a plateau of equal bounds is walked down, not across.
        queue: list[tuple[float, int, int, Partial, str | None, Chosen | None]] = [
            (0.0, 0, next(ticket), self.bound.start, None, None)
        ]
        best = self.first(allowed) if most is None else None
        open_from = inf
        packed = nodes = 0
        bettered_at, looked_at = self.work, 0
        working = WorkingSets.among([self._possible(ways) for ways in allowed], self.suits)
        while queue:
            cost, depth, _, partial, unsuitable, chosen = heapq.heappop(queue)
            if chosen is not None:
                return Best(chosen, open_from)
            nodes += 1
            if best is not None and cost >= best.score:
                return Best(best, open_from)  # nothing that is left can cost less
            idle = best is not None and (
                self.work - bettered_at > PATIENCE * self.budget.steps or nodes - looked_at > MOST_IDLE
            )
            if self.budget.used_up(self.work) or nodes > most_nodes or idle:
                return Best(best, min(open_from, cost))
            picks = partial.picks()
            keys = keys_of(picks)
            if holds_any(self.excluded, keys):
                continue  # learnt since it was put here
            if -depth < len(allowed):
                for longer, price in self._longer(partial, picks, allowed[len(picks)], open_from, working):
                    if best is None or price < best.score:
                        heapq.heappush(queue, (price, depth - 1, next(ticket), longer, None, None))
                continue
            if unsuitable is None:
                why = self.suits({p.need.name: p.part for p in picks if p.part is not None})
                price = self.bound.cost(partial) + self.penalties.of_unsuitable(why)
                heapq.heappush(queue, (price, depth, next(ticket), partial, why, None))
                continue
            doubted = self._doubted(keys, homes_of(picks))
            whole: Chosen | Unpacked = "not decided" if doubted else "cannot fit"
            if whole == "cannot fit":
                known = self.found.get(keys)
                if known is None:
                    if most is not None and packed >= most:
                        return Best(best, min(open_from, cost))
                    packed += 1
                whole = known or self.complete(picks, unsuitable)
            if isinstance(whole, Chosen):
                open_from = min(open_from, inf if whole.least >= whole.score - ROUNDING else whole.least)
                if best is None or whole.score < best.score:
                    best, bettered_at, looked_at = whole, self.work, nodes
                heapq.heappush(queue, (whole.score, depth - 1, next(ticket), partial, unsuitable, whole))
            elif whole == "not decided":
                open_from = min(open_from, cost)
        return Best(best, open_from)

    def avoiding(self, sets: Sequence[Keys], budget: Budget, overfull: Overfull | None = None) -> Search:
        """Return a search that knows what this one knows, and counts some sets of picks as not decided.

        ``overfull`` counts more as not decided; None leaves it as it was.
        """
        doubts = {key: list(known) for key, known in self.doubts.items()}
        for keys in sets:
            learn(doubts, keys)
        return replace(
            self,
            excluded={key: list(known) for key, known in self.excluded.items()},
            doubts=doubts,
            found={have: one for have, one in self.found.items() if not any(keys <= have for keys in sets)},
            budget=budget,
            overfull=overfull or self.overfull,
            work=0,
        )

    def _longer(
        self,
        partial: Partial,
        picks: Sequence[Pick],
        ways: Sequence[Pick],
        open_from: float,
        working: WorkingSets,
    ) -> list[tuple[Partial, float]]:
        """Return a partial choice with each way to serve one more need that may be worth a look."""
        homes, have = homes_of(picks), keys_of(picks)
        left = working.left(picks)
        found: list[tuple[Partial, float]] = []
        likely = [way for way in ways if not holds_one(self.excluded, way.key, have | {way.key})]
        for way, longer in zip(likely, self.bound.with_each(partial, homes, likely), strict=True):
            price = self.bound.cost(longer)
            if not longer.left_out:
                price += self.penalties.unsuitable * working.least(left & working.with_one(way))
            # What is open costs no less than what is open already: there is nothing to learn from it.
            if price >= open_from:
                after = {**homes, way.need.name: way.vehicle}
                if self._doubted(have | {way.key}, after):
                    continue
            found.append((longer, price))
        return found

    def _doubted(self, keys: Keys, homes: Mapping[str, str]) -> bool:
        """Tell whether it is not decided that such picks can be: in their vehicles, or through the ports."""
        return holds_any(self.doubts, keys) or (self.overfull is not None and self.overfull(homes))

    def complete(self, picks: tuple[Pick, ...], unsuitable: str) -> Chosen | Unpacked:
        """Pack the vehicles of a whole choice; where that fails, learn which parts do not go together."""
        packings: list[Packing] = []
        doubts: list[Keys] = []
        for entry in self.train.vehicles:
            name = entry.name
            wanted = tuple(Wanted(p.need, p.part) for p in picks if p.part is not None and p.vehicle == name)
            if not wanted:
                continue
            packing = self._pack(name, wanted)
            if packing.verdict == "cannot fit":
                learn(self.excluded, self._fewest(name, wanted))
                return "cannot fit"
            if packing.holds:
                packings.append(packing)
            else:
                doubts.append(keys_in(name, wanted))
        for doubt in doubts:
            learn(self.doubts, doubt)
        if doubts:
            return "not decided"
        chosen = self._chosen(picks, tuple(packings), unsuitable)
        self.found[keys_of(picks)] = chosen
        return chosen

    def _chosen(self, picks: tuple[Pick, ...], packings: tuple[Packing, ...], unsuitable: str) -> Chosen:
        placements = [place for packing in packings for place in packing.placements]
        homes = homes_of(picks)
        train = without(self.train, self.added - set(homes.values()))
        costs = Costs(
            vehicles_opened=len(packings),
            wagons_added=len(set(homes.values()) & self.added),
            conductors_across=conductors_across(train, homes),
            bricks_removed=sum(packing.cost for packing in packings),
            wire_mm=wire_length(train, placements),
            mass_off_balance_g=mass_off_balance(train, placements),
            unfused_across=conductors_across(train, homes, self.bound.unfused),
            later_in_list=sum(pick.places_down for pick in picks),
        )
        plain = costs.score(self.train.weights) + PREFERENCE * sum(pick.rank for pick in picks)
        left_out = sum(pick.part is None for pick in picks)
        shut_in = sum(len(packing.shut_in) for packing in packings)
        unmet = self.bound.extended(self.bound.start, picks).unmet
        score, shown = (
            plain + tiers.unplaced * left_out + apart + tiers.shut_in * shut_in + tiers.unmet * unmet
            # What destroys a part comes after what does not; a score that is told counts either once.
            for tiers, apart in (
                (self.penalties, self.penalties.of_unsuitable(unsuitable)),
                (USUAL_PENALTIES, USUAL_PENALTIES.unsuitable if unsuitable else 0.0),
            )
        )
        spare = sum(packing.rebuild.cost - packing.rebuild.least for packing in packings if packing.rebuild)
        least = score - self.train.weights.bricks_removed * spare
        return Chosen(picks, packings, costs, score, least, shown, unsuitable)

    def _pack(self, name: str, wanted: tuple[Wanted, ...]) -> Packing:
        packing = self.pack(name, wanted)
        self.work += packing.work
        return packing

    def _fewest(self, name: str, wanted: tuple[Wanted, ...]) -> Keys:
        """Drop parts one by one while it stays proved that the rest cannot share the vehicle."""
        kept = list(wanted)
        for entry in wanted:
            if len(kept) == 1 or self.budget.used_up(self.work):
                break
            fewer = tuple(other for other in kept if other is not entry)
            if self._pack(name, fewer).verdict == "cannot fit":
                kept = list(fewer)
        return keys_in(name, kept)

    def first(self, allowed: Sequence[Sequence[Pick]]) -> Chosen | None:
        """Return a whole choice found without looking back, bettered by moving one need at a time.

        Where its parts do not work together others are taken that work better. It bounds the search for the
        best, and stands in for it where there is too much to look at.
        """
        whole = self._at_once(allowed)
        if whole is None or not whole.unsuitable:
            return whole
        possible = [self._possible(ways) for ways in allowed]
        for parts in working_better(whole.parts, possible, self.suits)[:MOST_SETS]:
            other = self._at_once(only_with(parts, allowed))
            if other is not None and other.score < whole.score:
                return other
        return whole

    def _possible(self, ways: Sequence[Pick]) -> list[Pick]:
        """Return the ways to serve a need without parts that are proved to go nowhere, even alone.

        Where there is one part it is not asked.
        """
        parts = {way.part.id: way.need for way in ways if way.part}
        if len(parts) < 2:
            return list(ways)
        for part, need in parts.items():
            if (need.name, part) not in self.nowhere:
                homes = [way for way in ways if way.part and way.part.id == part]
                self.nowhere[need.name, part] = self._goes_nowhere(homes)
        return [way for way in ways if way.part is None or not self.nowhere[way.need.name, way.part.id]]

    def _goes_nowhere(self, homes: Sequence[Pick]) -> bool:
        """Return whether a part is proved to go into none of the vehicles that it may go into, even alone."""
        if any(self._takes({}, 0, way, opened=True) for way in homes):
            return False
        for way in homes:
            assert way.part is not None
            alone = (Wanted(way.need, way.part),)
            if self._pack(way.vehicle, alone).verdict != "cannot fit":
                return False
            learn(self.excluded, keys_in(way.vehicle, alone))
        return True

    def _at_once(self, allowed: Sequence[Sequence[Pick]]) -> Chosen | None:
        """Return a whole choice: what has the fewest ways is decided first, then what is largest."""
        order = sorted(range(len(allowed)), key=lambda i: (len(allowed[i]) > 2, -_volume(allowed[i])))
        picks: dict[int, Pick] = {}
        for number in order:
            before = self.bound.extended(self.bound.start, list(picks.values()))
            homes = homes_of(list(picks.values()))
            prices = {
                pick.key: self.bound.cost(self.bound.with_pick(before, homes, pick))
                for pick in allowed[number]
            }
            ways = sorted(allowed[number], key=lambda pick: prices[pick.key])
            tries = ((way, opened) for opened in (False, True) for way in ways if way.part or opened)
            picks[number] = next(
                (way for way, opened in tries if self._takes(picks, number, way, opened)), allowed[number][-1]
            )
        for _ in range(PASSES):
            moved = [self._bettered(picks, number, allowed[number]) for number in order]
            if not any(moved):
                break
        self._insist(picks, allowed)
        chosen = tuple(picks[number] for number in range(len(allowed)))
        if self._doubted(keys_of(chosen), homes_of(chosen)):
            return None
        whole = self.complete(chosen, self.suits({p.need.name: p.part for p in chosen if p.part is not None}))
        return whole if isinstance(whole, Chosen) else None

    def _insist(self, picks: dict[int, Pick], allowed: Sequence[Sequence[Pick]]) -> None:
        """Ask thoroughly about needs that were left out because no place was found at once."""
        left_out = [number for number, pick in picks.items() if pick.part is None]
        for number in left_out[:MOST_INSISTED]:
            for way in [way for way in allowed[number] if way.part is not None][:MOST_INSISTED]:
                together = self._with(picks, number, way)
                if self.budget.used_up(self.work) or holds_any(self.doubts, keys_in(way.vehicle, together)):
                    continue
                if self._pack(way.vehicle, together).holds:
                    picks[number] = way
                    break

    def _bettered(self, picks: dict[int, Pick], number: int, ways: Sequence[Pick]) -> bool:
        """Move one need to where the whole costs less, if there is such a place; True when it was moved."""
        others = [pick for place, pick in picks.items() if place != number]
        before, homes = self.bound.extended(self.bound.start, others), homes_of(others)
        now = self.bound.cost(self.bound.with_pick(before, homes, picks[number]))
        for way in ways:
            if (
                way != picks[number]
                and self.bound.cost(self.bound.with_pick(before, homes, way)) < now
                and self._takes(picks, number, way)
            ):
                picks[number] = way
                return True
        return False

    def _takes(self, picks: dict[int, Pick], number: int, way: Pick, opened: bool = False) -> bool:
        """Return whether a vehicle holds one more part beside those picked for it.

        With ``opened`` bricks may come out for it; where they must for the others, they may anyway.
        """
        if way.part is None:
            return True
        together = self._with(picks, number, way)
        homes = {
            pick.need.name: pick.vehicle for place, pick in picks.items() if pick.part and place != number
        }
        if self._doubted(keys_in(way.vehicle, together), {**homes, way.need.name: way.vehicle}):
            return False
        if self.holds(way.vehicle, together, False):
            return True
        others = together[:-1]
        opened = opened or (bool(others) and not self.holds(way.vehicle, others, False))
        return opened and self.holds(way.vehicle, together, True)

    @staticmethod
    def _with(picks: Mapping[int, Pick], number: int, way: Pick) -> tuple[Wanted, ...]:
        """Return what shares a vehicle with one more part."""
        assert way.part is not None
        beside = [
            Wanted(pick.need, pick.part)
            for place, pick in sorted(picks.items())
            if place != number and pick.part is not None and pick.vehicle == way.vehicle
        ]
        return (*beside, Wanted(way.need, way.part))


def _volume(ways: Sequence[Pick]) -> float:
    return max((pick.part.bounds.volume for pick in ways if pick.part is not None), default=0.0)
