"""Flat masks as rectangles and border lines, cell by cell."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from fitplan.lattice.flat import outlines, rectangles

masks = st.tuples(st.integers(1, 9), st.integers(1, 7)).flatmap(lambda shape: arrays(np.bool_, shape))


@given(masks)
def test_rectangles_cover_a_mask_exactly_once(mask: np.ndarray) -> None:
    """Every true cell lies in one rectangle, no false cell in any."""
    count = np.zeros(mask.shape, int)
    for x0, y0, x1, y1 in rectangles(mask):
        count[x0:x1, y0:y1] += 1
    assert np.array_equal(count, mask.astype(int))


@given(masks)
def test_outlines_are_the_borders_between_true_and_false(mask: np.ndarray) -> None:
    """The total length of the border lines is the number of cell sides with brick on one side only."""
    padded = np.pad(mask, 1)
    sides = int((padded[1:] != padded[:-1]).sum() + (padded[:, 1:] != padded[:, :-1]).sum())
    assert sum(abs(x1 - x0) + abs(y1 - y0) for x0, y0, x1, y1 in outlines(mask)) == sides
