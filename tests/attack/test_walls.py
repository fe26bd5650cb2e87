"""A few of the walls that `tests.attack.walls` puts round wires: orders of work hold, and must lead wires."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from tests.attack.walls import refused, with_walls

if TYPE_CHECKING:
    from tests.conftest import Planned


@pytest.mark.parametrize(("name", "seeds"), [("clay-run", (0, 1, 6, 11, 13)), ("harbour-line", (4, 6, 11))])
def test_orders_of_work_hold_with_walls_round_wires(
    planned: Planned, name: str, seeds: tuple[int, ...]
) -> None:
    """By exact solids; without the steps that lead something through a hole they do not."""
    plan = planned(name)
    led = 0
    for seed in seeds:
        walled = with_walls(plan, random.Random(f"{name} {seed}"))
        if walled is None:
            continue
        assert refused(walled) == ()
        kept = tuple(step for step in walled.work.steps if step.hole is None)
        if len(kept) < len(walled.work.steps):
            led += 1
            numbered = tuple(replace(step, number=number) for number, step in enumerate(kept, 1))
            assert refused(replace(walled, work=replace(walled.work, steps=numbered)))
    assert led
