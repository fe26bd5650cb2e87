"""Answer a packing problem: places, a confirmed proof, or what is left open.

Several searches take turns, each for a fixed amount of work, so that the same problem and seed come to the
same answer whatever the machine.  They stop when the budget's counted work is done; a clock stops them only
where the user asks for a deadline.  A search that ends without a packing is a proof only when a second one
ends the same way.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import TypeAlias

from fitplan.budget import LATE, QUESTION, Budget
from fitplan.packing.engine.bounds import free_volume, quick_proof
from fitplan.packing.engine.free_offsets import ItemKind, kinds_of
from fitplan.packing.engine.placement_check import check_placement
from fitplan.packing.engine.portfolio import Outcome, QuickTurns, Searcher, confirming, searchers_for
from fitplan.packing.engine.problem import Answer, PackingProblem, Placed, Proof
from fitplan.packing.engine.search_places import MOST_ITEMS

Progress: TypeAlias = Callable[[str, float], None]
"""Called with what is being tried and the share of the budget that is spent."""

THREADS = 2
EARLY_TURNS = 3
"""Turns of each search before they run side by side: most problems are settled sooner."""

TURN_OVERHEAD = 10_000
"""Steps that a turn counts for besides those that it takes."""

WISH_RUNS = 32
"""Runs of the quick search for a wish."""
WISH_DOUBTED = 4
"""Runs after which it is asked whether a wish can be met at all: once towards each corner."""
WISH_TURNS = 4
"""Turns that a complete search has for that."""
WISH_STEPS = 400_000_000
"""Steps of it after which no further run for a wish begins: among many parts with much room each is long."""


def solve(
    problem: PackingProblem,
    budget: Budget = QUESTION,
    *,
    seed: int = 0,
    progress: Progress | None = None,
    proofs: bool = True,
    quick: bool = False,
) -> Answer:
    """Place all items, prove that they cannot be placed together, or say what is left open.

    Parameters
    ----------
    budget
        Work after which the answer is ``not_decided``; more of it never changes a verdict.
    seed
        Order of the search among equals.
    progress
        Called now and then with what is being tried and the share of the budget that is spent.
    proofs
        False when only places are wanted: where none are found the answer is *not decided*, and no time goes
        into confirming a proof a second way.
    quick
        True for a wish that is not worth a long search: a fixed number of quick tries, then *not decided*.
    """
    if not problem.items:
        return Answer("fits")
    try:
        kinds = kinds_of(problem, budget)
    except OverflowError as error:
        return Answer("not_decided", gap=str(error))
    except TimeoutError as error:
        return Answer("not_decided", gap=str(error), late=True)
    placeable = all(any(len(free.pieces) for free in kind.variants) for kind in kinds)
    if not proofs and not placeable:
        return Answer("not_decided", gap="a part has no place")
    proof = quick_proof(problem, kinds)
    if proof is not None and proof.confirmations:
        return Answer("cannot_fit", proof=proof)
    if not placeable:
        # Nothing is left to search, and the proof could not be confirmed: not decided, never a guess.
        return Answer("not_decided", gap="a part has no place, which could not be confirmed a second way")
    if len(problem.items) > MOST_ITEMS:
        return Answer(
            "not_decided", gap=f"{len(problem.items)} items are more than the {MOST_ITEMS} that are searched"
        )
    try:
        run = _Run(problem, kinds, budget, seed, progress, proofs)
    except (OverflowError, MemoryError) as error:
        return Answer("not_decided", gap=str(error))
    return run.quick_answer() if quick else run.answer()


class _Run:
    """One run of the portfolio."""

    def __init__(
        self,
        problem: PackingProblem,
        kinds: tuple[ItemKind, ...],
        budget: Budget,
        seed: int,
        progress: Progress | None,
        proofs: bool,
    ) -> None:
        self.problem, self.kinds, self.proofs = problem, kinds, proofs
        self.budget, self.progress = budget, progress
        self.work = 0
        self._counted: dict[str, int] = {}
        self.quick, self.searchers = searchers_for(kinds, seed)
        self.ended: list[Searcher] = []
        self.steps: dict[str, int] = {}

    def answer(self) -> Answer:
        """Let the searches take turns until one finds places, two are exhausted, or the budget is."""
        with ThreadPoolExecutor(THREADS) as pool:
            for turn in itertools.count():
                answer = self._round(self._results(pool, turn))
                if answer is not None:
                    return replace(answer, work=self.work)
        raise AssertionError("the turns never end by themselves")

    def _results(self, pool: ThreadPoolExecutor, turn: int) -> Iterator[tuple[Searcher, Outcome]]:
        """Give every search one turn; what they found is looked at in a fixed order, whoever is first."""
        if turn < EARLY_TURNS or len(self.searchers) == 1:
            for searcher in list(self.searchers):
                yield searcher, searcher.turn()
        else:
            # The kernels run outside the interpreter's lock, each in a memory of its own.
            for searcher, found in [(entry, pool.submit(entry.turn)) for entry in self.searchers]:
                yield searcher, found.result()

    def _round(self, results: Iterator[tuple[Searcher, Outcome]]) -> Answer | None:
        """Look at what one turn of each search has found; None when nothing is settled."""
        for searcher, found in results:
            self._count(searcher)
            if isinstance(found, dict):
                return self._fits(found, searcher.name)
            if found is False:
                self._end(searcher)
                if not self.proofs:
                    return self._open()
                if len(self.ended) == 2:
                    return Answer("cannot_fit", proof=self._proof(), steps=self.steps)
            elif searcher.overrun and searcher in self.searchers:
                self.searchers.remove(searcher)
            if self.progress is not None:
                self.progress(searcher.name, min(1.0, self.work / max(1, self.budget.steps)))
            if self.budget.used_up(self.work) or not self.searchers:
                return self._open()
        return None

    def _count(self, searcher: Searcher) -> None:
        """Note what a search has done since it was last looked at."""
        self.steps[searcher.name] = searcher.work
        self.work += searcher.steps - self._counted.get(searcher.name, 0) + TURN_OVERHEAD
        self._counted[searcher.name] = searcher.steps

    def quick_answer(self) -> Answer:
        """Let the quick search, which proves nothing, try a few times."""
        found = None
        for number in range(WISH_RUNS):
            if number == WISH_DOUBTED and self._is_vain():
                break
            found = self.quick.run()
            if found is not None or self.quick.steps >= WISH_STEPS or self.budget.late:
                break
        self._count(QuickTurns(self.quick))
        return replace(self._fits(found, "corners"), work=self.work) if found else self._open()

    def _is_vain(self) -> bool:
        """Tell whether a complete search soon ends without places: then no other finds any."""
        complete = next(one for one in self.searchers if one.method)
        outcome = next((out for _ in range(WISH_TURNS) if (out := complete.turn()) is not None), None)
        self._count(complete)
        return outcome is False

    def _fits(self, places: dict[str, Placed], name: str) -> Answer:
        faults = check_placement(self.problem, places)
        if faults:
            raise AssertionError(f"the {name} search laid items wrongly: {faults[0]}")
        return Answer("fits", places, steps=self.steps)

    def _end(self, searcher: Searcher) -> None:
        """Note that a search is exhausted; from now on only one that can confirm it goes on."""
        self.ended.append(searcher)
        self.searchers = [confirming(self.kinds)] if len(self.ended) == 1 else []

    def _proof(self) -> Proof:
        count = len(self.problem.items)
        text = f"All ways to lay the {count} items were searched, and none is free of overlaps."
        ways = tuple(searcher.method for searcher in self.ended)
        return Proof("search", text, ways, tuple(item.name for item in self.problem.items))

    def _open(self) -> Answer:
        best = self.quick.best
        names = [item.name for item in self.problem.items]
        if self.ended:
            gap = "one search found that nothing fits, but no second one has confirmed it yet"
        else:
            left = ", ".join(name for name in names if name not in best)
            used = {free.variant.space for kind in self.kinds for free in kind.variants}
            room = sum(free_volume(self.problem.spaces[index]) for index in used)
            need = sum(kind.least_volume * len(kind.names) for kind in self.kinds)
            gap = (
                f"{len(best)} of {len(names)} items were placed together; left over: {left}; "
                f"all items fill {need / room:.0%} of the free volume"
            )
        late = self.budget.late
        return Answer(
            "not_decided",
            gap=f"{LATE}: {gap}" if late else gap,
            unconfirmed=self._proof() if self.ended else None,
            best=best,
            steps=self.steps,
            work=self.work,
            late=late,
        )
