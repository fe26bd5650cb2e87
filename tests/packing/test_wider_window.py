"""The least widening of a window, against every place on a lattice, and what is told of it."""

from __future__ import annotations

import itertools
import math
import random
from dataclasses import replace

import pytest

from fitplan.checks.places import widening
from fitplan.files.layers import DEFAULT_LEGEND, body_of_layers
from fitplan.model.needed import Need
from fitplan.model.part import Mount, Part
from fitplan.model.plan import Plan
from fitplan.model.solids import Box
from fitplan.model.vehicle import BodySolid, Layer, Opening, Removable, Vehicle, Window
from fitplan.model.wider_window import WiderWindow
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.wider_window import wider_window
from fitplan.planning.run import plan_train
from fitplan.report.drawings.drawing import Path, Rect
from fitplan.report.drawings.end_view import window_drawings
from fitplan.units import PLATE, STUD
from fitplan.verify import verify
from tests.packing.small_trains import block, hollow, train_of

LONG, WIDE, WALL = 9, 6, 7
"""Studs long and wide, and plates of wall between a plate of floor and one of roof."""
BOX_TOP = (5 + 1 + WALL) * PLATE
"""Underside of the roof above the rail, mm."""
STEP = 0.8
MEANINGS = {**DEFAULT_LEGEND, "g": ("removable", "grille")}


def cab(gap: tuple[int, int, int, int], grille: bool = False) -> Vehicle:
    """Return a cab of layers with a window in its front wall, told by its first and last stud and plate."""
    y0, y1, k0, k1 = gap
    base = 5 * PLATE
    whole = ("#" * LONG,) * WIDE
    layers = [Layer("floor", base, 1, whole)]
    for k in range(WALL):
        rows = []
        for j in reversed(range(WIDE)):
            side = j in (0, WIDE - 1)
            row = "#" * LONG if side else "#" + "." * (LONG - 2) + "#"
            if y0 <= j < y1 and k0 <= k < k1:
                row = row[:-1] + ("g" if grille else ".")
            rows.append(row)
        layers.append(Layer(f"wall {k}", base + PLATE * (1 + k), 1, tuple(rows)))
    layers.append(Layer("roof", base + PLATE * (1 + WALL), 1, whole))
    low = base + PLATE
    corner = ((LONG - 1) * STUD, y0 * STUD, low + k0 * PLATE)
    window = Window("pane", Box(corner, (LONG * STUD, y1 * STUD, low + k1 * PLATE)), "+x")
    plain = hollow("cab", LONG, WIDE, WALL, kind="loco", windows=(window,))
    return replace(
        plain,
        layers=tuple(layers),
        body=body_of_layers(layers, MEANINGS),
        characters=tuple((one, " ".join(word for word in two if word)) for one, two in MEANINGS.items()),
        removables=(Removable("grille", 1.0),) if grille else (),
    )


def eye(size: tuple[float, float, float], lens: tuple[float, float, float, float]) -> Part:
    """Return a block that looks forwards out of a rectangle (y, z, width, height) of its front."""
    y, z, w, h = lens
    mount = Mount(turnable=False, looks="+x", lens=Box((size[0], y, z), (size[0], y + w, z + h)))
    return block("eye", size, mount=mount)


def fewest(vehicle: Vehicle, window: Window, part: Part) -> int:
    """Return how many cells of wall the best place on a lattice of 0.8 mm overlaps or looks through."""
    base = vehicle.base
    solid = {
        (i, j, k)
        for k, layer in enumerate(vehicle.layers)
        for j, row in enumerate(reversed(layer.rows))
        for i, letter in enumerate(row)
        if letter == "#"
    }
    lens = part.mount.lens
    assert lens is not None
    sx, sy, sz = part.bounds.size
    steps = [
        (math.floor((hull - size) / STEP + 1e-6), low)
        for hull, size, low in zip(vehicle.hull.size, (sx, sy, sz), vehicle.hull.low, strict=True)
    ]

    def cells(low: float, high: float, pitch: float, start: float) -> range:
        return range(math.floor((low - start) / pitch + 1e-6), math.ceil((high - start) / pitch - 1e-6))

    best = 10**6
    ats = [[low + n * STEP for n in range(count + 1)] for count, low in steps]
    grids = ((sx, STUD, 0.0), (sy, STUD, 0.0), (sz, PLATE, base))
    spots = [
        [(at, cells(at, at + size, pitch, start)) for at in line]
        for line, (size, pitch, start) in zip(ats, grids, strict=True)
    ]
    for (x, xs), (y, ys), (z, zs) in itertools.product(*spots):
        front = x + lens.low[0]
        if not window.box.low[0] - 1e-6 <= front <= window.box.high[0] + 1e-6:
            continue
        seen = [(at + lens.low[axis], at + lens.high[axis]) for axis, at in ((1, y), (2, z))]
        edges = [(window.box.low[axis], window.box.high[axis]) for axis in (1, 2)]
        if any(b <= c + 1e-6 or a >= d - 1e-6 for (a, b), (c, d) in zip(seen, edges, strict=True)):
            continue
        if 0 in zs:
            continue  # the floor stays
        view = itertools.product((LONG - 1,), cells(*seen[0], STUD, 0.0), cells(*seen[1], PLATE, base))
        asked = {*itertools.product(xs, ys, zs), *view}
        best = min(best, len(asked & solid))
    return best


@pytest.mark.parametrize("seed", range(6))
def test_the_least_widening_equals_every_place_on_a_lattice(seed: int) -> None:
    """Windows and parts in multiples of 0.8 mm: what is proposed takes out no brick more than it must."""
    rng = random.Random(seed)
    y0, k0 = rng.randint(1, 3), rng.randint(1, 3)
    gap = (y0, y0 + rng.randint(1, 2), k0, k0 + rng.randint(1, 3))
    vehicle = cab(gap)
    wide, high = rng.randint(25, 44) * STEP, rng.randint(9, 20) * STEP
    lens_w, lens_h = rng.randint(12, 24) * STEP, rng.randint(5, 9) * STEP
    lens = ((wide - lens_w) // (2 * STEP) * STEP, 0.0, lens_w, lens_h)
    part = eye((rng.randint(9, 15) * STEP, wide, high), lens)
    need = Need("eye", (part,), looks=("cab", "pane"))
    packer = Packer({"cab": vehicle})
    wanted = Wanted(need, part)
    offer = wider_window(packer, "cab", wanted)
    best = fewest(vehicle, vehicle.windows[0], part)
    assert offer is not None
    assert (offer.size, offer.least) == (best, best)
    assert sum(round(box.volume / (STUD * STUD * PLATE)) for box in offer.out) == best
    assert not offer.alone


def _planned(gap: tuple[int, int, int, int], *, grille: bool = False) -> tuple[Plan, WiderWindow]:
    part = eye((9.6, 32.0, 12.8), (2.0, 3.2, 28.0, 8.0))
    need = Need("eye", (part,), looks=("cab", "pane"))
    plan = plan_train(train_of((cab(gap, grille),), (need,)))
    (offer,) = plan.wider_windows
    return plan, offer


def test_a_plan_that_lacks_a_place_says_what_to_take_out_and_how_it_looks_then() -> None:
    """A window of two studs, a lens of 28 mm: two studs more, and a plate over the gap, held at both ends."""
    plan, offer = _planned((2, 4, 1, 4))
    assert (offer.size, offer.least, offer.rests_on_one_side) == (6, 6, False)
    # Four studs wide then, with a stud to rest on at either end.
    assert offer.outline.size[1:] == (32.0, pytest.approx(3 * PLATE))
    assert [box.size for box in offer.plates] == [(8.0, 48.0, pytest.approx(PLATE))]
    (stop,) = [one for one in plan.findings if one.subject == "places"]
    assert stop.remedy == widening(offer)
    for words in ("6 studs × plates in all: no fewer will do", "a plate 1 × 6", "1 × 1 stud, 3 plates high"):
        assert words in stop.remedy
    assert verify(plan).holds
    (drawing,) = window_drawings(plan)
    assert drawing.width == 2 * 48.0 + 14.0
    # Two boxes are hatched as it is, one plate is new afterwards.
    new = [shape for shape in drawing.shapes if isinstance(shape, Rect) and shape.pen.fill == "new"]
    gone = [s for s in drawing.shapes if isinstance(s, Rect) and s.pen.stroke == "stop"]
    assert [(round(one.w, 1), round(one.h, 1)) for one in new] == [(48.0, 3.2)]
    assert [(round(one.w, 1), round(one.h, 1)) for one in gone] == [(8.0, 9.6)] * 2
    assert any(isinstance(shape, Path) and shape.pen.stroke == "stop" for shape in drawing.shapes)


def test_a_grille_goes_too_and_bricks_beside_it() -> None:
    """A removable grille of two studs before a lens of 28 mm: it comes out, and a stud on either side."""
    _, offer = _planned((2, 4, 1, 4), grille=True)
    assert (offer.remove, offer.size, offer.least) == (("grille",), 6, 6)
    assert "take out the grille, 1 × 1 stud, 3 plates high of brick" in widening(offer)


def test_a_lid_over_the_gap_carries_itself() -> None:
    """A window up to the roof: where that lifts off no plate is missing; where it is built on one is."""
    part = eye((9.6, 32.0, 12.8), (2.0, 3.2, 28.0, 8.0))
    need = Need("eye", (part,), looks=("cab", "pane"))
    vehicle = cab((2, 4, WALL - 3, WALL))
    roof = Opening("roof", Box((0.0, 0.0, BOX_TOP), (LONG * STUD, WIDE * STUD, BOX_TOP + PLATE)), "+z")
    asked = {}
    for name, openings in (("lid", (roof,)), ("built on", ())):
        told = replace(vehicle, openings=openings)
        offer = wider_window(Packer({"cab": told}), "cab", Wanted(need, part))
        assert offer is not None
        asked[name] = ([box.size[1] for box in offer.plates], offer.rests_on_one_side)
    assert asked == {"lid": ([], False), "built on": ([48.0], False)}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"size": 5}, "tells 5 studs × plates; 6 go"),
        ({"least": 7}, "at least 7 go, and 6 do"),
        ({"part_id": "other"}, "is not what eye asks for"),
        ({"need": "nobody"}, "does not lack a place"),
        ({"out": (), "size": 0, "least": 0}, "would not be open as wide"),
    ],
)
def test_a_proposal_that_would_not_do_is_noticed(change: dict[str, object], words: str) -> None:
    """Counts, names and bricks of a proposal, each wrong in turn."""
    plan, offer = _planned((2, 4, 1, 4))
    wrong = replace(plan, wider_windows=(replace(offer, **change),))  # type: ignore[arg-type]
    told = [problem.message for problem in verify(wrong).problems]
    assert any(words in text for text in told), told


def test_of_a_body_without_layers_nothing_is_proposed() -> None:
    """Solids alone do not tell bricks."""
    window = Window("pane", Box((64.0, 16.0, 22.4), (72.0, 32.0, 32.0)), "+x")
    vehicle = hollow("cab", LONG, WIDE, WALL, windows=(window,))
    part = eye((9.6, 32.0, 12.8), (2.0, 3.2, 28.0, 8.0))
    need = Need("eye", (part,), looks=("cab", "pane"))
    assert wider_window(Packer({"cab": vehicle}), "cab", Wanted(need, part)) is None


def test_a_window_that_is_cut_by_a_solid_is_open_already() -> None:
    """The same window drawn as a free solid over a whole wall: what is open is not taken out again."""
    drawn, whole = cab((2, 4, 1, 4)), cab((2, 2, 1, 1))
    cut = replace(whole, windows=drawn.windows, body=(*whole.body, BodySolid(drawn.windows[0].box, "free")))
    part = eye((9.6, 32.0, 12.8), (2.0, 3.2, 28.0, 8.0))
    wanted = Wanted(Need("eye", (part,), looks=("cab", "pane")), part)
    offers = [wider_window(Packer({"cab": vehicle}), "cab", wanted) for vehicle in (drawn, cut)]
    assert offers[0] == offers[1]
    assert offers[1] is not None
    assert offers[1].size == 6


def test_a_brick_with_a_hole_in_it_goes_as_a_whole_one_does() -> None:
    """A wire hole through one of the bricks beside the window: what goes is the same, and it holds."""
    whole = cab((2, 4, 1, 4))
    low = whole.windows[0].box.low
    hole = BodySolid(Box((low[0], 9.6, low[2] + 0.6), (low[0] + 8.0, 14.4, low[2] + 2.4)), "free")
    holed = replace(whole, body=(*whole.body, hole))
    part = eye((9.6, 32.0, 12.8), (2.0, 3.2, 28.0, 8.0))
    need = Need("eye", (part,), looks=("cab", "pane"))
    plan = plan_train(train_of((holed,), (need,)))
    (offer,) = plan.wider_windows
    assert (offer.out, offer.size) == (_planned((2, 4, 1, 4))[1].out, 6)
    assert verify(plan).holds
    # Nothing but air is no brick that goes.
    air = Box((low[0] - 16.0, 16.0, low[2]), (low[0] - 8.0, 24.0, low[2] + 3.2))
    lying = replace(plan, wider_windows=(replace(offer, out=(*offer.out, air), size=7),))
    assert any("not all fixed bricks" in one.message for one in verify(lying).problems)


def test_a_window_with_a_pane_that_stays_is_not_opened_by_taking_bricks_out() -> None:
    """A pane behind its bricks shuts any widening; half a pane leaves what lies beside it."""
    part = eye((20.0, 20.0, 12.0), (2.0, 2.0, 16.0, 8.0))
    wanted = Wanted(Need("eye", (part,), looks=("cab", "pane")), part)
    bare = cab((2, 4, 2, 4))
    assert wider_window(Packer({"cab": bare}), "cab", wanted) is not None
    low = bare.windows[0].box.low[0]
    for across, opened in (((8.0, 40.0), False), ((8.0, 12.0), True)):
        pane = Box((low + 2.0, across[0], 19.2), (low + 4.0, across[1], 41.6))
        shut = replace(bare, body=(*bare.body, BodySolid(pane, "fixed")))
        offer = wider_window(Packer({"cab": shut}), "cab", wanted)
        assert (offer is not None) is opened
        if offer is not None:
            assert offer.outline.low[1] >= across[1] or offer.outline.high[1] <= across[0]


def test_a_window_that_is_told_smaller_than_its_gap_is_told_wider_and_nothing_goes() -> None:
    """A gap of four studs with a window of two in it, and a lens of 28 mm: the figures of the window go."""
    drawn, small = cab((1, 5, 1, 4)), cab((2, 4, 1, 4)).windows
    part = eye((9.6, 32.0, 12.8), (2.0, 3.2, 28.0, 8.0))
    need = Need("eye", (part,), looks=("cab", "pane"))
    plan = plan_train(train_of((replace(drawn, windows=small),), (need,)))
    (offer,) = plan.wider_windows
    assert (offer.out, offer.remove, offer.size) == ((), (), 0)
    assert offer.outline == drawn.windows[0].box
    (stop,) = [one for one in plan.findings if one.subject == "places"]
    assert "the box {from: [64, 8, 22.4], to: [72, 40, 32]}" in stop.remedy
    assert verify(plan).holds
    (drawing,) = window_drawings(plan)
    assert not any(isinstance(shape, Rect) and shape.pen.stroke == "stop" for shape in drawing.shapes)


def test_a_window_that_only_the_play_of_bricks_might_do_for_is_made_wider() -> None:
    """A lens of 16.1 mm in a window of 16: not decided as it is, and sure with a stud more."""
    part = eye((9.6, 24.0, 12.8), (4.0, 3.2, 16.1, 8.0))
    need = Need("eye", (part,), looks=("cab", "pane"))
    plan = plan_train(train_of((cab((2, 4, 1, 4)),), (need,)))
    assert plan.verdict == "not decided"
    (offer,) = plan.wider_windows
    assert offer.size > 0
    assert verify(plan).holds
