"""Bundles and ports against the published circle packings and against arrangements checked here."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.routing.map.bundles import (
    bundle_diameter,
    enclosing_ratio,
    stretches,
    through_rectangle,
    through_round,
)
from fitplan.routing.map.circle_packing import Round, arrangement, overlap

# Kravitz 1967 and Graham, Lubachevsky, Nurmela, Östergård 1998, to three decimals.
PUBLISHED = {
    1: 1.000, 2: 2.000, 3: 2.155, 4: 2.414, 5: 2.701, 6: 3.000, 7: 3.000, 8: 3.305, 9: 3.613, 10: 3.813,
    11: 3.924, 12: 4.030, 13: 4.236, 14: 4.328, 15: 4.521, 16: 4.615, 17: 4.792, 18: 4.864, 19: 4.864,
}  # fmt: skip
# Best known for more circles (Graham and others 1998; from memory, not confirmed): a rule must not be below.
BEST_KNOWN = {20: 5.1223, 30: 6.1977, 37: 6.7588, 61: 8.6613, 91: 10.5467}


@pytest.mark.parametrize(("count", "ratio"), PUBLISHED.items())
def test_equal_wires_follow_the_published_packings(count: int, ratio: float) -> None:
    """Up to 19 equal wires the bundle has the published diameter."""
    assert bundle_diameter([1.3] * count) / 1.3 == pytest.approx(ratio, abs=5e-4)


def test_closed_forms_of_small_bundles() -> None:
    """3, 4, 5 and 7 circles have closed forms (textbook geometry), and no value is below its own."""
    for count, exact in (
        (3, 1 + 2 / math.sqrt(3)),
        (4, 1 + math.sqrt(2)),
        (5, 1 + 1 / math.sin(math.pi / 5)),
        (7, 3.0),
        (13, 2 + math.sqrt(5)),
        (19, 1 + math.sqrt(2) + math.sqrt(6)),
    ):
        assert exact <= enclosing_ratio(count) <= exact + 1e-6


@pytest.mark.parametrize(("count", "ratio"), BEST_KNOWN.items())
def test_the_rule_beyond_the_table_is_never_below(count: int, ratio: float) -> None:
    """Beyond 19 wires the rule lies above the best known packing, by less than 10 %."""
    assert ratio <= enclosing_ratio(count) <= 1.1 * ratio


@pytest.mark.parametrize("count", [20, 24, 30])
def test_what_the_search_found_is_found_again(count: int) -> None:
    """The stored ratios beyond 19 are those of arrangements: the search finds one, free of overlaps."""
    hole = Round(enclosing_ratio(count) * 1.0005)
    found = arrangement(hole, [1.0] * count, starts=32, rounds=6)
    assert found is not None
    assert overlap(hole, found, [1.0] * count) == 0.0


def test_more_wires_never_make_a_thinner_bundle() -> None:
    """The diameter grows with the count over the seam between table and rule."""
    ratios = [enclosing_ratio(n) for n in range(60)]
    assert ratios == sorted(ratios)


@given(st.lists(st.sampled_from([0.6, 0.8, 1.1, 1.3, 1.6, 2.4]), min_size=1, max_size=9))
@settings(max_examples=60, deadline=None)
def test_unequal_wires_lie_between_area_and_thickest(diameters: list[float]) -> None:
    """A bundle has at least its wires' area and the two thickest side by side, at most n of the thickest."""
    found = bundle_diameter(diameters)
    thick = sorted(diameters, reverse=True)
    assert found >= math.sqrt(sum(d * d for d in diameters))
    assert found >= sum(thick[:2]) - 1e-9
    assert found <= enclosing_ratio(len(diameters)) * thick[0] + 1e-9
    assert found == bundle_diameter(reversed(diameters))


@given(st.lists(st.sampled_from([0.8, 1.1, 1.6]), min_size=2, max_size=8))
@settings(max_examples=40, deadline=None)
def test_a_wire_more_never_helps(diameters: list[float]) -> None:
    """Taking a wire away leaves a bundle that is at most 12 % thicker by the rule, never more."""
    assert bundle_diameter(diameters[:-1]) <= 1.12 * bundle_diameter(diameters)


def test_three_unequal_wires_have_the_soddy_circle() -> None:
    """A third that lies in the hollow of two adds nothing; a thicker one gives Descartes' outer circle."""
    assert bundle_diameter([4, 6, 2]) == pytest.approx(10, abs=1e-9)
    assert bundle_diameter([2, 2, 1.9]) == pytest.approx(outer_by_search(2, 2, 1.9), rel=1e-6)


def outer_by_search(a: float, b: float, c: float) -> float:
    """Return the circle around three touching circles, found by halving on Descartes' relation."""
    k = [2 / d for d in (a, b, c)]
    outer = sum(k) - 2 * math.sqrt(k[0] * k[1] + k[1] * k[2] + k[2] * k[0])
    return -2 / outer


def test_ports_carry_what_fits() -> None:
    """Round and square ports: counts from the packings and from rows that can be drawn."""
    assert through_round(3.9, 1.3) == 7
    assert through_round(3.89, 1.3) == 5
    assert through_round(1.29, 1.3) == 0
    assert through_rectangle(2.6, 2.6, 1.3) == 4
    assert through_rectangle(1.3, 6.5, 1.3) == 5
    assert through_rectangle(1.2, 6.5, 1.3) == 0
    # three staggered rows of a square port of 8 wires' side: 68 instead of 64 (rows of 8 and 7, nine rows)
    assert through_rectangle(8.0, 8.0, 1.0) == 68


@given(st.floats(1.0, 9.0), st.floats(1.0, 9.0), st.floats(0.7, 2.0))
@settings(max_examples=80, deadline=None)
def test_no_port_is_filled_beyond_the_densest_packing(width: float, height: float, wire: float) -> None:
    """The wires' area stays below that of the opening times π/√12, with the edges' share added."""
    count = through_rectangle(width, height, wire)
    w, h = width / wire, height / wire
    if min(w, h) < 1 - 1e-8:  # a port may be narrower than its wire by rounding
        assert count == 0
        return
    # Groemer's bound (Math. Z. 73, 1960; from memory, not confirmed):
    # n ≤ 2/√3·A + P/2 + 1 with area and perimeter of the rectangle of the centres.
    a, b = max(w - 1, 0.0), max(h - 1, 0.0)
    assert count <= 2 / math.sqrt(3) * a * b + (a + b) + 1 + 1e-6
    assert count == through_rectangle(height, width, wire)


def test_stretches_follow_the_company() -> None:
    """Two runs that join, share and part make one shared stretch and single ones, with all length kept."""
    first = np.array([[x, 0, 0] for x in range(10)], np.int32)
    second = np.array([[2, 2, 0], [2, 1, 0], *[[x, 0, 0] for x in range(2, 7)], [6, 1, 0]], np.int32)[::-1]
    found = stretches([first, None, second], [1.3, 9.0, 0.7], 0.8)
    shared = [s for s in found if s.runs == (0, 2)]
    assert len(shared) == 1
    assert shared[0].length_mm == pytest.approx(4 * 0.8)
    assert shared[0].diameter == pytest.approx(2.0)
    assert sum(s.length_mm for s in found if 0 in s.runs) == pytest.approx(9 * 0.8)
    assert sum(s.length_mm for s in found if 2 in s.runs) == pytest.approx(7 * 0.8)
