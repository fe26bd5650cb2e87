"""What bricks hide of a beam: areas in closed form against a fine grid of points, and told and checked."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import numpy as np
import pytest

from fitplan.checks.places import widening
from fitplan.model.electrical import Ranger
from fitplan.model.needed import Need
from fitplan.packing.vehicle.hidden_beam import _area, _union
from fitplan.planning.run import plan_train
from fitplan.verify import verify
from tests.packing.small_trains import train_of
from tests.packing.test_wider_window import cab, eye

EVERYWHERE = ((-math.inf, math.inf), (-math.inf, math.inf))


@pytest.mark.parametrize("seed", range(4))
def test_areas_are_those_of_a_grid_of_points(seed: int) -> None:
    """A rectangle rounded on by a radius, whole as Steiner's formula has it, and what rectangles hide."""
    rng = random.Random(seed)
    wide, high, radius = rng.uniform(5, 40), rng.uniform(5, 20), rng.choice([0.0, 0.7, 2.1, 9.0])
    frame = ((0.0, wide), (0.0, high))
    whole = _area(frame, radius, EVERYWHERE)
    assert whole == pytest.approx(wide * high + 2 * (wide + high) * radius + math.pi * radius**2)
    rows = []
    for _ in range(5):
        x, y = rng.uniform(-12, wide), rng.uniform(-12, high)
        rows.append(((x, x + rng.uniform(1, 20)), (y, y + rng.uniform(1, 12))))
    count = 800
    xs = -radius + (np.arange(count) + 0.5) * (wide + 2 * radius) / count
    ys = -radius + (np.arange(count) + 0.5) * (high + 2 * radius) / count
    x, y = np.meshgrid(xs, ys)
    beside, over = (np.maximum(np.maximum(-at, at - size), 0) for at, size in ((x, wide), (y, high)))
    inside = np.hypot(beside, over) <= radius + 1e-12
    hidden = np.zeros_like(inside)
    for (x0, x1), (y0, y1) in rows:
        hidden |= (x0 < x) & (x < x1) & (y0 < y) & (y < y1)
    share = (inside & hidden).sum() / inside.sum()
    assert _union(frame, radius, rows) / whole == pytest.approx(share, abs=0.004)


def test_a_proposal_tells_what_bricks_hide_of_the_beam_and_a_lie_is_noticed() -> None:
    """A lens of 28 × 8 mm behind a window 16 mm wide: 12 of 28 mm are hidden, and a little that spreads."""
    figures = Ranger("sound", 0.5, 20.0, 3000.0, 60.0)
    part = replace(eye((9.6, 32.0, 12.8), (2.0, 3.2, 28.0, 8.0)), electrical=(figures,))
    plan = plan_train(train_of((cab((2, 4, 1, 4)),), (Need("eye", (part,), looks=("cab", "pane")),)))
    (offer,) = plan.wider_windows
    assert offer.hidden_before == pytest.approx(12 / 28, abs=0.02)
    assert offer.hidden_after == pytest.approx(0.0, abs=0.01)
    assert "bricks hide 44 % of its beam there as it is, 1 % then" in widening(offer)
    assert verify(plan).holds
    for change in ({"hidden_before": 0.2}, {"hidden_after": 0.2}):
        wrong = replace(plan, wider_windows=(replace(offer, **change),))
        assert any("tells that bricks hide 0.20" in one.message for one in verify(wrong).problems)
