"""Lengths as people write them.

Stud, plate and brick: common practice, no source.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitplan.units import BRICK, PLATE, STUD, in_studs, parse_length

counts = st.integers(0, 200)


@given(studs=counts, bricks=counts, plates=counts, tenths=st.integers(-500, 500))
def test_sums_come_back(studs: int, bricks: int, plates: int, tenths: int) -> None:
    """A sum of all units is what its terms are, whatever their order and their signs."""
    sign = "-" if tenths < 0 else "+"
    text = f"{studs} studs {bricks} bricks {plates} plates {sign} {abs(tenths) / 10} mm"
    length = studs * STUD + bricks * BRICK + plates * PLATE + tenths / 10
    assert parse_length(text) == pytest.approx(length, abs=1e-6)
    assert parse_length(
        f"{plates}plates {studs}STUDS {bricks} Bricks {sign}{abs(tenths) / 10}mm"
    ) == parse_length(text)


@given(length=st.floats(-1e4, 1e4))
def test_numbers_are_millimetres(length: float) -> None:
    """A plain number, and the same number with its unit, are the same length."""
    assert parse_length(length) == length
    assert parse_length(f"{length:.6f} mm") == pytest.approx(length, abs=1e-6)


@pytest.mark.parametrize(
    "text",
    ["", "  ", "3", "studs", "3 stud s", "3 furlongs", "1,5 mm", "3 studs and 1 plate", "--2 mm", True],
)
def test_what_is_no_length_is_refused(text: str) -> None:
    """A text without unit, with an unknown unit or with anything else raises, with the units named."""
    with pytest.raises(ValueError, match="expected a length such as 3 studs 1 plate"):
        parse_length(text)


def test_length_for_people() -> None:
    """Horizontal lengths are shown in mm and in studs."""
    assert in_studs(44.8) == "44.8 mm (5.6 studs)"
