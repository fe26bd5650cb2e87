"""Clear space: labels, sums, the largest empty box, sizes that fit, necks."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import ndimage

from fitplan.lattice.clear import SizeTest, box_sums, label_spaces, largest_box, necks


def window_counts(sums: NDArray[np.int32], size: tuple[int, int, int]) -> NDArray[np.int32]:
    """Return how many cells are set in each window of a size, by the window's lower corner.

    The result has (x − a + 1, y − b + 1, z − c + 1) entries, or none where the window is longer than the
    block.
    """
    total: NDArray[np.int64] = sums
    for axis, edge in enumerate(size):
        n = total.shape[axis]
        upper = [slice(None)] * 3
        lower = [slice(None)] * 3
        upper[axis] = slice(edge, n) if edge < n else slice(0, 0)
        lower[axis] = slice(0, max(n - edge, 0))
        total = total[tuple(upper)] - total[tuple(lower)]
    return total


@st.composite
def blocks(draw_from, most=7):
    shape = draw_from(st.tuples(*[st.integers(1, most)] * 3))
    random = np.random.default_rng(draw_from(st.integers(0, 10_000)))
    return random.random(shape) < draw_from(st.floats(0.2, 0.98))


@settings(max_examples=40, deadline=None)
@given(block=blocks(9))
def test_spaces_are_those_of_the_reference(block):
    """Connected spaces are the same as scipy's, numbered alike."""
    names, count = label_spaces(block)
    reference, expected = ndimage.label(block)
    assert count == expected
    assert (names == reference).all()


def test_barriers_part_spaces():
    """A closed face between two clear voxels keeps them apart, on each axis and from both sides."""
    for axis in range(3):
        clear = np.ones((3, 3, 3), bool)
        barriers = np.zeros((3, 3, 3), np.uint8)
        wall = [slice(None)] * 3
        wall[axis] = 2
        barriers[tuple(wall)] = 1 << axis
        names, count = label_spaces(clear, barriers)
        assert count == 2
        assert (names == 2).sum() == 9
        assert (names[tuple(wall)] == 2).all()


@settings(max_examples=30, deadline=None)
@given(block=blocks(), size=st.tuples(*[st.integers(1, 8)] * 3))
def test_window_counts(block, size):
    """Counts from the summed volume are the counts of each window."""
    counts = window_counts(box_sums(block), size)
    shape = tuple(max(n - s + 1, 0) for n, s in zip(block.shape, size, strict=True))
    assert counts.shape == shape
    for corner in itertools.islice(np.ndindex(shape), 20):
        window = tuple(slice(c, c + s) for c, s in zip(corner, size, strict=True))
        assert counts[corner] == block[window].sum()


def by_trying(block, lines):
    """Greatest volume of an empty box by trying all corners."""
    best = 0.0
    for low in np.ndindex(block.shape):
        for high in itertools.product(*(range(c + 1, n + 1) for c, n in zip(low, block.shape, strict=True))):
            window = tuple(slice(a, b) for a, b in zip(low, high, strict=True))
            if block[window].all():
                edges = [line[b] - line[a] for line, a, b in zip(lines, low, high, strict=True)]
                best = max(best, float(np.prod(edges)))
    return best


@settings(max_examples=40, deadline=None)
@given(block=blocks(5), seed=st.integers(0, 1000))
def test_largest_box_is_the_largest(block, seed):
    """No empty box is larger than the one found, with cells of all widths; and it is empty."""
    random = np.random.default_rng(seed)
    lines = [np.cumsum(np.concatenate(([0.0], random.integers(1, 9, n)))) for n in block.shape]
    box = largest_box(block, lines)
    window = tuple(slice(box[axis], box[axis + 3]) for axis in range(3))
    assert block[window].all()
    volume = np.prod([line[box[axis + 3]] - line[box[axis]] for axis, line in enumerate(lines)])
    assert volume == pytest.approx(by_trying(block, lines))


@settings(max_examples=40, deadline=None)
@given(block=blocks(5), size=st.tuples(*[st.integers(1, 24)] * 3), seed=st.integers(0, 1000))
def test_sizes_that_fit(block, size, seed):
    """A box fits exactly when some window of unit cells of its size is empty, whatever the cells' widths."""
    random = np.random.default_rng(seed)
    widths = [random.integers(1, 6, n) for n in block.shape]
    fine = block
    for axis, line in enumerate(widths):
        fine = np.repeat(fine, line, axis=axis)
    lines = [np.concatenate(([0.0], np.cumsum(line))) for line in widths]
    expected = (window_counts(box_sums(fine), size) == np.prod(size)).any()
    position = SizeTest(block, lines).position(size)
    assert (position is not None) == expected
    if position is not None:
        low = [int(line[c]) for line, c in zip(lines, position, strict=True)]
        assert fine[tuple(slice(c, c + s) for c, s in zip(low, size, strict=True))].all()


@settings(max_examples=30, deadline=None)
@given(block=blocks(5), size=st.tuples(*[st.integers(1, 9)] * 3), axis=st.integers(0, 2))
def test_the_longest_box_along_an_axis(block, size, axis):
    """The length found by halving fits and the next step does not, each asked by itself."""
    lines = [np.arange(n + 1, dtype=float) for n in block.shape]
    test = SizeTest(block, lines)
    if test.position(size) is not None:
        return
    found = test.longest(size, axis, 0.5)
    probe = list(size)
    probe[axis] = found + 0.5
    assert test.position(tuple(probe)) is None
    probe[axis] = found
    assert found == 0 or test.position(tuple(probe)) is not None


def test_neck_between_two_rooms():
    """Two rooms joined by a passage have one neck, in the passage; a single room has none."""
    clear = np.zeros((30, 12, 12), bool)
    clear[1:11, 1:11, 1:11] = clear[19:29, 1:11, 1:11] = True
    clear[11:19, 4:8, 4:8] = True
    radius = ndimage.distance_transform_edt(np.pad(clear, 1))[1:-1, 1:-1, 1:-1]
    (neck,) = necks(radius, 1.0)
    assert 10 <= neck.place[0] <= 19
    assert radius[neck.place] == 2
    assert {neck.lesser[0] < 15, neck.greater[0] < 15} == {True, False}
    clear[14:] = False
    assert necks(radius * clear, 1.0) == []
