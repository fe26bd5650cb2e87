"""Which part goes into which vehicle, and which of the allowed parts is taken: one decision for the train."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from fitplan.budget import Budget
from fitplan.model.needed import Need
from fitplan.model.proposed import Option, Verdict
from fitplan.model.train import Train
from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.choice_bound import Pick
from fitplan.planning.choice_search import MOST_NODES, Holds, Overfull, PackParts, Search, Suits
from fitplan.planning.chosen import ROUNDING, Best, Chosen

LOOKS = 2
"""Whole choices that are packed to find one runner-up."""


@dataclass(frozen=True)
class Decision:
    """The best choice, those that no other beats in every respect, and what is known of the best.

    Attributes
    ----------
    proved
        Whether it is proved that no choice costs less.
    verdict
        Of the whole train: *cannot fit* only where every choice that leaves nothing out is refuted.
    """

    best: Chosen
    options: tuple[Option, ...]
    proved: bool
    verdict: Verdict


@dataclass
class Choosing:
    """The best choice, and the search that goes on to the runners-up when asked."""

    best: Chosen
    open_from: float
    """A cost that no choice is below which is neither found nor refuted."""
    search: Search
    late: bool = False
    """Whether the search ended because a deadline was reached."""

    @property
    def proved(self) -> bool:
        """Whether it is proved that no choice costs less."""
        return Best(self.best, self.open_from).proved

    @property
    def verdict(self) -> Verdict:
        """The verdict on the whole train: the weakest of its vehicles'."""
        if self.best.left_out:
            # Refuted is only what leaves nothing out: whatever is open must leave something out as well.
            refuted = self.open_from >= self.search.penalties.unplaced - ROUNDING
            return "cannot fit" if refuted else "not decided"
        rebuilt = any(packing.rebuild is not None for packing in self.best.packings)
        return "fits after a rebuild" if rebuilt else "fits"

    def avoiding(
        self,
        vehicles: Collection[str],
        budget: Budget,
        overfull: Overfull | None = None,
        never_in: Collection[str] = (),
    ) -> Choosing | None:
        """Return the best choice that does not put just what these vehicles hold now into any of them.

        Nor does it put what is ``never_in`` where it is now. Without both it is the homes of all parts
        together that are avoided. What is avoided counts as not decided, for good, and so does what is
        ``overfull``. None when no other choice is found.
        """
        homes = [
            (packing.vehicle, frozenset(p.key for p in self.best.picks if p.vehicle == packing.vehicle))
            for packing in self.best.packings
        ]
        sets = [keys for name, keys in homes if name in vehicles]
        sets += [frozenset({pick.key}) for pick in self.best.picks if pick.need.name in never_in]
        everything = frozenset(key for _, keys in homes for key in keys)
        search = self.search.avoiding(sets or [everything], budget, overfull)
        found = search.best(search.picks)
        if found.chosen is None:
            return None
        return Choosing(found.chosen, found.open_from, search, self.late or budget.late)

    def asking(self, pack: PackParts, holds: Holds) -> Choosing:
        """Return the same with others to ask, for looking on while the first are busy elsewhere."""
        return replace(self, search=replace(self.search, pack=pack, holds=holds))

    def runners_up(self, budget: Budget) -> tuple[Option, ...]:
        """Return the table of options: the best choice first, then those that nothing beats in every respect.

        Parameters
        ----------
        budget
            For the runners-up together.
        """
        self.search.budget, self.search.work = budget, 0
        _look_around(self.search, self.best)
        return _not_dominated(self.search, self.best)


def choose(
    train: Train,
    pack: PackParts,
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
    return Decision(choosing.best, options, choosing.proved, choosing.verdict)


def decide(
    train: Train,
    pack: PackParts,
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
        Returns quickly whether parts surely go into a vehicle, as it is or with its removable bricks out;
        asked for the first whole choice.
        Without it the packer is asked.
    added
        Names of vehicles that are not in the user's train but may be added.
    budget
        For the best choice.
    """
    budget = budget or Budget.usual().share("choice")
    picks = tuple(_picks_of(train, need) for need in train.needs)
    search = Search(
        train=train,
        # The needs with the fewest ways first: a dead end shows early.
        picks=tuple(sorted(picks, key=lambda ways: (len(ways), ways[0].need.name))),
        pack=pack,
        suits=suits,
        added=added,
        budget=budget,
        holds=holds or (lambda name, wanted, opened: pack(name, wanted).holds),
    )
    found = search.best(search.picks)
    best, open_from = found.chosen, found.open_from
    if best is None:
        nothing = search.complete(tuple(ways[-1] for ways in search.picks), "")
        assert isinstance(nothing, Chosen)  # nothing at all always fits
        best = nothing
    if any(_goes_nowhere(search, name) for name in best.left_out):
        # Every choice leaves it out, however early the search has ended.
        open_from = max(open_from, search.penalties.unplaced)
    return Choosing(best, open_from, search, budget.late)


def _goes_nowhere(search: Search, need: str) -> bool:
    """Return whether of each part that may serve a need it is proved that it goes nowhere, even alone."""
    ways = next(ways for ways in search.picks if ways[0].need.name == need)
    return all(
        search.pack(way.vehicle, (Wanted(way.need, way.part),)).verdict == "cannot fit"
        for way in ways
        if way.part is not None
    )


def _picks_of(train: Train, need: Need) -> tuple[Pick, ...]:
    """Return every way to serve a need, preferred first; leaving it out comes last."""
    if need.bound_to:
        homes = [need.bound_to]
    else:
        locos = [entry.name for entry in train.vehicles if entry.vehicle.kind != "wagon"]
        wagons = [entry.name for entry in train.vehicles if entry.vehicle.kind == "wagon"]
        homes = list(need.vehicles) or [*locos, *wagons]
    ways = [(part, home) for home in homes for part in need.candidates]
    found = [Pick(need, part, home, rank) for rank, (part, home) in enumerate(ways)]
    return (*found, Pick(need, None, "", len(found)))


def _look_around(search: Search, best: Chosen) -> None:
    """Find the best choice for every other part and every other vehicle of the needs that leave a choice.

    All together look at as many partial choices as the search for the best may: on a long train with many
    parts there are hundreds of others.
    """
    taken = {pick.key for pick in best.picks}
    others = [
        (number, pick)
        for number, ways in enumerate(search.picks)
        for pick in sorted(ways, key=lambda pick: pick.key)
        if pick.part is not None and pick.key not in taken
    ]
    for number, pick in others:
        if search.budget.used_up(search.work):
            return
        allowed = [*search.picks[:number], (pick,), *search.picks[number + 1 :]]
        search.best(allowed, LOOKS, MOST_NODES // len(others))


def _not_dominated(search: Search, best: Chosen) -> tuple[Option, ...]:
    whole: Sequence[Chosen] = [
        c for c in search.found.values() if not c.left_out and not c.unsuitable and c.shut_in <= best.shut_in
    ]
    kept = [c for c in whole if not any(other.costs.dominates(c.costs) for other in whole)]
    # What costs less is no runner-up: it came to light too late, of a choice that was not proved the best.
    kept = [c for c in kept if c.score >= best.score - ROUNDING]
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
        row.unfused_across,
        row.later_in_list,
    )
