"""Asks the planner for the trains of some seeds and counts what it found.

Each train is planned in a process of its own, which its processor time ends when it takes too long.
"""

from __future__ import annotations

import multiprocessing
import pickle
import resource
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path

from fitplan.planning.run import PlanOptions, plan_train
from fitplan.surface import read_train
from fitplan.verify import verify
from tests.hidden.oracle import first_shown, inner_length


@dataclass(frozen=True)
class Found:
    """What came of one hidden train.

    Attributes
    ----------
    missing
        What is not placed, not wired or has no way in; empty when the plan is complete.
    doubted
        What the independent checker does not hold of the plan.
    false_cannot
        The planner said that it cannot be, though it can.
    metres, hidden_metres
        Wire inside the vehicles in the plan, and in the plan that was hidden.
    seconds
        Processor time of the planner.
    left_out
        Draws of this seed before it of which no plan was shown.
    """

    difficulty: int
    seed: int
    vehicles: int
    parts: int
    missing: tuple[str, ...]
    doubted: tuple[str, ...]
    false_cannot: bool
    metres: float
    hidden_metres: float
    seconds: float
    left_out: int

    @property
    def complete(self) -> bool:
        """Whether every part has its place and way in and every net its wires."""
        return not self.missing

    @property
    def held(self) -> bool:
        """Whether the plan is complete and the independent checker holds it."""
        return not self.missing and not self.doubted


def measure(
    difficulty: int, seeds: Iterable[int], *, most_seconds: int = 600, keep: Path | None = None
) -> Iterator[Found]:
    """Yield what is found for each seed.

    Parameters
    ----------
    most_seconds
        Processor time after which a train counts as not answered.
    keep
        A folder into which plans are pickled, for those who look why.
    """
    context = multiprocessing.get_context("spawn")
    for seed in seeds:
        here, there = context.Pipe(duplex=False)
        work = context.Process(target=_ask, args=(there, difficulty, seed, most_seconds, keep))
        work.start()
        there.close()
        drawn = found = None
        try:
            drawn = here.recv()
            found = here.recv()
        except EOFError:
            pass
        work.join()
        if found is None and drawn is not None:
            vehicles, parts, metres, left_out = drawn
            why = (f"no answer in {most_seconds} s of processor time (status {work.exitcode})",)
            found = Found(
                difficulty, seed, vehicles, parts, why, (), False, 0.0, metres, most_seconds, left_out
            )
        if found is not None:
            yield found


def _ask(pipe: Connection, difficulty: int, seed: int, most_seconds: int, keep: Path | None) -> None:
    hidden, answer, left_out = first_shown(seed, difficulty, read_train("harbour-line").catalogue)
    train = hidden.train
    pipe.send((len(train.vehicles), len(train.needs), answer.metres, len(left_out)))
    began = time.process_time()
    resource.setrlimit(resource.RLIMIT_CPU, (int(began) + most_seconds, -1))
    plan = plan_train(train, PlanOptions())
    seconds = time.process_time() - began
    if keep is not None:
        (keep / f"{difficulty}.{seed}.pickle").write_bytes(pickle.dumps((hidden, plan)))
    missing = [f"no place: {name}: {why}" for name, why in plan.unplaced]
    missing += [
        f"no wire: {lost.net} to {lost.owner}: {lost.reason}" for lost in plan.built.harness.unreached
    ]
    missing += [f"no way in: {text}" for text in plan.assembly_blocked]
    doubted = [f"{one.subject}: {one.where}: {one.message}" for one in verify(plan).problems]
    pipe.send(
        Found(
            difficulty,
            seed,
            len(train.vehicles),
            len(train.needs),
            tuple(missing),
            tuple(doubted),
            plan.verdict == "cannot fit",
            inner_length(plan.built),
            answer.metres,
            seconds,
            len(left_out),
        )
    )
