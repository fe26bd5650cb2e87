"""Asks the planner for the trains of some seeds and counts what it found.

Each train is planned in a process of its own, which its processor time ends when it takes too long.
"""

from __future__ import annotations

import multiprocessing
import pickle
import resource
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from fitplan.model.plan import Plan
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
        The planner said that it cannot be, though it can, or not without opening more than the hidden plan.
    metres, hidden_metres
        Wire inside the vehicles in the plan, and in the plan that was hidden.
    seconds
        Processor time of the planner.
    left_out
        Draws of this seed before it of which no plan was shown.
    price, opened, least
        What the opening of the hidden plan costs, that of the plan, and the least that is told to be proved.
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
    price: float = 0.0
    opened: float | None = None
    least: float | None = None

    @property
    def complete(self) -> bool:
        """Whether every part has its place and way in and every net its wires."""
        return not self.missing

    @property
    def held(self) -> bool:
        """Whether the plan is complete and the independent checker holds it."""
        return not self.missing and not self.doubted


def measure(
    difficulty: int,
    seeds: Iterable[int],
    *,
    most_seconds: int = 600,
    keep: Path | None = None,
    varied: bool = False,
) -> Iterator[Found]:
    """Yield what is found for each seed.

    Parameters
    ----------
    most_seconds
        Processor time after which a train counts as not answered.
    keep
        A folder into which plans are pickled, for those who look why.
    varied
        Whether bodies are varied.
    """
    for seed in seeds:
        told = in_a_process(_ask, difficulty, seed, most_seconds, keep, varied)
        if len(told) == 1:
            vehicles, parts, metres, left_out = told[0]
            why = (f"no answer in {most_seconds} s of processor time",)
            told.append(
                Found(difficulty, seed, vehicles, parts, why, (), False, 0.0, metres, most_seconds, left_out)
            )
        if told:
            yield told[1]


def in_a_process(work: Callable[..., None], *args: object) -> list[Any]:
    """Return all that a function sends through the pipe it gets first, run in a process of its own.

    Raises
    ------
    RuntimeError
        When an error ended it; one that used up its time is ended by a signal, and sent nothing more.
    """
    context = multiprocessing.get_context("spawn")
    here, there = context.Pipe(duplex=False)
    process = context.Process(target=work, args=(there, *args))
    process.start()
    there.close()
    told = []
    try:
        while True:
            told.append(here.recv())
    except EOFError:
        pass
    process.join()
    if (process.exitcode or 0) > 0:
        raise RuntimeError(f"{work.__name__} of {args} ended by the error above")
    return told


def bound(seconds: int) -> float:
    """End this process after so much more processor time; return how much it has had (s)."""
    began = time.process_time()
    resource.setrlimit(resource.RLIMIT_CPU, (int(began) + seconds, -1))
    return began


def missing_in(plan: Plan) -> tuple[str, ...]:
    """Return what is not placed, not wired or has no way in."""
    missing = [f"no place: {name}: {why}" for name, why in plan.unplaced]
    missing += [
        f"no wire: {lost.net} to {lost.owner}: {lost.reason}" for lost in plan.built.harness.unreached
    ]
    return (*missing, *(f"no way in: {text}" for text in plan.assembly_blocked))


def doubts_of(plan: Plan) -> tuple[str, ...]:
    """Return what the independent checker does not hold of a plan."""
    return tuple(f"{one.subject}: {one.where}: {one.message}" for one in verify(plan).problems)


def _ask(
    pipe: Connection, difficulty: int, seed: int, most_seconds: int, keep: Path | None, varied: bool
) -> None:
    catalogue = read_train("harbour-line").catalogue
    hidden, answer, left_out = first_shown(seed, difficulty, catalogue, varied=varied)
    train = hidden.train
    pipe.send((len(train.vehicles), len(train.needs), answer.metres, len(left_out)))
    began = bound(most_seconds)
    plan = plan_train(train, PlanOptions())
    seconds = bound(600) - began
    if keep is not None:
        (keep / f"{difficulty}.{seed}.pickle").write_bytes(pickle.dumps((hidden, plan)))
    opening = plan.built.opening
    least = None if opening is None else opening.least
    false_least = least is not None and least > hidden.price + 1e-6
    pipe.send(
        Found(
            difficulty,
            seed,
            len(train.vehicles),
            len(train.needs),
            missing_in(plan),
            doubts_of(plan),
            plan.verdict == "cannot fit" or false_least,
            inner_length(plan.built),
            answer.metres,
            seconds,
            len(left_out),
            hidden.price,
            opening.cost if opening is not None and opening.planned else None,
            least,
        )
    )
