"""Answer a packing problem: places, a confirmed proof, or what is left open."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from time import monotonic
from typing import TypeAlias

from fitplan.packing.candidate_points import lowest_free_point
from fitplan.packing.placement_check import check_placement
from fitplan.packing.problem import Answer, Item, Placed, Problem, Proof, Space, moved

Progress: TypeAlias = Callable[[str, float], None]
"""Called with what is being tried and the share of the deadline that is spent."""


def solve(problem: Problem, *, deadline_s: float, seed: int = 0, progress: Progress | None = None) -> Answer:
    """Place all items, prove that they cannot be placed together, or say what is left open.

    Parameters
    ----------
    deadline_s
        Seconds after which the answer is ``not_decided``; a longer deadline never changes a verdict.
    seed
        Order of the search among equals.
    progress
        Called now and then.
    """
    end = monotonic() + deadline_s
    places: dict[str, Placed] = {}

    def space_left(item: Item) -> list[tuple[int, Placed]]:
        found = []
        for k, variant in enumerate(item.variants):
            point = lowest_free_point(variant, _filled(problem, places, variant.space))
            if point is not None:
                found.append((variant.cost, Placed(k, point)))
        return sorted(found, key=lambda entry: (entry[0], entry[1].offset))

    for item in problem.items:
        if not space_left(item):
            text = f"{item.name} has no place of its own even with nothing else in the space."
            proof = Proof("no place", text, ("every lowest point of every pose was looked at",), (item.name,))
            return Answer("cannot_fit", proof=proof)

    def place(rest: tuple[Item, ...]) -> bool:
        if not rest:
            return True
        if monotonic() > end:
            return False
        for _, placed in space_left(rest[0]):
            places[rest[0].name] = placed
            if place(rest[1:]):
                return True
            del places[rest[0].name]
        return False

    order = sorted(problem.items, key=lambda item: -_volume(item))
    if place(tuple(order)) and not check_placement(problem, places):
        return Answer("fits", dict(places))
    return Answer("not_decided", gap="no way to place all items was found")


def explain(problem: Problem, answer: Answer) -> str:
    """Say in plain sentences why the items do not fit together."""
    return answer.proof.text if answer.proof else answer.gap


def _volume(item: Item) -> int:
    return max(
        sum((b[3] - b[0]) * (b[4] - b[1]) * (b[5] - b[2]) for b in variant.shape.solid)
        for variant in item.variants
    )


def _filled(problem: Problem, places: Mapping[str, Placed], index: int) -> Space:
    space = problem.spaces[index]
    filled = list(space.obstacles)
    for item in problem.items:
        placed = places.get(item.name)
        if placed is not None and item.variants[placed.variant].space == index:
            shape = item.variants[placed.variant].shape
            filled += [moved(box, placed.offset) for box in shape.solid]
    return replace(space, obstacles=tuple(filled))
