"""Cut lengths: each allowance once, listed, and never a wire that is cut too short."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitplan.model.wiring import Allowances
from fitplan.routing.harness.lengths import CutEnd, cut_length


def test_a_pin_to_a_splice_adds_what_the_settings_say() -> None:
    """Hand sum: 200 bare, 5 lead-out, 8 not taut, 2 bends, 4 strip, 8 overlap, 25 loop: 252, cut 255."""
    cut = cut_length(
        200.0,
        (CutEnd("pin", comes_out=True), CutEnd("splice")),
        turns_deg=[90, 20, 45],
        allowances=Allowances(lead_out=5.0),
    )
    assert cut.additions == (
        ("lead-out", 5.0),
        ("not taut", 8.0),
        ("bends", 2.0),
        ("stripping", 4.0),
        ("splice overlap", 8.0),
        ("service loop", 25.0),
    )
    assert cut.bare_mm + sum(mm for _, mm in cut.additions) == pytest.approx(252.0)
    assert cut.cut_mm == 255.0


def test_couplings_are_listed_with_their_slack_apart() -> None:
    """A joint of 40 mm with 6 mm slack in it adds 34 and 6."""
    cut = cut_length(
        100.0,
        (CutEnd("splice"), CutEnd("connector")),
        couplings=[(40.0, 6.0)],
        allowances=Allowances(lead_out=5.0),
    )
    assert dict(cut.additions)["over couplings"] == pytest.approx(34.0)
    assert dict(cut.additions)["slack at couplings"] == pytest.approx(6.0)
    assert dict(cut.additions)["lead-out"] == pytest.approx(5.0)


@given(st.floats(0, 3000), st.floats(0, 3000), st.sampled_from([1.0, 5.0, 10.0]))
def test_the_cut_is_never_shorter_and_grows_with_the_way(one: float, two: float, step: float) -> None:
    """The cut covers the sum by less than one step, and a longer way never gives a shorter cut."""
    by = Allowances(rounding=step)
    first, second = (cut_length(way, (CutEnd(), CutEnd()), allowances=by) for way in sorted((one, two)))
    for cut in (first, second):
        exact = cut.bare_mm + sum(mm for _, mm in cut.additions)
        assert exact - 1e-6 <= cut.cut_mm < exact + step
    assert first.cut_mm <= second.cut_mm


def test_a_length_on_the_step_is_not_rounded_further() -> None:
    """Rounding dust does not cost a step: 100 mm stays 100 mm."""
    none = Allowances(0, 0, 0, 30, 0, 0, 0, 0.1)
    assert cut_length(0.3, (CutEnd(), CutEnd()), allowances=none).cut_mm == pytest.approx(0.3)


def test_impossible_figures_are_refused() -> None:
    """Negative allowances, ways and joints are named."""
    with pytest.raises(ValueError, match="strip"):
        Allowances(strip=-1)
    with pytest.raises(ValueError, match="positive step"):
        Allowances(rounding=0)
    with pytest.raises(ValueError, match="at least 0"):
        cut_length(-1, (CutEnd(), CutEnd()))
    with pytest.raises(ValueError, match="slack"):
        cut_length(1, (CutEnd(), CutEnd()), couplings=[(3.0, 4.0)])
