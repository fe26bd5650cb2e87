"""What loads and additions bear, in closed form: moments about feet, tape, jolts, and the words of each."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from fitplan.checks.on_additions import added_to_badly, borne_sideways_n, told_where
from fitplan.checks.support import SupportSettings, check_support, tape_needed
from fitplan.checks.toppling import Toppling, foot_of, topples
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding
from fitplan.model.needed import Need
from fitplan.model.operation import Running, Track
from fitplan.model.part import Access, Clearance, Mount
from fitplan.model.placed import NOTHING, Fastening, Piece, Placement, Shelf, ShelfKind
from fitplan.model.solids import Box, Place, Vec, pose_named
from fitplan.model.vehicle import BodySolid
from fitplan.model.wired import Harness
from fitplan.units import STUD_HEIGHT
from tests.checks.test_support import FLOOR, deck
from tests.packing.small_trains import block, train_of

MOUNTED = Mount()
G = 9.80665


def laid(
    size: Vec = (20.0, 20.0, 20.0), at: Vec = (40.0, 14.0, FLOOR), shelf: Shelf | None = None,
    mass: float = 72.0, held: tuple[Fastening, ...] = (), steady: bool = True, by: str = "the body",
    more: tuple[BodySolid, ...] = (), mount: Mount = MOUNTED, running: Running | None = None,
    track: Track | None = None, pose: str = "+x+y+z",
) -> tuple[BuiltTrain, Placement]:  # fmt: skip
    """One block on an open deck."""
    made = block("bank", size, mass_g=mass, mount=mount)
    train = train_of((deck(*more),), (Need("bank", (made,)),))
    train = replace(train, running=running or train.running, track=track or train.track)
    one = Placement("bank", made, "v", Place(pose_named(pose), at), by, shelf, steady)
    return BuiltTrain(train, (one,), Harness(), (), fastenings=held), one


# -- pushed sideways on an addition ------------------------------------------------------------------------


def borne(kind: ShelfKind, studs: int, *pieces: Piece, lift: float = 30.0) -> float | None:
    """A block of 20 mm whose middle lies so high over the deck, on an addition."""
    _, one = laid(at=(40.0, 14.0, FLOOR + lift - 10.0), shelf=Shelf(kind, pieces, studs))
    return borne_sideways_n(one)


def piece(name: str, *corners: float) -> Piece:
    x0, y0, z0, x1, y1, z1 = corners
    return Piece(name, Box((x0, y0, FLOOR + z0), (x1, y1, FLOOR + z1)))


@pytest.mark.parametrize(("wide", "deep"), [(16.0, 16.0), (8.0, 24.0), (24.0, 8.0)])
@pytest.mark.parametrize("studs", [1, 4])
def test_a_stack_bears_its_studs_over_its_narrow_side(wide: float, deep: float, studs: int) -> None:
    """Moment about the near edge: studs of 1 N in the middle, half the side away, over the height."""
    stack = piece("brick", 40, 14, 0, 40 + wide, 14 + deep, 9.6)
    top = piece("plate", 30, 10, 9.6, 90, 50, 12.8)
    pad = piece("pad", 30, 10, -5, 90, 50, 0)
    bore = borne("plates", studs, pad, stack, top)
    assert bore == pytest.approx(min(studs, studs * min(wide, deep) / 2 / 30.0))
    # So low that the studs would shear before it turns: no more than they hold.
    assert borne("plates", studs, stack, lift=1.0) == pytest.approx(studs)


def test_what_hangs_is_held_at_its_upper_end() -> None:
    """The stack at the roof counts, and the height from there: 60 − 30 mm."""
    roof = piece("brick", 40, 14, 50, 48, 30, 60)
    below = piece("plate", 20, 14, 46, 60, 30, 49.2)
    assert borne("hanger", 2, below, roof) == pytest.approx(2 * 4.0 / 30.0)


@pytest.mark.parametrize("turned", [False, True])
def test_a_bridge_stands_on_both_its_ends(turned: bool) -> None:
    """Along it the far end lifts first: 1 N a stud times 60 and 4 mm; across it only 4 mm each."""

    def at(x0: float, y0: float, z0: float, x1: float, y1: float, z1: float, name: str) -> Piece:
        return piece(name, *((y0, x0, z0, y1, x1, z1) if turned else (x0, y0, z0, x1, y1, z1)))

    for x in (0, 16):
        plate = at(x, 8, 20, x + 64, 16, 23.2, "plate")
        left, right = at(x, 8, 0, x + 8, 16, 20, "brick"), at(x + 56, 8, 10, x + 64, 16, 20, "brick")
        middle = at(x + 20, 8, 23.2, x + 40, 16, 24.2, "pad")
        assert borne("bridge", 4, left, right, plate, middle) == pytest.approx(2 * 2 * 4.0 / 30.0)
    # Nearly square: across it twice 15.5 mm, along it 4 and 28.
    plate = at(0, 0, 20, 32, 31, 23.2, "plate")
    feet = (at(0, 0, 0, 8, 31, 20, "brick"), at(24, 0, 0, 32, 31, 20, "brick"))
    assert borne("bridge", 2, *feet, plate, lift=40.0) == pytest.approx(31 / 40.0)
    plate = at(0, 0, 20, 32, 64, 23.2, "plate")  # the longer side of a plate is the way it bridges
    feet = (at(0, 0, 5, 32, 8, 20, "brick"), at(0, 56, 5, 32, 64, 20, "brick"))
    assert borne("bridge", 2, *feet, plate, lift=45.0) == pytest.approx(2 * 16 / 40.0)


@pytest.mark.parametrize(("studs", "told"), [(1, True), (2, True), (3, False)])
def test_a_push_that_studs_do_not_bear_is_told_to_a_hundredth(studs: int, told: bool) -> None:
    """Nothing close on one side, stuck by tape: 72 g push with 0.71 N; a stud on 7 by 16 mm bears 0.27."""
    stack = piece("brick", 40, 14, 0, 47, 30, 9.6)
    built, one = laid(at=(40.0, 14.0, FLOOR + 3.0), shelf=Shelf("plates", (stack,), studs))
    tape = Fastening("bank", "v", ("+x",), tape_mm=20.0)
    found = [each for each in added_to_badly(built, one, [tape], heavy=True) if each.unit == "N"]
    bears = studs * 3.5 / 13.0
    assert bool(found) is told is (bears < 0.072 * G)
    for each in found:
        assert (each.figure, each.limit) == (round(bears, 2), round(0.072 * G, 2))


@pytest.mark.parametrize(("mass", "told_"), [(20.0, False), (20.1, True)])
def test_what_carries_little_past_the_middle_is_told_of_heavy_parts(mass: float, told_: bool) -> None:
    """A plate that reaches 1 mm past the middle of a block on it."""
    plate = piece("plate", 40, 14, 0, 51.04, 34, 3.2)
    shelf = Shelf("plates", (plate,), 4)
    found = told("mm", at=(40.0, 14.0, FLOOR + 3.2), shelf=shelf, mass=mass)
    assert [each.figure for each in found if "past its middle" in each.message] == ([1.0] if told_ else [])


def test_what_lies_on_studs_touches_the_body_alone() -> None:
    """The height of a stud over bricks counts as touching, over another part it does not."""
    built, one = laid((20.0, 20.0, 20.0), at=(40.0, 14.0, FLOOR + STUD_HEIGHT))
    assert foot_of(built, one).low == pytest.approx((40.0, 14.0, FLOOR + STUD_HEIGHT))
    ledge = BodySolid(Box((50, 14, FLOOR), (60, 34, FLOOR + 9.6)), "fixed")
    high, lies = laid((20.0, 20.0, 20.0), at=(40.0, 14.0, FLOOR + 9.6 + STUD_HEIGHT), more=(ledge,))
    foot = foot_of(high, lies)
    assert (foot.low[0], foot.high[0]) == (50.0, 60.0)
    other = block("other", (10.0, 20.0, 9.6))
    under = Placement("other", other, "v", Place(pose_named("+x+y+z"), (50.0, 14.0, FLOOR)), "the body")
    plain, lies = laid((20.0, 20.0, 20.0), at=(40.0, 14.0, FLOOR + 9.6 + STUD_HEIGHT))
    foot = foot_of(replace(plain, placements=(lies, under)), lies)
    assert (foot.low[0], foot.high[0]) == (40.0, 60.0)  # touching nothing, its whole underside
    lies = replace(lies, place=Place(pose_named("+x+y+z"), (40.0, 14.0, FLOOR + 9.6)))
    foot = foot_of(replace(plain, placements=(lies, under)), lies)
    assert (foot.low[0], foot.high[0]) == (50.0, 60.0)


def test_without_studs_nothing_is_reckoned() -> None:
    assert borne("pad", 0, piece("pad", 40, 14, 0, 60, 34, 2)) is None
    _, one = laid()
    assert borne_sideways_n(one) is None


# -- what must be told of a part so that a plate goes over it ----------------------------------------------


def finger(name: str, *, needed: str = "access") -> Clearance:
    return Clearance(name, "finger", Box((-10, 4, 4), (0, 10, 10)), needed)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("access", "rooms", "told"),
    [
        ((Access("button", "switch", "-x", True),), (), "where button of bank is"),
        ((Access("button", "switch", "-x", False),), (), ""),
        ((Access("lid", "cells", "-x", True),), (), ""),
        ((Access("button", "switch", "-z", True),), (), ""),
        ((Access("button", "switch", "-x", True),), (finger("room"),), ""),
        ((Access("button", "switch", "+x", True),), (finger("room"),), "where button of bank is"),
        (
            (Access("button", "switch", "-x", True), Access("port", "socket", "+y", True)),
            (),
            "where button and port of bank are",
        ),
    ],
)
def test_where_a_button_is_must_be_told(
    access: tuple[Access, ...], rooms: tuple[Clearance, ...], told: str
) -> None:
    """Of what is used every day on a side or on top, as long as nobody says where on it; not of cells."""
    _, one = laid()
    said = told_where(replace(one, part=replace(one.part, access=access, clearances=rooms)))
    assert told in said
    assert bool(said) is bool(told)
    if said:
        assert ("until then its whole side" in said) is (len(access) == 1)
        assert ("until then their whole side" in said) is (len(access) == 2)


def test_a_side_is_where_the_part_has_it_as_it_lies() -> None:
    """On its head a button on top looks down: nothing could go under it anyway."""
    button = (Access("button", "switch", "+z", True),)
    for pose, told in (("+x+y+z", True), ("+x-y-z", False)):
        _, one = laid(pose=pose)
        assert bool(told_where(replace(one, part=replace(one.part, access=button)))) is told


# -- toppling ----------------------------------------------------------------------------------------------

STILL = Running(speed=100.0, deceleration=10.0)
STRAIGHT = Track(radius=0.0)


def toppling(**changes: object) -> list[Toppling]:
    built, one = laid(**{"running": STILL, "track": STRAIGHT, **changes})  # type: ignore[arg-type]
    return list(topples(built, one))


@pytest.mark.parametrize(
    ("tall", "ways"),
    [(33.2, []), (33.4, ["+y", "-y"]), (99.9, ["+y", "-y"]), (100.1, ["+x", "-x", "+y", "-y"])],
)
def test_a_jolt_of_three_tenths_of_g(tall: float, ways: list[str]) -> None:
    """A foot of 30 by 10 mm: e/h is 0.3 where the middle lies 16.7 mm up, along it 50 mm."""
    found = toppling(size=(30.0, 10.0, tall))
    assert sorted(one.way for one in found) == sorted(ways)
    for one in found:
        half = 15.0 if one.way[1] == "x" else 5.0
        assert one.at_g == pytest.approx(half / (tall / 2))
        assert (one.foot, one.height, one.jolt_g) == pytest.approx((2 * half, tall / 2, 0.3))


def test_tape_doubles_it_and_a_strap_holds() -> None:
    tape = Fastening("bank", "v", (), tape_mm=20.0)
    for tall, taped in ((66.5, []), (66.8, ["+y", "-y"])):
        found = toppling(size=(30.0, 10.0, tall), held=(tape,))
        assert [one.way for one in found] == taped
        assert all(one.at_g == pytest.approx(2 * 5.0 / (tall / 2)) for one in found)
        others = (replace(tape, need="other"),)
        assert len(toppling(size=(30.0, 10.0, tall), held=others)) == 2
        assert toppling(size=(30.0, 10.0, tall), held=(replace(tape, ways=("+z",)),)) == []
    assert toppling(size=(30.0, 10.0, 60.0), steady=False) == []
    assert toppling(size=(30.0, 10.0, 60.0), mount=Mount(needs_support=False)) == []
    for kind, told in (("clip", 0), ("hanger", 0), ("pad", 2)):
        shelf = Shelf(kind, (piece("pad", 40, 14, 0, 70, 24, 0),), 0)  # type: ignore[arg-type]
        assert len(toppling(size=(30.0, 10.0, 60.0), shelf=shelf)) == told


def test_what_running_asks() -> None:
    """The brake and the gradient's sine along the train; 1.5 times the speed of the curve across it."""
    brake = replace(STILL, deceleration=3000.0)
    for tall, told in ((59.0, 0), (62.0, 2)):  # 0.306 + 0.2/√1.04 = 0.502 g; half of 30 over 29.9
        found = [
            one
            for one in toppling(
                size=(30.0, 30.0, tall), running=brake, track=Track(0.0, gradient_percent=20.0)
            )
            if one.way[1] == "x"
        ]
        assert len(found) == told
        for one in found:
            assert one.running_g == pytest.approx(3000.0 / 9806.65 + 0.2 / math.sqrt(1.04))
            assert one.jolt_g == one.running_g
    fast = replace(STILL, speed=600.0)
    asks = (1.5 * fast.curve_speed) ** 2 / 200.0 / 9806.65
    for tall, told in ((30.0 / asks - 1, 0), (30.0 / asks + 1, 2)):
        found = toppling(size=(30.0, 30.0, tall), running=fast, track=Track(200.0))
        assert len([one for one in found if one.way[1] == "y"]) == told
        assert all(one.running_g == pytest.approx(asks) for one in found if one.way[1] == "y")
    flat = toppling(size=(30.0, 10.0, 40.0), running=fast)
    assert [one.running_g for one in flat] == [0.0, 0.0]


@pytest.mark.parametrize("gap", [0.9, 1.0, 4.0, 7.5, 7.9, 8.1])
@pytest.mark.parametrize("tall", [6.4, 25.6, 35.2, 44.8])
def test_bricks_close_beside_catch_it(gap: float, tall: float) -> None:
    """Leaning about its foot by ⅓ it meets a brick where ``gap ≤ z·sin``; beyond 8 mm nothing is near."""
    brick = BodySolid(Box((40, 24 + gap, FLOOR), (70, 24 + gap + 8, FLOOR + tall)), "fixed")
    ways = [one.way for one in toppling(size=(30.0, 10.0, 30.0), more=(brick,), at=(40.0, 14.0, FLOOR))]
    assert ways == []  # 5 over 15 is more than 0.3
    ways = [one.way for one in toppling(size=(30.0, 10.0, 40.0), more=(brick,))]
    heights = [2.0 + i * 6.0 for i in range(7)]  # seven rays from 0.05 to 0.95 of 40 mm
    sine = 0.25 / math.sqrt(1 + 0.25**2)
    caught = gap <= 8.0 and any(z < tall and gap <= z * sine for z in heights)
    assert ways == (["-y"] if caught else ["+y", "-y"])


# -- what is told ------------------------------------------------------------------------------------------


def told(unit: str, **changes: object) -> list[Finding]:
    built, _ = laid(**{"running": STILL, "track": STRAIGHT, **changes})  # type: ignore[arg-type]
    return [one for one in check_support(built, SupportSettings()).findings if one.unit == unit]


@pytest.mark.parametrize(
    ("mass", "tape", "severities"),
    [
        (20.0, False, ["note", "note"]),
        (20.1, False, ["caution", "caution"]),
        (20.0, True, []),  # light, and stuck
        (20.1, True, []),  # stuck: 0.5 g
    ],
)
def test_what_topples_is_told_by_its_mass(mass: float, tape: bool, severities: list[str]) -> None:
    """A stop only where running asks for as much already; what is light and stuck is no word worth."""
    held = (Fastening("bank", "v", ("+x", "-x", "+y", "-y"), tape_mm=20.0),) if tape else ()
    found = told("g", size=(30.0, 10.0, 40.0), mass=mass, held=held)
    assert [one.severity for one in found] == severities
    assert all((one.figure, one.limit, bool(one.add)) == (0.25, 0.3, mass > 20.0) for one in found)
    assert all("stands 40 mm high on a foot 10 mm wide: at 0.25 g it topples" in one.message for one in found)


def test_where_a_button_is_is_asked_for_heavy_loads_alone() -> None:
    """What topples, and what would tip: a strap is looked for where one knows where the button is."""
    button = (Access("button", "switch", "-x", True),)
    for mass, asked in ((19.0, False), (21.0, True)):
        for steady in (True, False):
            built, one = laid((30.0, 10.0, 40.0), mass=mass, steady=steady, running=STILL, track=STRAIGHT)
            pressed = replace(one, part=replace(one.part, access=button))
            found = check_support(replace(built, placements=(pressed,)), SupportSettings()).findings
            words = [each.remedy for each in found if each.unit == "g"]
            assert words
            assert all(("where button of bank is" in each) is asked for each in words)


def test_what_running_topples_stops_heavy_loads_alone() -> None:
    hard = replace(STILL, deceleration=0.6 * 9806.65)
    for mass, severity in ((19.0, "note"), (21.0, "stop")):
        found = told("g", size=(20.0, 40.0, 40.0), mass=mass, running=hard)
        assert {one.severity for one in found} == {severity}
        assert all("and running asks for 0.60 g" in one.message for one in found)
    # Light, and higher than tape holds it: nothing more can be asked of tape.
    tape = (Fastening("bank", "v", (), tape_mm=20.0),)
    tall = {"size": (10.0, 10.0, 80.0), "held": tape}
    assert told("g", mass=19.0, **tall) == []
    assert len(told("g", mass=21.0, **tall)) == 4


@pytest.mark.parametrize(
    ("mass", "mm"), [(0.1, 5.0), (20.0, 10.0), (40.0, 20.0), (100.0, 50.0), (106.0, 55.0)]
)
def test_tape_for_a_mass(mass: float, mm: float) -> None:
    """57 cm² a kilogram, in strips of 12 mm, to the next 5 mm (from memory)."""
    _, one = laid(mass=mass)
    assert tape_needed(one) == mm == math.ceil(mass * 5.7 / 12 / 5) * 5


@pytest.mark.parametrize(
    ("ways", "tape", "mass", "steady", "words"),
    [
        (("+x", "-x"), 0.0, 72.0, True, "kept from sliding forwards, backwards by"),
        (("+x", "+z"), 0.0, 72.0, True, "kept from sliding forwards and tipping by"),
        (("+z",), 0.0, 72.0, True, "kept from tipping by"),
        ((), 20.0, 10.0, False, "kept from tipping by 20 mm of double-sided tape under it"),
        (("+x",), 20.0, 10.0, False, "kept from sliding forwards and tipping by"),
        (("+x",), 20.0, 10.0, True, "kept from sliding forwards by"),
        (("+x",), 20.0, 72.0, False, "kept from sliding forwards by"),
    ],
)
def test_what_each_fastening_keeps_from(
    ways: tuple[str, ...], tape: float, mass: float, steady: bool, words: str
) -> None:
    """Tape keeps a light part that would tip from tipping; a strap any."""
    bricks = () if tape else (Piece("brick 1 x 2", Box((62, 14, FLOOR), (70, 30, FLOOR + 9.6))),)
    held = Fastening("bank", "v", ways, bricks, tape)  # type: ignore[arg-type]
    found = told("mm", mass=mass, steady=steady, held=(held,))
    (one,) = (one for one in found if "is kept from" in one.message)
    assert words in one.message
    assert f"bank ({mass:.0f} g)" in one.message
    assert f"at 1 g sideways, {mass / 1000 * G:.1f} N push it" in one.message
    beside = bool(bricks) and "+z" not in ways
    assert one.figure == (2.0 if beside else 0.0)
    assert ("press the bricks on last" in one.remedy) is beside
    assert ("is pressed down there" in one.message) is ("+z" in ways and not steady)


def test_a_gap_is_that_of_the_farthest_brick() -> None:
    """Beside it 2 mm off along, 5 mm across, on either side; overlapping in height."""

    def brick(x: float, y: float) -> Piece:
        return Piece("brick 1 x 1", Box((x, y, FLOOR), (x + 8, y + 8, FLOOR + 9.6)))

    for bricks, figure in (
        ((brick(62, 14),), 2.0),
        ((brick(62, 14), brick(40, 39)), 5.0),
        ((brick(29, 14),), 3.0),
        ((brick(62.04, 14),), 2.0),
    ):
        held = Fastening("bank", "v", ("+x", "+y"), bricks)
        (one,) = (one for one in told("mm", held=(held,)) if "is kept from" in one.message)
        assert one.figure == figure


@pytest.mark.parametrize(
    ("mass", "by", "severity"),
    [(20.0, "the body", "caution"), (20.5, "the body", "stop"), (5.0, NOTHING, "stop")],
)
def test_what_would_tip_is_told(mass: float, by: str, severity: str) -> None:
    """Heavier than 20 g a stop, lighter a caution; with nothing under it always a stop."""
    found = [one for one in told("g", mass=mass, by=by, steady=False) if "topples" not in one.message]
    (one,) = found
    assert (one.severity, one.figure, one.limit) == (severity, mass, 0.0 if by == NOTHING else 20.0)
    assert bool(one.add) is (by != NOTHING)
    assert ("nothing can be built up to it" in one.message) is (by == NOTHING)
    tape = Fastening("bank", "v", (), tape_mm=20.0)
    strap = Fastening(
        "bank", "v", ("+z",), (Piece("plate 1 x 6", Box((40, 14, FLOOR + 20), (60, 34, FLOOR + 23.2))),)
    )
    for held, left in ((tape, severity == "stop"), (strap, False)):
        found = [
            one
            for one in told("g", mass=mass, by=by, steady=False, held=(held,))
            if "topples" not in one.message
        ]
        assert bool(found) is left
