"""Solids at random, on a grid of half millimetres so that many of them touch."""

from __future__ import annotations

from hypothesis import strategies as st

from fitplan.model.solids import AXES, DIRECTIONS, Box, Cylinder, Wedge

HALVES = st.integers(-12, 12).map(lambda n: n / 2)
SIZES = st.integers(1, 14).map(lambda n: n / 2)
BOXES = st.builds(
    lambda low, size: Box(low, (low[0] + size[0], low[1] + size[1], low[2] + size[2])),
    st.tuples(HALVES, HALVES, HALVES),
    st.tuples(SIZES, SIZES, SIZES),
)
CYLINDERS = st.builds(Cylinder, st.sampled_from(AXES), st.tuples(HALVES, HALVES, HALVES), SIZES, SIZES)
WEDGES = st.builds(
    lambda box, base, back: Wedge(box, base, back),
    BOXES,
    st.sampled_from(DIRECTIONS),
    st.sampled_from(DIRECTIONS),
).filter(lambda wedge: wedge.base[1] != wedge.back[1])
SOLIDS = st.one_of(BOXES, CYLINDERS, WEDGES)
