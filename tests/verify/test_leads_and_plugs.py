"""Leads as bought: plugs through ports, leads that parts come with, and the room for what is left over."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import OwnLeads
from fitplan.model.part import Clearance, Part
from fitplan.model.placed import Piece, Shelf
from fitplan.model.plugged import PLUG
from fitplan.model.solids import Box
from fitplan.model.train import TrainVehicle
from fitplan.model.wired import BoughtLead, Crossing, Leg, PairDrawnIn
from fitplan.verify.conductors import check_conductors
from fitplan.verify.leads import _holds, _slips_through
from tests.packing.small_trains import hollow

from .lies import placed_with, problems, wire_with
from .test_lies_in_what_is_bought import (
    BANK,
    BOARD,
    BOUGHT,
    FOLD,
    KEPT,
    LEAD,
    MINUS,
    OTHER,
    PLUS,
    SHORTENED,
    WIDE,
    cut_short,
    folded,
    led,
    of_leads,
)
from .two_vehicles import LAMP, plan

# -- plugs through ports: 8 mm of wall, but holes are drawn 2 mm deep, so that their depth is the least -----


def plugged(part: Part, *edges: float) -> Part:
    """A part whose lead has a plug of these edges; another room of its own is no plug."""
    rooms = (Clearance("button", "finger", Box((0, 0, 0), (30, 30, 30))),)
    if edges:
        x, y, z = edges
        rooms += (Clearance(PLUG, "plug", Box((0, 0, 0), (x, y, z))),)
    return replace(part, clearances=rooms)


def between_two(bank: Part, board: Part, rear: tuple[float, float], front: tuple[float, float]) -> BuiltTrain:
    """The lead from a bank in one wagon to a board in the one behind it."""
    made = led()
    wagons = []
    for name, sizes in (("wagon", {"rear hole": rear}), ("behind", {"front hole": front})):
        vehicle = hollow(name, 20, 6, 10)
        ports = tuple(
            replace(p, box=Box((0, 0, 0), (2, *sizes.get(p.name, (0.5, 0.5))))) for p in vehicle.ports
        )
        wagons.append(TrainVehicle(name, replace(vehicle, ports=ports)))
    placed = tuple(
        replace(one, part=bank if one.need == "bank" else board, vehicle=name)
        for one, name in zip(made.placements, ("wagon", "behind"), strict=True)
    )
    return replace(made, train=replace(made.train, vehicles=tuple(wagons)), placements=placed)


ACROSS = replace(
    PLUS,
    legs=(
        Leg("wagon", ((20, 15, 23), (0, 15, 23)), leaves="rear hole"),
        Leg("behind", ((160, 15, 23), (110, 15, 23)), enters="front hole"),
    ),
    end=replace(PLUS.end, vehicle="behind"),
)


@pytest.mark.parametrize(
    ("first", "second", "rear", "front", "goes"),
    [
        ((20, 8, 6), (20, 8, 6), (8, 6.4), (8, 6.4), True),
        ((20, 10, 7), (20, 8, 6), (8, 6.4), (8, 6.4), True),  # all of it comes from the bank
        ((20, 8, 6), (20, 10, 7), (8, 6.4), (8, 6.4), True),  # all of it comes from the board
        ((20, 10, 6), (20, 9, 6), (8, 6.4), (8, 6.4), False),
        ((20, 8, 7), (20, 8, 7), (8, 6.4), (8, 6.4), False),
        ((20, 8, 6.4), (20, 10, 7), (6.4, 8), (8, 6.4), True),  # just as large, either way up
        ((20, 8, 6.5), (20, 10, 7), (8, 6.4), (8, 6.4), False),
        ((20, 8.1, 6), (20, 10, 7), (8, 6.4), (8, 6.4), False),
        ((3, 20, 3), (6, 20, 6), (4, 4), (8, 6.4), True),  # each goes through its own, and they meet between
        ((6, 20, 6), (3, 20, 3), (4, 4), (8, 6.4), True),
        ((6, 20, 6), (7, 20, 7), (4, 4), (8, 6.4), False),
        ((6, 20, 6), (5, 20, 5), (4, 4), (8, 6.4), False),  # each through the other's alone
        ((3, 20, 3), (9, 20, 9), (4, 4), (2, 2), False),
        ((), (9, 20, 9), (4, 4), (4, 4), True),  # without a plug drawn it slips through
    ],
)
def test_a_lead_goes_through_ports_with_its_plugs_on(
    first: tuple[float, ...], second: tuple[float, ...], rear: Any, front: Any, goes: bool
) -> None:
    """The two smaller edges of a plug count, and those of a hole across its way; other holes do not."""
    built = between_two(plugged(BANK, *first), plugged(BOARD, *second), rear, front)
    assert _slips_through(built, ACROSS) == goes
    turned = replace(
        ACROSS,
        start=ACROSS.end,
        end=ACROSS.start,
        legs=tuple(Leg(g.vehicle, g.points[::-1], g.leaves, g.enters) for g in ACROSS.legs[::-1]),
    )
    assert _slips_through(built, turned) == goes
    words = "goes as it is through a port that its plug is too thick for"
    told = [
        one.message for one in of_leads(replace(built, harness=replace(built.harness, wires=(ACROSS, MINUS))))
    ]
    assert (words in told) == (not goes)


def test_what_has_no_socket_has_no_plug() -> None:
    """Ends at connectors, in the air and at bare pins go through any hole."""
    thick = plugged(BANK, 20, 9, 9)
    bare = replace(thick, pins=tuple(replace(one, socket="", joint="solder") for one in thick.pins))
    holes = ((4.0, 4.0), (4.0, 4.0))
    assert not _slips_through(between_two(thick, plugged(BOARD, 20, 9, 9), *holes), ACROSS)
    assert _slips_through(between_two(bare, plugged(BOARD, 20, 9, 9), *holes), ACROSS)
    built = between_two(thick, plugged(BOARD, 20, 9, 9), *holes)
    for start in (
        replace(ACROSS.start, kind="connector"),
        replace(ACROSS.start, pin="other"),
        replace(ACROSS.start, owner="other"),
    ):
        assert _slips_through(built, replace(ACROSS, start=start))


def test_a_lead_that_is_cut_goes_through_any_port() -> None:
    built = between_two(plugged(BANK, 20, 9, 9), plugged(BOARD, 20, 9, 9), (4.0, 4.0), (4.0, 4.0))
    lead = replace(BOUGHT, shortened=True, fold=None)
    cut = replace(ACROSS, lead=lead, allowances=(), cut_mm=100.0)
    told = of_leads(replace(built, harness=replace(built.harness, wires=(cut,))), SHORTENED)
    assert [one.message for one in told if "port" in one.message] == []


# -- leads that parts come with ----------------------------------------------------------------------------


def owned(outer_mm: float = 4.0, **changes: Any) -> list[str]:
    """What is said of a lead that the bank comes with: 150 mm, a socket at its end, AWG 24, 4 mm thick."""
    figures = OwnLeads(150.0, "socket", 24, 4.0, 8.0)
    pins = tuple(replace(one, joint="attached", socket="") for one in BANK.pins)
    rows = tuple(replace(one, joint="header", socket="") for one in BOARD.pins)
    made = led(
        replace(PLUS, outer_mm=outer_mm, lead=replace(BOUGHT, own=True, **{"part_id": "bank", **changes}))
    )
    parts = {
        "bank": replace(BANK, pins=pins, electrical=(figures,)),
        "board": replace(BOARD, pins=rows),
    }
    placed = tuple(replace(one, part=parts[one.need]) for one in made.placements)
    nets = tuple(replace(net, lead="") for net in made.train.nets)
    train = replace(made.train, nets=nets, catalogue={**parts, "lead": LEAD})
    return [one.message for one in of_leads(replace(made, train=train, placements=placed))]


def test_a_part_comes_with_a_lead_of_one_length() -> None:
    assert owned() == []
    assert owned(part_id="board") == ["is board, which is no lead of the plan's catalogue"]
    assert owned(part_id="lead") == ["is lead, which is no lead of the plan's catalogue"]
    # Another length is none that it comes in, and is not that of this wire.
    first, *others = owned(length_mm=140.0)
    assert first == "is 140 mm long, which bank is not sold in"
    assert others == [
        "is 150 mm long; the lead is 140 mm",
        "way, allowances and surplus make 150.0 mm; the lead is 140 mm",
    ]


def test_its_room_may_be_that_of_a_thicker_wire() -> None:
    assert owned(outer_mm=5.0) == []
    assert owned(outer_mm=3.9) == ["AWG 24, 3.9 mm thick; its cable is AWG 24, 4 mm"]


# -- what is left over -------------------------------------------------------------------------------------


def test_figures_of_what_does_not_add_up() -> None:
    """Longer and shorter by a fifth of a millimetre, of 60 mm and of a room for less."""
    for cut in (149.8, 150.2):
        (problem,) = of_leads(led(replace(PLUS, cut_mm=cut), replace(MINUS, cut_mm=cut)))
        assert problem.figure == pytest.approx(cut - 150)
    for bare in (89.8, 90.2):
        (problem,) = of_leads(led(replace(PLUS, bare_mm=bare), replace(MINUS, bare_mm=bare)))
        assert problem.figure == pytest.approx(bare - 90)
    short = Box((40, 17.5, 21.2), (89.8, 37.5, 25.2))
    (problem,) = of_leads(folded(short))
    assert problem.figure == pytest.approx(0.4)


@pytest.mark.parametrize(("surplus", "room", "told"), [(1.0, False, 0), (1.05, False, 0), (1.2, False, 1)])
def test_up_to_a_millimetre_needs_no_room(surplus: float, room: bool, told: int) -> None:
    lead = replace(BOUGHT, fold=FOLD if room else None)
    changes: Any = {"lead": lead, "allowances": (("surplus", surplus),), "bare_mm": 150 - surplus}
    found = of_leads(led(replace(PLUS, **changes), replace(MINUS, **changes)))
    assert len(found) == told


@pytest.mark.parametrize(
    ("box", "held"),
    [
        # 4 mm thick, bends of 8 mm: hairpins 20 mm wide, each twice its length less 20 mm.
        ((50, 20, 4), 60.0),
        ((50, 20, 7.9), 60.0),
        ((50, 20, 8), 120.0),
        ((50, 19.9, 4), 0.0),  # on its side it is no higher than it is wide
        ((50, 20, 3.9), 0.0),
        ((20, 20, 4), 0.0),
        ((20, 50, 20), 300.0),  # five on one another, 50 mm long; ten of which 20 are long hold nothing
        ((30, 24, 40), 280.0),  # seven that are 40 mm long
    ],
)
def test_hairpins_in_a_box(box: Any, held: float) -> None:
    """In all six ways to lay them."""
    (figures,) = LEAD.electrical
    for order in ((0, 1, 2), (1, 2, 0), (2, 0, 1), (2, 1, 0)):
        size = tuple(float(box[i]) for i in order)
        assert _holds(Box((0, 0, 0), size), figures) == pytest.approx(held)  # type: ignore[arg-type]


def test_pairs_and_what_carries_parts_are_in_its_way() -> None:
    """Each in the same wagon alone, and where it touches only it is not."""
    crossing = Crossing(
        "joint", "wagon", "behind", "rear hole", "front hole", (), 2.0, 8.0, 14.0, "straight", 16.4, False
    )
    for low, told in ((36.0, True), (37.5, False)):
        for vehicle in ("wagon", "behind"):
            pair = PairDrawnIn(vehicle, Box((50, low, 22), (60, 45, 24)), 5.0)
            made = led()
            harness = replace(made.harness, crossings=(crossing, replace(crossing, pair=pair)))
            found = [one.message for one in of_leads(replace(made, harness=harness))]
            wanted = told and vehicle == "wagon"
            assert found == (["what is left over of it runs into the pair of joint in wagon"] * wanted)
        made = led()
        shelf = Shelf("block", (Piece("block", Box((50, low, 22), (60, 45, 24))),), 0)
        placed = tuple(replace(one, shelf=shelf) if one.need == "board" else one for one in made.placements)
        found = [one.message for one in of_leads(replace(made, placements=placed))]
        assert found == ["what is left over of it runs into what carries board in wagon"] * told


def test_all_that_is_in_its_way_is_told_once() -> None:
    """A part of two solids, its clearance, and a wire that passes twice."""
    both = replace(
        KEPT, envelope=(*WIDE.envelope, Box((-45, 10, 0), (-40, 20, 8))), clearances=KEPT.clearances
    )
    leg = Leg("wagon", ((60.0, 37.8, 23.2), (60.0, 37.8, 40.0), (60.0, 37.7, 23.2)))
    other = replace(OTHER, legs=(leg, replace(leg, vehicle="other")))
    found = [one.message.partition("runs into ")[2] for one in of_leads(led(PLUS, MINUS, other, beside=both))]
    assert found == ["kept in wagon", "plug of kept in wagon", "wire 3 (light) in wagon"]


@pytest.mark.parametrize(("y", "told"), [(37.94, True), (37.96, False)])
def test_a_wire_may_be_nearer_by_a_twentieth(y: float, told: bool) -> None:
    """Half of its millimetre less 0.05; what runs in another wire or is its own lies in it anyway."""
    leg = Leg("wagon", ((60.0, y, 23.2), (60.0, y, 40.0)))
    found = [one.message for one in of_leads(led(PLUS, MINUS, replace(OTHER, legs=(leg,))))]
    assert found == ["what is left over of it runs into wire 3 (light) in wagon"] * told
    assert of_leads(led(PLUS, MINUS, replace(OTHER, legs=(replace(leg, vehicle="behind"),)))) == ()


@pytest.mark.parametrize(("y", "told"), [(19.9, False), (20.1, True)])
def test_its_room_begins_three_millimetres_beside_it(y: float, told: bool) -> None:
    """15 mm, half of 4 mm and 3 more: a millimetre less of the wall's room is left on the far side."""
    box = Box((40, y, 21.2), (90, y + 20.0, 25.2))
    found = [one for one in of_leads(folded(box)) if "beside its way" in one.message]
    assert bool(found) == told
    if told:
        assert found[0].figure == pytest.approx(y - 15)


def test_each_net_has_a_lead_of_its_kind_or_a_finding() -> None:
    """A finding of leads, of that net, that is no note; of two wires without one, both are told."""
    plain, more = replace(PLUS, lead=None), replace(PLUS, number=4, lead=None)
    words = "is no lead, which its net asks for, and nothing says so"
    assert [one.where for one in of_leads(led(plain, more)) if one.message == words] == [
        "wire 1 (five)",
        "wire 4 (five)",
    ]
    for finding in (
        replace(SHORTENED, severity="note"),
        replace(SHORTENED, subject="wire"),
        replace(SHORTENED, where="light"),
    ):
        assert [one.message for one in of_leads(led(plain), finding)] == [words]  # type: ignore[arg-type]
        told = [one.message for one in of_leads(cut_short(), finding)]  # type: ignore[arg-type]
        assert told == ["is shortened and joined again, and nothing says so"]
    assert of_leads(led(plain), SHORTENED) == ()
    # What runs inside brings the ground of its own outer wire, not of another.
    second = replace(PLUS, number=4, legs=PLUS.legs)
    told = [one for one in of_leads(led(PLUS, MINUS, second)) if "no ground" in one.message]
    assert [one.where for one in told] == ["wire 4 (five)"]


@pytest.mark.parametrize("ends", ["start", "end"])
def test_a_second_conductor_ends_at_ground_contacts_of_the_same_sockets(ends: str) -> None:
    words = f"ends at {getattr(MINUS, ends).owner}.minus, no ground contact of that socket"
    made = led()
    for wrong in ({"socket": "USB"}, {"socket": ""}, {"role": "signal"}):
        placed = tuple(
            replace(one, part=replace(one.part, pins=(one.part.pins[0], replace(one.part.pins[1], **wrong))))
            if one.need == getattr(MINUS, ends).owner
            else one
            for one in made.placements
        )
        found = [one.message for one in of_leads(replace(made, placements=placed))]
        assert words in found, (wrong, found)
    assert of_leads(made) == ()
    none = replace(MINUS, inside=2)
    assert "is said to run inside wire 2, and does not" in [one.message for one in of_leads(led(PLUS, none))]
    plain = led(replace(PLUS, lead=None), replace(MINUS, lead=None))
    assert "is said to run inside wire 1, and does not" in [one.message for one in of_leads(plain)]


def test_two_rooms_may_touch_and_lie_in_two_vehicles() -> None:
    """Two leads' rooms overlap where they are one; where the second begins at the end of the first not."""
    for x, told in ((89.0, True), (90.0, False)):
        beside = BoughtLead("lead", 150.0, "wagon", Box((x, 17.5, 21.2), (x + 50, 37.5, 25.2)))
        second = (
            replace(PLUS, number=4, lead=beside),
            replace(MINUS, number=5, inside=4, lead=beside),
        )
        found = [one.message for one in of_leads(led(PLUS, MINUS, *second))]
        assert ("what is left over lies in that of wire 1 (five)" in found) == told


@pytest.mark.parametrize(
    ("awg", "cut", "words"),
    [
        (28, 90.0, ""),
        (26, 90.0, "is told as AWG 26; a lead of its parts is AWG 28"),
        (30, 90.0, "is told as AWG 30; a lead of its parts is AWG 28"),
        (28, 130.0, ""),
        (30, 130.0, ""),
        (26, 130.0, "is told as AWG 26; a lead of its parts is AWG 28"),
    ],
)
def test_a_wire_is_as_thin_as_the_lead_that_it_is_cut_from(awg: int, cut: float, words: str) -> None:
    """A lead of 120 mm, AWG 28: all of a wire of 90 mm; one of 130 has wire of some gauge joined to it."""
    own = OwnLeads(120.0, "bare", 28, 1.2, 4.0)
    pins = tuple(replace(one, joint="attached") for one in LAMP.pins)
    made = placed_with(plan(), "lamp", part=replace(LAMP, pins=pins, electrical=(own,)))
    number = next(wire.number for wire in made.built.harness.wires if wire.end.owner == "lamp")
    told = []
    for outer in (1.2, 1.1):
        changed = wire_with(made, number, awg=awg, cut_mm=cut, outer_mm=outer)
        all_found = problems(check_conductors, changed.built, ())
        found = [one.message for one in all_found if one.where.startswith(f"wire {number} ")]
        told.append([one for one in found if "lead of its parts" in one])
        assert not any("plan's catalogue" in one and f"AWG {awg}," in one for one in found)
    thick = "is told as 1.1 mm thick; a lead of its parts is 1.2 mm"
    assert told == [[words] if words else [], [words, thick] if words else [thick]]
