"""What the wiring says beside the harness: bends, styles compared, ribbon instead of a bundle."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fitplan.checks.wire_bends import bend_findings
from fitplan.checks.wire_ends import end_findings
from fitplan.checks.wire_ribbon import Ribbon, conductors_of, ribbon_table
from fitplan.checks.wire_styles import styles_table
from fitplan.checks.wiring import check_wiring
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Conductor
from fitplan.model.found import Finding, Outcome, Table
from fitplan.model.nets import WiringStyle
from fitplan.model.solids import Box, Vec
from fitplan.model.vehicle import Port
from fitplan.model.wired import Leg, Wire, WireEnd
from fitplan.model.wiring_facts import WiringFacts
from fitplan.routing.harness.facts import hidden_splices, wiring_facts
from fitplan.routing.harness.harness import WiredTrain, wire_train
from fitplan.routing.harness.styles import compare
from fitplan.routing.ways.bend_room import bends_of, smoothed
from tests.routing.test_harness import Flow, built_of

NEAR = {"p": ("a", 12.0, 8.0), "q": ("a", 80.0, 8.0), "r": ("a", 46.0, 30.0)}
THREE = {"n": ["p.p0", "q.p0", "r.p0"]}


def wire_with(points: list[Vec], outer: float = 1.0, ends: tuple[str, str] = ("pin", "pin")) -> Wire:
    """Return a wire that lies along these points in one vehicle."""
    start, end = (
        WireEnd(kind, kind, "", "a", at, 4.0)  # type: ignore[arg-type]
        for kind, at in zip(ends, (points[0], points[-1]), strict=True)
    )
    leg = Leg("a", tuple(points))
    return Wire(1, "n", "signal", "RD", 28, outer, start, end, (leg,), 1.0, (), 5.0, 10.0, 0.0)


def bend(points: list[Vec], ends: tuple[str, str] = ("pin", "pin")) -> tuple[float, float]:
    """Return the tightest radius on the way and at the ends of a wire 1 mm thick."""
    wire = wire_with(points, ends=ends)
    found = bends_of(wire, wire.legs[0])
    return found.tightest_mm, found.at_end_mm


def table(outcome: Outcome, title: str) -> Table:
    """Return the table of this title."""
    return next(entry for entry in outcome.tables if entry.title == title)


def said_of(built: BuiltTrain, wired: WiredTrain) -> Outcome:
    """Return what is said of a wired train."""
    built = replace(built, harness=wired.harness)
    facts = wiring_facts(built, wired.layout)
    return check_wiring(replace(built, harness=replace(wired.harness, facts=facts)))


def run(spots: dict[str, tuple[str, float, float]], nets: dict[str, list[str]]) -> tuple[WiredTrain, Outcome]:
    """Return the wired train and what the wiring says of it."""
    built = built_of(spots, nets)
    wired = wire_train(built, {name: Flow(10.0, 10.0) for name in nets})
    return wired, said_of(built, wired)


def test_a_wide_corner_has_room_for_six_diameters() -> None:
    """A right angle between long pieces takes the wide radius: 6 × 1 mm (NASA-STD-8739.4)."""
    assert bend([(0, 0, 0), (40, 0, 0), (40, 40, 0)]) == (pytest.approx(6.0), 6.0)


def test_a_step_between_two_corners_limits_the_radius() -> None:
    """Two right angles with 3 mm between them have 3/2 mm each: an arc takes r·tan 45° of a piece."""
    points: list[Vec] = [(0, 0, 0), (40, 0, 0), (40, 3, 0), (0, 3, 0)]
    tightest, at_end = bend(points)
    assert tightest == pytest.approx(1.5)
    assert at_end == 6.0


def test_a_sharp_corner_is_a_caution_that_says_all() -> None:
    """A corner with room for less than 2 diameters (IPC/WHMA-A-620) is told with place, figure and remedy."""
    points: list[Vec] = [(0, 0, 0), (40, 0, 0), (40, 3, 0), (0, 3, 0)]
    findings, bends = bend_findings([bends_of(wire_with(points), wire_with(points).legs[0])])
    caution = findings[0]
    assert isinstance(caution, Finding)
    assert (caution.severity, caution.limit, caution.unit) == ("caution", 2.0, "mm")
    assert caution.figure < 2.0
    assert caution.where.startswith("a at 40.0")
    assert "A-620" in caution.source
    assert caution.remedy
    assert bends is not None
    assert bends.rows[0][:2] == ("a", 1.0)
    assert bends.rows[0][-2] == 1.0


@pytest.mark.parametrize(("kind", "is_end"), [("pin", True), ("splice", True), ("connector", False)])
def test_a_corner_at_a_pin_or_splice_is_counted_apart(kind: str, is_end: bool) -> None:
    """A turn 1 mm from a soldered end is bent by hand there; one at a connector is on the way."""
    tightest, at_end = bend([(0, 0, 0), (1, 0, 0), (1, 40, 0)], ends=(kind, "pin"))
    assert (tightest == 6.0) is is_end
    assert (at_end < 2.0) is is_end


def test_voxel_steps_are_smoothed_and_true_corners_stay() -> None:
    """Steps of 0.4 mm vanish within half a wire's diameter, and no corner that is gone lies farther off."""
    steps = np.array([(0.0, 0, 0), (5, 0.4, 0), (10, 0, 0), (15, 0.4, 0), (20, 0, 0), (20, 20, 0)])
    assert smoothed(steps, 0.5).tolist() == [[0, 0, 0], [20, 0, 0], [20, 20, 0]]
    assert len(smoothed(steps, 0.1)) == len(steps)


def test_styles_agree_with_nets_laid_alone_in_each_style() -> None:
    """Copper and joints of each style are those of the train planned so, to the voxel steps' excess."""
    _, outcome = run(NEAR, THREE)
    row = table(outcome, "Styles compared, net by net").rows[0]
    assert row[:3] == ("n", 3.0, "tree")
    styles: tuple[WiringStyle, ...] = ("tree", "home-run", "chain")
    for place, style in enumerate(styles):
        built = built_of(NEAR, THREE, style=style)
        harness = wire_train(built, {"n": Flow(10.0, 10.0)}).harness
        copper = sum(wire.bare_mm for wire in harness.wires)
        pins = sum(end.kind == "pin" for wire in harness.wires for end in (wire.start, wire.end))
        found, joints = row[3 + 2 * place : 5 + 2 * place]
        assert joints == pins + len(harness.splices)
        assert copper * 0.9 <= float(found) <= copper * 1.15 + 8.0


def test_home_runs_over_a_coupling_cost_a_conductor_each() -> None:
    """Two pins behind the coupling: a tree and a chain cross once, home runs from the front twice."""
    spots = {"p": ("a", 12.0, 8.0), "q": ("b", 20.0, 8.0), "r": ("b", 60.0, 8.0)}
    built = built_of(spots, THREE)
    wired = wire_train(built, {"n": Flow(10.0, 10.0)})
    (found,) = compare(replace(built, harness=wired.harness), wired.harness, wired.layout)
    costs = {cost.style: cost for cost in found.costs}
    assert {style: cost.across for style, cost in costs.items()} == {"tree": 1, "home-run": 2, "chain": 1}
    assert costs["home-run"].copper_mm > costs["chain"].copper_mm


def test_a_style_that_a_port_cannot_carry_is_not_possible() -> None:
    """Home runs of two conductors do not go through a hole for one; tree and chain do."""
    spots = {"p": ("a", 12.0, 8.0), "q": ("b", 20.0, 8.0), "r": ("b", 60.0, 8.0)}
    built = built_of(spots, THREE)
    outer = built.train.catalogue["wire-awg28"].figure(Conductor)
    assert outer is not None
    wired = wire_train(built, {"n": Flow(10.0, 10.0)})
    joints = {
        portal: replace(joint, port_ahead=_shrunk(joint.port_ahead, outer.outer_mm))
        for portal, joint in wired.layout.couplings.items()
    }
    found = compare(
        replace(built, harness=wired.harness), wired.harness, replace(wired.layout, couplings=joints)
    )
    reasons = {cost.style: cost.reason for cost in found[0].costs}
    assert "at most 1 of" in reasons["home-run"]
    assert reasons["chain"] == ""
    rows = styles_table(found)
    assert rows is not None
    assert rows.rows[0][5] == "not possible"


def _shrunk(port: Port, to: float) -> Port:
    """Return a port with a hole that one wire just goes through."""
    low, high = port.box.low, port.box.high
    return replace(port, box=Box(low, (high[0], low[1] + 1.2 * to, low[2] + 1.2 * to)))


def test_too_few_pins_of_a_board_are_a_caution() -> None:
    """Three home runs to a board of two pins: told with the wires that want a pin and the pins there are."""
    spots = {**NEAR, "hub": ("a", 46.0, 16.0)}
    nets = {"n": ["hub.p0", "p.p0", "q.p0", "r.p0"]}
    built = built_of(spots, nets, style="home-run", boards={"hub": 2})
    wired = wire_train(built, {"n": Flow(10.0, 10.0)})
    outcome = said_of(built, wired)
    finding = next(entry for entry in outcome.findings if entry.unit == "wires")
    assert (finding.severity, finding.figure, finding.limit) == ("caution", 3.0, 2.0)
    assert finding.where == "hub.p0 in a"
    assert "distribution board with more pins" in finding.remedy


def test_a_splice_out_of_sight_is_a_caution() -> None:
    """The same splice is told of when the vehicle's only opening is gone, and not while it is there."""
    built = built_of(NEAR, THREE, wires=1)
    wired = wire_train(built, {"n": Flow(10.0, 10.0)})
    assert hidden_splices(wired.harness, wired.layout) == ()
    shut = {
        name: replace(map_, vehicle=replace(map_.vehicle, openings=()))
        for name, map_ in wired.layout.maps.items()
    }
    hidden = hidden_splices(wired.harness, replace(wired.layout, maps=shut))
    (finding,) = end_findings(replace(wired.harness, facts=WiringFacts(hidden_splices=hidden)))
    assert finding.severity == "caution"
    assert finding.where.startswith("S1 in a at ")


def test_two_pins_have_no_styles_and_one_wire_no_ribbon() -> None:
    """A net of two pins in one vehicle gives neither table."""
    _, outcome = run({"p": ("a", 12.0, 8.0), "q": ("a", 80.0, 8.0)}, {"n": ["p.p0", "q.p0"]})
    assert [entry.title for entry in outcome.tables] == ["Bend radius"]


def test_ribbon_goes_through_where_it_is_narrower_than_both_holes() -> None:
    """Two wires through holes 8 × 6.4 mm: 2 × 1.27 mm of ribbon goes through, and is flatter."""
    spots = {"p": ("a", 12.0, 8.0), "q": ("b", 40.0, 8.0)}
    _, outcome = run(spots, {"m": ["p.p0", "q.p0"], "n": ["p.p1", "q.p1"]})
    rows = [row for row in table(outcome, "Ribbon or round bundle").rows if "1.27" in str(row[4])]
    assert rows[0][2] == 2.0
    assert rows[0][6] == "2.54 × 0.9"
    assert rows[0][7] == "yes"
    assert "flatter" in str(rows[0][8])


def test_ribbon_that_is_wider_than_a_hole_says_which() -> None:
    """Ten conductors of 1.27 mm are 12.7 mm wide: the hole of 8 × 6.4 mm is named."""
    spots = {"p": ("a", 12.0, 8.0), "q": ("b", 40.0, 8.0)}
    wired, _ = run(spots, {"n": ["p.p0", "q.p0"]})
    train = built_of(spots, {"n": ["p.p0", "q.p0"]}).train
    (crossing,) = wired.harness.crossings
    many = replace(crossing, wires=crossing.wires * 10)
    found = ribbon_table(train, replace(wired.harness, crossings=(many,)))
    assert found is not None
    cell = next(str(row[7]) for row in found.rows if "1.27" in str(row[4]))
    assert cell.startswith("no: rear hole of a (8 × 6.4 mm)")


def test_a_strong_current_takes_several_conductors_of_a_ribbon() -> None:
    """0.5 A is more than AWG 28 may carry (0.226 A, handbook rule of 700 circular mils): three of them."""
    wire = replace(wire_with([(0, 0, 0), (40, 0, 0)]), current_ma=500.0)
    assert conductors_of([wire], 28) == 3
    assert conductors_of([replace(wire, current_ma=0.0)], 28) == 1


def test_the_hole_of_a_port_is_across_its_way() -> None:
    """A port that leads along y has its opening in x and z."""
    assert Port("side", Box((0, 0, 0), (6, 8, 4)), "+y").opening == (6, 4)


def test_a_ribbon_lies_flat_or_not_at_all() -> None:
    """Ten conductors at 1.27 mm are 12.7 mm wide and go through a slot either way round."""
    ribbon = Ribbon()
    assert ribbon.size(10) == pytest.approx((12.7, 0.9))
    assert ribbon.goes_through(10, 0.9, 12.7)
    assert not ribbon.goes_through(10, 12.6, 12.6)
