"""A few of the walls that `tests.attack.walls` puts round wires: orders of work hold, and must lead wires."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from tests.attack.walls import refused, with_walls

if TYPE_CHECKING:
    from tests.conftest import Planned


def test_orders_of_work_hold_with_walls_round_wires(planned: Planned) -> None:
    """By exact solids; the first three that lead something where it must be do not hold without that."""
    plan, led = planned("clay-run"), 0
    for seed in range(40):
        walled = with_walls(plan, random.Random(f"clay-run {seed}"))
        if walled is None:
            continue
        assert refused(walled) == ()
        kept = tuple(step for step in walled.work.steps if step.hole is None)
        numbered = tuple(replace(step, number=number) for number, step in enumerate(kept, 1))
        led += bool(refused(replace(walled, work=replace(walled.work, steps=numbered))))
        if led == 3:
            return
    pytest.fail("too few lead anything in forty tries")
