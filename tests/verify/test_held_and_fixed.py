"""What holds heavy parts, straps that press in every direction, places that users fix, resistors."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from fitplan.model.electrical import SeriesResistor
from fitplan.model.facts import sideways_n
from fitplan.model.found import Finding
from fitplan.model.needed import FixedPlace
from fitplan.model.nets import Net, PinRef
from fitplan.model.placed import Fastening, Piece, Shelf
from fitplan.model.plan import Plan
from fitplan.model.proposed import FitRow
from fitplan.model.solids import Box, Place, Vec, pose_named
from fitplan.model.vehicle import BodySolid
from fitplan.verify.fastenings import check_fastenings
from fitplan.verify.fit_rows import check_fit_rows
from fitplan.verify.resistors import check_resistors, series
from fitplan.verify.result import Tally
from fitplan.verify.scene import sites_of

from .lies import built_with, needs_with, placed_with, problems, train_with
from .test_hung_and_strapped import ON_NOTHING, STACKS, G, along, piece, strapped, wagon
from .test_hung_and_strapped import OVER as OVER_BOTH
from .test_lies_in_words import DIODE, RIGHT, lit
from .test_pressed import NO_PLACE, OVER, REST, strap
from .two_vehicles import FLOOR, LAMP, plan

# -- heavy parts on additions ------------------------------------------------------------------------------

BRICK = piece("brick 1 × 2", (24, 16, FLOOR), (8, 16, 9.6))
STOP = Finding("support", "stop", "lamp in wagon", "is loose", 1.0, 1.0, "mm", "tape", "practice")


def on_top(
    x: float,
    y: float,
    *fastenings: Fastening,
    findings: tuple[Finding, ...] = (),
    mass: float = 25.0,
    kind: str = "plates",
    load_top: float = 0.0,
    pieces: tuple[Piece, ...] = (BRICK,),
    z: float = FLOOR + 9.6,
    **placed: Any,
) -> list[tuple[str, float]]:
    """What is said of a lamp of 6 mm edges whose low corner lies over a brick from 24, 16 to 32, 32."""
    place = Place(pose_named("+x+y+z"), (x, y, z))
    shelf = Shelf(kind, pieces, 2, True)  # type: ignore[arg-type]
    made = placed_with(plan(), "lamp", place=place, part=replace(LAMP, mass_g=mass), shelf=shelf, **placed)
    made = built_with(made, fastenings=fastenings)
    built = wagon(made.built, floor_finish="studded", load_top=load_top)
    found = problems(check_fastenings, built, sites_of(built), findings)
    return [(one.message, one.figure) for one in found]


@pytest.mark.parametrize(
    ("x", "y", "past"),
    [
        (26.0, 20.0, None),
        (22.9, 20.0, None),
        (22.7, 20.0, 1.7),
        (22.0, 20.0, 1.0),
        (27.1, 20.0, None),
        (27.3, 20.0, 1.7),
        (26.0, 14.9, None),
        (26.0, 14.0, 1.0),
        (26.0, 27.1, None),
        (26.0, 28.0, 1.0),
    ],
)
def test_what_carries_a_heavy_part_reaches_past_its_middle(x: float, y: float, past: float | None) -> None:
    """By 1.8 mm on every side."""
    words = f"what carries lamp reaches {past:.1f} mm past its middle, and nothing says so" if past else ""
    assert on_top(x, y) == ([(words, pytest.approx(past, abs=0.01))] if past else [])


def test_two_bricks_under_a_part_carry_it_together() -> None:
    """The seam lies 1 mm beside its middle, along or across; what both bear reaches 3 mm past it."""
    for low, high, at in (
        ((24, 16), (24, 24), (26.0, 20.0)),
        ((24, 24), (24, 16), (26.0, 22.0)),
        ((16, 24), (24, 24), (22.0, 26.0)),
        ((24, 24), (16, 24), (20.0, 26.0)),
    ):
        pieces = tuple(piece("brick 1 × 1", (*spot, FLOOR), (8, 8, 9.6)) for spot in (low, high))
        assert on_top(*at, pieces=pieces) == []


def test_it_is_asked_of_heavy_parts_that_stand_on_additions_alone() -> None:
    edge = (22.0, 20.0)
    assert on_top(*edge, mass=19.9) == []
    assert on_top(*edge, mass=20.1) != []
    assert on_top(*edge, kind="clip") == on_top(*edge, kind="hanger") == []
    assert on_top(*edge, kind="bracket") != []
    assert on_top(*edge, findings=(STOP,)) == []
    assert on_top(*edge, findings=(replace(STOP, severity="note"),)) != []
    assert on_top(*edge, findings=(replace(STOP, where="lamp in loco"),)) != []
    # Where it rests on nothing, what carries it reaches nowhere.
    ((words, past),) = on_top(26.0, 20.0, z=FLOOR + 11)
    assert (words, past) == ("what carries lamp reaches 0.0 mm past its middle, and nothing says so", 0.0)


def test_what_would_tip_is_said() -> None:
    """Light parts may be taped; heavy ones have a strap or a finding; what nothing carries is a stop."""
    tape = Fastening("lamp", "wagon", (), (), 30.0)
    tips = ("lamp would tip, and nothing is said of it", 0.0)
    assert on_top(26.0, 20.0, steady=False) == [tips]
    assert on_top(26.0, 20.0, tape, steady=False) == [tips]
    assert on_top(26.0, 20.0, tape, steady=False, mass=19.0) == []
    assert on_top(26.0, 20.0, tape, tape, steady=False, mass=19.0) == [("lamp is taped 2 times", 0.0)]
    assert on_top(26.0, 20.0, steady=False, findings=(STOP,)) == []
    none = ("nothing carries lamp, and no stop says so", 0.0)
    assert on_top(26.0, 20.0, carried_by="nothing") == [none]
    assert on_top(26.0, 20.0, carried_by="nothing", findings=(STOP,)) == []
    assert on_top(26.0, 20.0, carried_by="nothing", findings=(replace(STOP, severity="caution"),)) == [none]


@pytest.mark.parametrize(("grams", "held"), [(68.0, True), (71.0, False)])
def test_studs_under_a_taped_load_bear_a_push(grams: float, held: bool) -> None:
    """On an open deck: two studs, 4 mm from either edge, under a middle 12.6 mm above: 8 N mm hold 0.63 N.

    With 5 in 100 and a hundredth to spare that is a push of 0.679 N, the weight of 69 g (g of ISO 80000-3).
    """
    tape = Fastening("lamp", "wagon", ("+x", "-x"), (), 200.0)
    push = sideways_n(replace(LAMP, mass_g=grams))
    assert push == pytest.approx(grams / 1000 * G, rel=1e-3)
    bears = 2 * 4 / 12.6
    words = f"{push:.2f} N push lamp; the studs under it bear {bears:.2f} N, and nothing is said"

    def pushed(*fastenings: Fastening, findings: tuple[Finding, ...] = (), top: float = 60.0) -> list[Any]:
        found = on_top(25.0, 21.0, *fastenings, mass=grams, load_top=top, findings=findings)
        return [one for one in found if "push lamp" in one[0]]

    assert pushed(tape) == ([] if held else [(words, pytest.approx(push - bears, abs=1e-3))])
    assert pushed(tape, top=0.0) == pushed(tape, findings=(STOP,)) == pushed() == []
    assert pushed(replace(tape, ways=())) == []


# -- straps that press, every way round --------------------------------------------------------------------


def around(box: Box, how: int) -> Box:
    """Mirror the wagon, 80 × 48 mm: along it (1), across (2); 4: the bar lies across, shifted to fit."""
    (x0, y0, z0), (x1, y1, z1) = box.low, box.high
    if how & 4:
        x0, y0, x1, y1 = y0 + 16, x0 - 8, y1 + 16, x1 - 8
    if how & 1:
        x0, x1 = 80 - x1, 80 - x0
    if how & 2:
        y0, y1 = 48 - y1, 48 - y0
    return Box((x0, y0, z0), (x1, y1, z1))


def pressed(how: int, *bricks: Piece, edge: float = 22.0, newtons: float = 1.0) -> list[str]:
    """What is said of a bar of 30 mm on a ledge, as in `test_pressed`, turned."""
    lies = around(Box((16, 20, REST), (46, 26, REST + 6)), how)
    bar = replace(LAMP, envelope=(Box((0, 0, 0), lies.size),), mass_g=newtons * 1000 / G)
    ledge = BodySolid(around(Box((8, 16, FLOOR), (edge, 32, REST)), how), "fixed", smooth=True)
    place = Place(pose_named("+x+y+z"), lies.low)
    turned = tuple(replace(one, box=around(one.box, how)) for one in bricks)
    old = placed_with(plan(), "lamp", place=place, part=bar, steady=False)
    made = built_with(old, fastenings=(Fastening("lamp", "wagon", ("+z",), turned),))
    built = wagon(made.built, ledge, floor_finish="studded")
    return [one.message for one in problems(check_fastenings, built, sites_of(built), ())]


@pytest.mark.parametrize("how", range(8))
def test_a_strap_presses_alike_in_every_direction(how: int) -> None:
    """Two studs hold 2.2 N: (31 − edge) / (edge − 16) at 20.69 mm; over the hanging end is in vain."""
    assert pressed(how, *strap()) == []
    assert pressed(how, *strap(24.0)) == pressed(how, *strap(40.0)) == [NO_PLACE]
    assert pressed(how, *strap(), edge=20.76) == []
    (found,) = pressed(how, *strap(), edge=20.65)
    assert "the strap over it holds 89%" in found
    assert pressed(how, *strap(), newtons=1.44) == []
    (found,) = pressed(how, *strap(), newtons=1.5)
    assert "the strap over it holds 88%" in found


@pytest.mark.parametrize("how", range(8))
@pytest.mark.parametrize("stack", [0, 1])
def test_a_strap_on_one_stack_turns_about_its_far_edge(how: int, stack: int) -> None:
    """One stud 4 mm from that edge against 1.5 times the weight, 12 mm from it, or 14 at the other.

    With a tenth to spare that is 4.4 N mm over 18, or 21, mm.
    """
    kept = [one for one in strap() if not one.name.startswith(("brick", "plate 1 × 1"))]
    kept = [*strap()[3 * stack : 3 * stack + 3], *kept]
    most = 1.1 * 4 / (1.5 * (12, 14)[stack])
    assert pressed(how, *kept, newtons=most - 0.003) == []
    (found,) = pressed(how, *kept, newtons=most + 0.004)
    assert "the strap over it holds 89%" in found or "the strap over it holds 90%" in found


@pytest.mark.parametrize("turned", [False, True])
def test_a_strap_from_either_side_reaches_past_the_middle(turned: bool) -> None:
    """The lamp's middle is at 23 mm: plates from one side up to 24 or 32, from the other to 24 or 16."""
    for stack, y, long, held in ((0, 8, 2, False), (0, 8, 3, True), (1, 24, 2, False), (1, 16, 3, True)):
        over = piece(f"plate 1 × {long}", (16, y, FLOOR + 9.6), (8, 8.0 * long, 3.2))
        bricks: tuple[Piece, ...] = (STACKS[stack], over)
        found = strapped(*(along(*bricks) if turned else bricks))
        assert found == ([] if held else [ON_NOTHING])


def test_a_strap_of_two_studs_width_bears_twice_as_much() -> None:
    """Two studs at either end, 11 and 13 mm from the middle: 2 N · 24 mm over 13, along or across."""
    stacks = [piece("brick 1 × 2", (16, y, FLOOR), (16, 8, 9.6)) for y in (8, 32)]
    over = piece("plate 2 × 4", (16, 8, FLOOR + 9.6), (16, 32, 3.2))
    bears = 2 * 24 / 13
    for newtons, held in ((3.8, True), (4.0, False)):
        lamp = replace(LAMP, mass_g=newtons / G * 1000)
        words = f"{newtons:.2f} N lift the strap over lamp; its studs bear {bears:.2f} N"
        assert strapped(*stacks, over, lamp=lamp) == ([] if held else [words])
        assert strapped(*along(*stacks, over), lamp=lamp) == ([] if held else [words])


def test_a_strap_lies_on_studs_not_on_smooth_bricks() -> None:
    """At the end where there is no stack bricks of the body are as high: with studs, and without."""
    lamp = replace(LAMP, mass_g=400 / G)
    for smooth, held in ((False, True), (True, False)):
        body = (BodySolid(STACKS[1].box, "fixed", smooth=smooth),)
        assert (strapped(STACKS[0], OVER_BOTH, lamp=lamp, body=body) == []) == held


@pytest.mark.parametrize("by", [0.0, 0.14, 0.16, 2.0])
@pytest.mark.parametrize("at_top", [True, False])
def test_a_pad_fills_the_gap_to_a_seventh_of_a_millimetre(by: float, at_top: bool) -> None:
    pad = strap()[6]
    low, high = (REST + 6, OVER - by) if at_top else (REST + 6 + by, OVER)
    thin = replace(pad, box=Box((*pad.box.low[:2], low), (*pad.box.high[:2], high)))
    found = pressed(0, *strap()[:6], thin, strap()[7])
    words = "between lamp, which would tip, and the strap over it 2.0 mm are empty"
    assert (words in found) == (by > 0.15)


# -- places that users fix ---------------------------------------------------------------------------------


def fixed(at: Vec, named: Vec | None, missing: float, axis: str, brick: bool = False) -> list[str]:
    """What is said of a row of a lamp that is fixed somewhere in the wagon and cannot lie there."""
    old = needs_with(plan(), "lamp", pinned=FixedPlace("wagon", "+x+y+z", at))
    placed = tuple(one for one in old.built.placements if one.need != "lamp")
    near = f"; offset [{', '.join(f'{v:.1f}' for v in named)}] is free, {missing:g} mm away" if named else ""
    reason = f"where lamp is fixed it runs into the wall{near}"
    row = FitRow("lamp", "lamp", "wagon", "cannot fit", reason, "tried", missing, axis, "+x+y+z")
    made: Plan = replace(built_with(old, placements=placed), fit=(row,), outcomes=())
    sheet = Tally()
    check_fit_rows(made, sheet)
    assert {one.what: one.count for one in sheet.report().checked}["fixed places"] == 1
    return [one.message for one in sheet.report().problems]


FREE = "is said to run into something where it is fixed; it does not"
TAKEN = "is not free at the place that is named as the nearest"


@pytest.mark.parametrize(
    ("at", "named", "missing", "axis", "words"),
    [
        # Inside it is free from x 8 to 72, y 8 to 40; the lamp is 6 mm long and wide.
        ((4.0, 20.0, FLOOR), (8.0, 20.0, FLOOR), 4.0, "length", []),
        ((70.0, 20.0, FLOOR), (66.0, 20.0, FLOOR), 4.0, "length", []),
        ((20.0, 5.5, FLOOR), (20.0, 8.0, FLOOR), 2.5, "width", []),
        ((20.0, 20.0, FLOOR - 3), (20.0, 20.0, FLOOR), 3.0, "height", []),
        ((4.0, 20.0, FLOOR), None, 4.0, "length", []),
        ((4.0, 20.0, FLOOR), (8.0, 20.0, FLOOR), 4.05, "length", []),
        ((4.0, 20.0, FLOOR), (8.0, 20.0, FLOOR), 4.06, "length",
         ["is 4.0 mm away from the nearest place, its figure says 4.06"]),
        ((4.0, 20.0, FLOOR), (8.0, 20.0, FLOOR), 4.0, "width",
         ["is 4.0 mm away from the nearest place, its figure says 4"]),
        ((4.0, 5.5, FLOOR), (8.0, 8.0, FLOOR), 2.5, "width",
         ["is 4.0 mm away from the nearest place, its figure says 2.5"]),
        ((4.0, 20.0, FLOOR), (7.5, 20.0, FLOOR), 3.5, "length", [TAKEN]),
        ((8.0, 20.0, FLOOR), (10.0, 20.0, FLOOR), 2.0, "length", [FREE]),
    ],
)  # fmt: skip
def test_where_a_part_is_fixed_it_runs_into_something(
    at: Vec, named: Vec | None, missing: float, axis: str, words: list[str]
) -> None:
    """The place named as the nearest is free, and as far away as is told, along the axis that is told."""
    assert fixed(at, named, missing, axis) == words


# -- resistors ---------------------------------------------------------------------------------------------

E24 = (1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2,
       6.8, 7.5, 8.2, 9.1)  # fmt: skip
"""IEC 60063."""


def test_the_series_is_that_of_the_standard() -> None:
    assert series() == pytest.approx([one * 10**power for power in range(8) for one in E24])


@pytest.mark.parametrize("ohm", [300.0, 300.0 * (1 + 0.9e-6)])
def test_a_value_is_told_to_a_millionth(ohm: float) -> None:
    assert problems(check_resistors, lit(replace(RIGHT, ohm=ohm)).built) == ()
    off = problems(check_resistors, lit(replace(RIGHT, ohm=300.0 * (1 + 1.2e-6))).built)
    assert [one.message for one in off] == ["300 Ω is no value of series E24"]


@pytest.mark.parametrize(
    ("off", "told"), [(0.0009, False), (-0.0009, False), (0.0012, True), (-0.0012, True)]
)
@pytest.mark.parametrize("field", ["power_w", "current_ma"])
def test_heat_and_current_are_told_to_a_thousandth(field: str, off: float, told: bool) -> None:
    one = replace(RIGHT, rated_w=1.0, **{field: getattr(RIGHT, field) * (1 + off)})
    found = [p.message for p in problems(check_resistors, lit(one).built)]
    assert ["is said to turn" in message for message in found] == [True] * told


@pytest.mark.parametrize(
    ("forward", "own", "most_ma", "ohm"),
    [
        (2.0, 25.0, 10.0, 300.0),
        (2.0, 0.0, 10.0, 300.0),  # just as much as it bears
        (2.0, 0.0, 9.99, 330.0),
        (2.0, 0.0, 10.01, 300.0),
        (0.0, 0.0, 5000.0, 1.0),  # the first of the series: there is none below it
        (0.0, 4.5, 1000.0, 1.0),
        (1.8, 0.0, 20.0, 160.0),
        (4.9, 0.0, 50.0, 2.0),
    ],
)
def test_the_least_value_of_the_series_that_holds_the_current(
    forward: float, own: float, most_ma: float, ohm: float
) -> None:
    """5 V less the drop, over what it resists; the value below lets more through than the part bears."""
    lamp = replace(LAMP, electrical=(SeriesResistor(forward, own, most_ma, "lead"),))
    values = [one * 10**power for power in range(4) for one in E24]
    place = min(range(len(values)), key=lambda n: abs(values[n] - ohm))

    def told(n: int) -> list[str]:
        value = values[n]
        flows = (5 - forward) / (value + own)
        one = replace(RIGHT, ohm=value, current_ma=1000 * flows, power_w=flows**2 * value, rated_w=1e3)
        return [p.message for p in problems(check_resistors, lit(one, lamp=lamp).built)]

    assert told(place) == []
    if place and own + ohm > 2 * (5 - forward) / most_ma:
        assert any("are the most" in one for one in told(place - 1))
    if 1000 * (5 - forward) / (ohm + own) < 0.9998 * most_ma:  # where it is just the most, either may do
        assert any("would do as well" in one for one in told(place + 1))


def test_resistors_go_with_outputs_of_a_board_alone() -> None:
    """Pins that are driven by level or pulses; each net by itself; what has no place needs none yet."""
    for wants, needed in ((("output",), True), (("pwm",), True), (("input",), False), ((), False)):
        pins = tuple(replace(one, wants=frozenset(wants)) if one.name == "IN" else one for one in LAMP.pins)
        made = lit(RIGHT, lamp=replace(DIODE, pins=pins))
        found = [one.message for one in problems(check_resistors, made.built)]
        assert found == ([] if needed else ["has a resistor in light that nothing asks for"])
    lost = lit(RIGHT)
    lost = built_with(lost, placements=tuple(one for one in lost.built.placements if one.need != "lamp"))
    assert [one.message for one in problems(check_resistors, lost.built)] == [
        "has a resistor in light that nothing asks for"
    ]
    # A net without a board first, and an end that needs none before one that does.
    old = lit(RIGHT)
    light = next(net for net in old.built.train.nets if net.name == "light")
    apart = Net("apart", "signal", (PinRef("eye", "IN"), PinRef("lamp", "IN")))
    nets = (apart, replace(light, joins=(PinRef("eye", "IN"), *light.joins)))
    made = train_with(old, nets=nets)
    sheet = Tally()
    check_resistors(made.built, sheet)
    assert sheet.report().problems == ()
    assert {one.what: one.count for one in sheet.report().checked} == {"resistors in series": 1}
