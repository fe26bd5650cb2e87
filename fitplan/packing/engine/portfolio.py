"""The searches that take turns on one problem, behind one interface.

A turn is a fixed number of steps, so which search answers first depends on the problem and the seed alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import Protocol, TypeAlias

from fitplan.packing.engine.free_offsets import Kind
from fitplan.packing.engine.problem import Placed, Problem, Proof
from fitplan.packing.engine.search_corner import (
    MOST_BLOCKS,
    MOST_OBSTACLES,
    CornerSearch,
    apart,
    single_points,
)
from fitplan.packing.engine.search_fill import FillProblem, FillSearch
from fitplan.packing.engine.search_places import OrderSearch, QuickSearch
from fitplan.packing.engine.search_slices import SlicedSearch
from fitplan.packing.engine.weights_proof import weights_search

Outcome: TypeAlias = dict[str, Placed] | Proof | bool | None
"""Places; a whole proof; False when the search is exhausted; None when there is more to do."""

MOST_FILL_CELLS = 4_000
"""Above so many unit cells the filling search is only of use where there is no void at all."""

TIGHT_SHARE = 0.05
"""Share of turns for the search by order where hardly any void is left: it hardly ever ends there."""

MOST_RESTARTED = 24
"""Above so many blocks a node of the search along lines takes too long for restarts."""

TURN_STEPS = 2_000_000
"""Steps of one turn: about a hundredth of a second."""

WEIGHT_TURNS = 10
"""Turns of the others that one of the proof by weights may take: it settles most of its cases early."""

RESTART_NODES = (1_000, 1_000, 4_000, 1_000, 1_000, 1_000, 1_000, 1_000, 1_000, 4_000, 1_000)
"""Lengths of the restarted runs, over and over; coprime to the searches that take turns."""


class Searcher(Protocol):
    """One search of the portfolio.

    Attributes
    ----------
    name
        Short name for statistics.
    method
        How the search went through all packings, as a phrase; empty for one that proves nothing.
    family
        Searches of one family share code: they cannot confirm each other.
    """

    name: str
    method: str
    family: str

    @property
    def work(self) -> int:
        """Nodes, runs or whatever else the search counts so far."""

    @property
    def steps(self) -> int:
        """Steps of the budget so far."""

    def turn(self) -> Outcome:
        """Do one turn's work."""


class Resumable(Protocol):
    """A complete search that can be run on and on."""

    @property
    def nodes(self) -> int:
        """Nodes so far."""

    @property
    def steps(self) -> int:
        """Steps so far."""

    def run(self, steps: int) -> dict[str, Placed] | bool | None:
        """Search some steps further."""


class CompleteTurns:
    """A complete search in turns; it is set up when its first turn comes."""

    def __init__(
        self, make: Callable[[], Resumable], name: str, method: str, family: str, share: float = 1.0
    ) -> None:
        self._make, self._turn = make, round(TURN_STEPS * share)
        self._search: Resumable | None = None
        self.name, self.method, self.family = name, method, family

    @property
    def work(self) -> int:
        """Nodes so far."""
        return self._search.nodes if self._search is not None else 0

    @property
    def steps(self) -> int:
        """Steps so far."""
        return self._search.steps if self._search is not None else 0

    def turn(self) -> Outcome:
        """Search some steps further."""
        if self._search is None:
            self._search = self._make()
        return self._search.run(self._turn)


class Seldom:
    """A search that takes its first turn and then one in so many."""

    def __init__(self, search: Searcher, every: int) -> None:
        self._search, self._every, self._turns = search, every, -1
        self.name, self.method, self.family = search.name, search.method, search.family

    @property
    def work(self) -> int:
        """Work done so far."""
        return self._search.work

    @property
    def steps(self) -> int:
        """Steps so far."""
        return self._search.steps

    def turn(self) -> Outcome:
        """Let the search have its turn, or not."""
        self._turns += 1
        return None if self._turns % self._every else self._search.turn()


class QuickTurns:
    """Runs of the quick search at corners."""

    name, method, family = "corners", "", "corners"

    def __init__(self, search: QuickSearch, runs: int) -> None:
        self.search, self._runs = search, runs

    @property
    def work(self) -> int:
        """Runs so far."""
        return self.search.runs

    @property
    def steps(self) -> int:
        """Steps so far; one of the quick search takes as long as two others."""
        return 2 * self.search.steps

    def turn(self) -> Outcome:
        """Make some runs."""
        for _ in range(self._runs):
            found = self.search.run()
            if found is not None:
                return found
        return None


class RestartTurns:
    """A search begun again and again in another order, a little at a time; proves nothing."""

    method, family = "", "restarts"

    def __init__(self, makers: Sequence[Callable[[], SlicedSearch]], name: str, seed: int, runs: int) -> None:
        self.name = name
        self._makers, self._seed, self._runs = makers, seed, runs
        self._searches: list[SlicedSearch] = []
        self._count = self._left = 0

    @property
    def work(self) -> int:
        """Runs so far."""
        return self._count

    @property
    def steps(self) -> int:
        """Steps so far."""
        return sum(search.steps for search in self._searches)

    def turn(self) -> Outcome:
        """Make some runs, of each of the searches in turn; a run that takes many steps goes on next time."""
        if not self._searches:
            self._searches = [make() for make in self._makers]
        end = self.steps + self._runs * TURN_STEPS
        for _ in range(self._runs):
            search = self._searches[self._count % len(self._searches)]
            if not self._left:
                search.restart(self._seed * 100_003 + self._count + 1)
                self._left = RESTART_NODES[self._count % len(RESTART_NODES)]
            begun = search.nodes
            found = search.run(max(1, end - self.steps), self._left)
            if isinstance(found, dict):
                return found
            self._left -= search.nodes - begun
            if self._left > 0 and found is None and not search.overrun:
                return None
            self._left = 0
            self._count += 1
        return None


class WeightTurns:
    """Proof by weights, a little at a time."""

    name, method, family = "weights", "", "weights"

    def __init__(self, plain: FillProblem) -> None:
        self._search: Iterator[int | Proof] = weights_search(plain)
        self.work = self.steps = 0

    def turn(self) -> Outcome:
        """Go on for a turn."""
        end = self.steps + WEIGHT_TURNS * TURN_STEPS
        for found in self._search:
            if isinstance(found, Proof):
                return found
            self.work += 1
            self.steps += found
            if self.steps >= end:
                break
        return None


def searchers_for(problem: Problem, kinds: tuple[Kind, ...], seed: int) -> tuple[QuickSearch, list[Searcher]]:
    """Return the quick search and all searches that apply, in the order in which they take turns."""
    quick = QuickSearch(kinds, seed)
    searchers: list[Searcher] = []
    plain = _plain(problem, kinds)
    count = len(problem.items)
    if plain is not None:
        searchers.append(WeightTurns(plain))
        if count <= MOST_BLOCKS and single_points(plain) is not None:
            method = "a search that gives each of as many points as there are blocks to one block"
            one_each = partial(CornerSearch, plain, shortcuts=False, one_each=True)
            searchers.append(CompleteTurns(one_each, "points", method, "lines", 2.0))
        if plain.budget == 0 or plain.free <= MOST_FILL_CELLS:
            up = max(range(3), key=lambda axis: (plain.size[axis], axis))
            method = "a search that fills the cavity from one side and accounts for every void"
            searchers.append(CompleteTurns(lambda: FillSearch(plain, up=up), "fill", method, "fill", 4.0))
            makers = [partial(FillSearch, plain, up=axis) for axis in range(3)]
            # In small grids of many blocks luck counts for more than anything else.
            searchers.append(RestartTurns(makers, "fill, restarted", seed, 12 if count > 24 else 3))
    # Where hardly any void is left, neither luck nor order gets far: the turns go to the account of void.
    tight = plain is not None and plain.budget * 14 <= plain.free
    searchers.append(Seldom(QuickTurns(quick, 1), 4) if tight else QuickTurns(quick, 4))
    if plain is not None and count <= MOST_BLOCKS and len(apart(plain.obstacles)) <= MOST_OBSTACLES:
        searchers += _corner(plain, count, seed)
    searchers.append(order_turns(kinds, share=TIGHT_SHARE if tight else 1.0))
    return quick, searchers


def _plain(problem: Problem, kinds: tuple[Kind, ...]) -> FillProblem | None:
    try:
        plain = FillProblem(problem, kinds)
    except ValueError:
        return None
    return plain if plain.budget >= 0 else None


def _corner(plain: FillProblem, count: int, seed: int) -> list[Searcher]:
    """Two searches with an account of void along lines, the second with fewer rules, and restarts."""
    first = "a search that lays what has the fewest places left and accounts for void along lines"
    second = (
        "the same with the axes turned, another block held to one half of the mirror images, and without its "
        "rules on gaps and exchanges"
    )
    again = partial(CornerSearch, plain, axes=(2, 0, 1), shortcuts=False)
    searchers: list[Searcher] = [
        CompleteTurns(lambda: CornerSearch(plain), "lines", first, "lines"),
        CompleteTurns(again, "lines, again", second, "lines"),
    ]
    if count <= MOST_RESTARTED:
        restarts = RestartTurns([partial(CornerSearch, plain), again], "lines, restarted", seed, 1)
        searchers.append(Seldom(restarts, 5))
    return searchers


def order_turns(kinds: tuple[Kind, ...], *, reverse: bool = False, share: float = 1.0) -> Searcher:
    """Return the complete search by order; reversed, it branches the other way round throughout."""
    method = "a search over who lies on which side of whom"
    if reverse:
        method += ", with items, poses and places taken in the opposite order"
    name = "order, reversed" if reverse else "order"
    return CompleteTurns(lambda: OrderSearch(kinds, reverse=reverse), name, method, "order", share)
