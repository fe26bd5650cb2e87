"""Wires cut longer than asked: every figure by hand."""

from __future__ import annotations

import pytest

from fitplan.model.wired import Leg, Wire, WireEnd
from fitplan.routing.harness.wires import lengthened

END = WireEnd("pin", "p", "p0", "v", (0.0, 0.0, 0.0), 4.0)
WIRE = Wire(
    number=1, net="n", role="signal", colour="BK", awg=28, outer_mm=1.0, start=END, end=END,
    legs=(Leg("v", ((0.0, 0.0, 0.0), (60.0, 0.0, 0.0))),), bare_mm=60.0,
    allowances=(("bends", 2.0), ("stripping", 8.0)), cut_mm=75.0, current_ma=10.0, drop_v=0.003,
)  # fmt: skip


@pytest.mark.parametrize(
    ("what", "more", "step", "than_cut", "allowances", "cut"),
    [
        # 60 + 10 + 12 is 82, on the step of 5 mm 85; the 5 mm that rounding gave are not asked for again
        ("loop", 12.0, 5.0, False, (("bends", 2.0), ("stripping", 8.0), ("loop", 12.0)), 85.0),
        # and beyond the 75 mm that it was cut to: 5 + 12 and what keeps it from being rounded down
        ("loop", 12.0, 5.0, True, (("bends", 2.0), ("stripping", 8.0), ("loop", 17.0)), 90.0),
        ("bends", 3.0, 1.0, False, (("bends", 5.0), ("stripping", 8.0)), 73.0),
        ("bends", 5.0, 5.0, False, (("bends", 7.0), ("stripping", 8.0)), 75.0),
    ],
)
def test_a_longer_wire(
    what: str,
    more: float,
    step: float,
    than_cut: bool,
    allowances: tuple[tuple[str, float], ...],
    cut: float,
) -> None:
    """The allowance grows, the cut is on its step, and the drop is that of the longer copper."""
    made = lengthened(WIRE, what, more, step, than_cut=than_cut)
    assert [name for name, _ in made.allowances] == [name for name, _ in allowances]
    assert [amount for _, amount in made.allowances] == pytest.approx([a for _, a in allowances], abs=0.011)
    assert made.cut_mm == cut
    assert made.drop_v == pytest.approx(0.003 * cut / 75.0, abs=1e-5)
    assert made.bare_mm == 60.0


def test_a_wire_that_was_cut_short_gives_nothing_back() -> None:
    """Where a cut is below what is asked, as after a change by hand, nothing is taken off what is added."""
    short = lengthened(WIRE.__class__(**{**WIRE.__dict__, "cut_mm": 65.0}), "loop", 4.0, 1.0, than_cut=True)
    assert dict(short.allowances)["loop"] == pytest.approx(4.0, abs=0.011)
    assert short.cut_mm in (74.0, 75.0)
