"""The searches that take turns on one problem, behind one interface.

A turn is a fixed amount of work, so which search answers first depends on the problem and the seed alone.
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
from fitplan.packing.engine.weights_proof import MODULI, weights_proof

Outcome: TypeAlias = dict[str, Placed] | Proof | bool | None
"""Places; a whole proof; False when the search is exhausted; None when there is more to do."""

MOST_FILL_CELLS = 4_000
"""Above so many unit cells the filling search is only of use where there is no void at all."""

TIGHT_SHARE = 0.05
"""Share of turns for the search by order where hardly any void is left: it hardly ever ends there."""

MOST_RESTARTED = 24
"""Above so many blocks a node of the search along lines takes too long for restarts."""

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
    """

    name: str
    method: str

    @property
    def work(self) -> int:
        """Work done so far."""

    def turn(self) -> Outcome:
        """Do one turn's work."""


class Resumable(Protocol):
    """A complete search that can be run on and on."""

    @property
    def nodes(self) -> int:
        """Nodes so far."""

    def run(self, nodes: int) -> dict[str, Placed] | bool | None:
        """Search some nodes further."""


class CompleteTurns:
    """A complete search in turns of so many nodes; it is set up when its first turn comes."""

    def __init__(self, make: Callable[[], Resumable], name: str, method: str, nodes: int) -> None:
        self._make, self._nodes = make, max(10, nodes)
        self._search: Resumable | None = None
        self.name, self.method = name, method

    @property
    def work(self) -> int:
        """Nodes so far."""
        return self._search.nodes if self._search is not None else 0

    def turn(self) -> Outcome:
        """Search some nodes further."""
        if self._search is None:
            self._search = self._make()
        return self._search.run(self._nodes)


class Seldom:
    """A search that takes its first turn and then one in so many."""

    def __init__(self, search: Searcher, every: int) -> None:
        self._search, self._every, self._turns = search, every, -1
        self.name, self.method = search.name, search.method

    @property
    def work(self) -> int:
        """Work done so far."""
        return self._search.work

    def turn(self) -> Outcome:
        """Let the search have its turn, or not."""
        self._turns += 1
        return None if self._turns % self._every else self._search.turn()


class QuickTurns:
    """Runs of the quick search at corners."""

    name, method = "corners", ""

    def __init__(self, search: QuickSearch, runs: int) -> None:
        self.search, self._runs = search, runs

    @property
    def work(self) -> int:
        """Runs so far."""
        return self.search.runs

    def turn(self) -> Outcome:
        """Make some runs."""
        for _ in range(self._runs):
            found = self.search.run()
            if found is not None:
                return found
        return None


class RestartTurns:
    """A search begun again and again in another order, a little at a time; proves nothing."""

    method = ""

    def __init__(self, makers: Sequence[Callable[[], SlicedSearch]], name: str, seed: int, runs: int) -> None:
        self.name = name
        self._makers, self._seed, self._runs = makers, seed, runs
        self._searches: list[SlicedSearch] = []
        self._count = 0

    @property
    def work(self) -> int:
        """Runs so far."""
        return self._count

    def turn(self) -> Outcome:
        """Make some runs, of each of the searches in turn."""
        if not self._searches:
            self._searches = [make() for make in self._makers]
        for _ in range(self._runs):
            search = self._searches[self._count % len(self._searches)]
            search.restart(self._seed * 100_003 + self._count + 1)
            found = search.run(RESTART_NODES[self._count % len(RESTART_NODES)])
            self._count += 1
            if isinstance(found, dict):
                return found
        return None


class WeightTurns:
    """Proof by weights, one modulus a turn."""

    name, method = "weights", ""

    def __init__(self, plain: FillProblem) -> None:
        self._plain = plain
        self._left: Iterator[int] = iter(MODULI)
        self.work = 0

    def turn(self) -> Outcome:
        """Try the next modulus."""
        modulus = next(self._left, None)
        if modulus is None:
            return None
        self.work += 1
        return weights_proof(self._plain, (modulus,))


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
            searchers.append(CompleteTurns(one_each, "points", method, 2_500))
        if plain.budget == 0 or plain.free <= MOST_FILL_CELLS:
            up = max(range(3), key=lambda axis: (plain.size[axis], axis))
            method = "a search that fills the cavity from one side and accounts for every void"
            searchers.append(CompleteTurns(lambda: FillSearch(plain, up=up), "fill", method, 4_000))
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
    nodes = int(1_000 * min(2.0, (12 / count) ** 3))
    again = partial(CornerSearch, plain, axes=(2, 0, 1), shortcuts=False)
    searchers: list[Searcher] = [
        CompleteTurns(lambda: CornerSearch(plain), "lines", first, nodes),
        CompleteTurns(again, "lines, again", second, nodes),
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
    count = sum(len(kind.names) for kind in kinds)
    nodes = int(4_000 * share * min(2.0, (12 / count) ** 2))
    return CompleteTurns(lambda: OrderSearch(kinds, reverse=reverse), name, method, nodes)
