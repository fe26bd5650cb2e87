"""Two ways to be wrong, rule by rule: what surely fits, what surely cannot, and what lies between."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.needed import FixedPlace, Need
from fitplan.model.part import Clearance, Mount, Part
from fitplan.model.solids import Box
from fitplan.model.studs import floor_studs
from fitplan.model.vehicle import BodySolid, BuiltIn, Face, Vehicle, Window
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.seat_proof import no_seat
from fitplan.packing.vehicle.seats import Wanted, seats
from tests.packing.small_trains import block, hollow


def looking_out(lens: float, low: float = 0.0, window: float = 16.0) -> tuple[str, str]:
    """Return verdict and reason for a part with a lens so wide (mm) in a window of two studs."""
    gap = Window("gap", Box((72.0, 16.0, 19.2), (80.0, 16.0 + window, 38.4)), "+x")
    vehicle = hollow("v", 10, 6, 9, windows=(gap,))
    part = replace(
        block("eye", (20.0, 16.0, 8.0)),
        envelope=(Box((0.0, low - 0.5, 0.0), (12.0, low + lens + 0.5, 8.0)),),
        mount=Mount(looks="+x", lens=Box((12.0, low, 0.0), (12.0, low + lens, 8.0)), upright=True),
    )
    part = replace(part, mount=replace(part.mount, lens=Box((12.0, low, 0.0), (12.0, low + lens, 8.0))))
    packing = Packer({"v": vehicle}).pack_as_it_is(
        "v", (Wanted(Need("eye", (part,), looks=("v", "gap")), part),)
    )
    return packing.verdict, f"{packing.reason} | {packing.proof}"


def test_a_lens_that_fills_its_window_but_for_the_play_is_not_decided() -> None:
    """A gap of two studs measures 16.2 mm between real bricks: 16.1 mm may pass, 16.4 mm may not."""
    assert looking_out(15.0)[0] == "fits"
    verdict, reason = looking_out(16.1)
    assert verdict == "not decided"
    assert "0.10 mm of width" in reason
    verdict, reason = looking_out(16.4)
    assert verdict == "cannot fit"
    assert "mm of width" in reason
    assert "confirmed" in reason


def test_a_lens_between_two_tenths_is_not_said_to_be_too_wide() -> None:
    """15.99 mm pass through 16.0 mm, though no whole tenth of an offset lies there."""
    verdict, reason = looking_out(15.99, low=0.035)
    assert verdict == "not decided"
    assert "between two tenths" in reason


def test_every_denied_seat_is_denied_by_the_second_account_too() -> None:
    """Where no relaxed seat is left, the intervals in millimetres do not meet either."""
    for tenths in range(150, 170):
        for low in (0.0, 0.03, 0.07):
            gap = Window("gap", Box((72.0, 16.0, 19.2), (80.0, 32.0, 38.4)), "+x")
            vehicle = hollow("v", 10, 6, 9, windows=(gap,))
            wide = tenths / 10 + low
            mount = Mount(looks="+x", lens=Box((12.0, low, 0.0), (12.0, low + wide, 8.0)), upright=True)
            part = replace(block("eye", (12.0, 18.0, 8.0)), mount=mount)
            need = Need("eye", (part,), looks=("v", "gap"))
            sure = seats(part, need, "v", vehicle)
            possible = seats(part, need, "v", vehicle, "inward")
            if not possible:
                assert no_seat(part, need, "v", vehicle) is not None
                assert wide > 16.2
            if sure:
                assert no_seat(part, need, "v", vehicle, play=0.0) is None
                assert wide <= 16.0 + 1e-9
            if no_seat(part, need, "v", vehicle) is None:
                assert possible
                assert wide <= 16.2 + 1e-9


@pytest.mark.parametrize(("plane", "verdict"), [(30.0, "fits"), (30.04, "fits"), (29.95, "fits")])
def test_faces_between_tenths(plane: float, verdict: str) -> None:
    """A face that lies between two tenths is sat on with less than a tenth of air."""
    eye = Face("eye", Box((30.0, 20.0, plane), (38.0, 28.0, plane)), "+z")
    receiver = BuiltIn("receiver", "receiver", (Box((26.0, 16.0, 19.2), (42.0, 32.0, plane)),), (eye,))
    part = block("emitter", (9.0, 5.0, 5.0), mount=Mount(sits="+x"))
    need = Need("emitter", (part,), sits=("v", "receiver", "eye"))
    packing = Packer({"v": hollow("v", 10, 6, 9, built_in=(receiver,))}).pack_as_it_is(
        "v", (Wanted(need, part),)
    )
    assert packing.verdict == verdict


def open_front(columns: int) -> Vehicle:
    """Return a tray of six studs with an open front, and so many more columns drawn as outside."""
    studs = 8 + columns
    base, floor, top = 16.0, 19.2, 38.4
    body = (
        BodySolid(Box((0.0, 0.0, base), (64.0, 48.0, top)), "fixed"),
        BodySolid(Box((8.0, 8.0, floor), (64.0, 40.0, top)), "free"),
    )
    bare = hollow("v", studs, 6, 5)
    return replace(bare, base=base, top=top, body=body, openings=(), ports=(), windows=())


def long_with_plug() -> Part:
    """Return a part as long as the tray whose plug needs 20 mm in front of it."""
    plug = Clearance("plug", "plug", Box((56.0, 10.0, 2.0), (76.0, 20.0, 10.0)))
    return replace(
        block("board", (56.0, 30.0, 12.0), mount=Mount(upright=True, turnable=False)), clearances=(plug,)
    )


@pytest.mark.parametrize("columns", [0, 1, 2, 4])
def test_outside_is_outside_in_the_hull_and_beyond(columns: int) -> None:
    """A plug that reaches out of an open front has its room, however many columns of air are drawn."""
    part = long_with_plug()
    packing = Packer({"v": open_front(columns)}).pack_as_it_is("v", (Wanted(Need("board", (part,)), part),))
    assert packing.verdict == "fits"
    walled = replace(
        open_front(columns),
        body=(*open_front(columns).body, BodySolid(Box((63.0, 8.0, 19.2), (64.0, 40.0, 38.4)), "fixed")),
    )
    shut = Packer({"v": walled}).pack_as_it_is("v", (Wanted(Need("board", (part,)), part),))
    assert shut.verdict == "cannot fit"


def decked(**of_the_deck: bool) -> Vehicle:
    """Return a studded wagon with a deck over a free tunnel: 20 mm free below, 12.8 mm free above."""
    bare = replace(hollow("v", 10, 6, 12), floor_finish="studded")
    deck = BodySolid(Box((8.0, 8.0, 38.4), (72.0, 40.0, 44.8)), "fixed", **of_the_deck)  # type: ignore[arg-type]
    return replace(bare, body=(*bare.body, deck))


def test_an_upper_deck_bears_studs_as_the_floor_does() -> None:
    """From the deck's studs to the roof 11.1 mm are clear: 11.5 mm fit only on a smooth deck."""
    part = block("board", (60.0, 30.0, 11.5), mount=Mount(upright=True))
    need = Need("board", (part,), pinned=FixedPlace("v", "+x+y+z", (8.5, 8.5, 45.9)))
    wanted = (Wanted(need, part),)
    low = block("board", (60.0, 30.0, 11.0), mount=Mount(upright=True))
    on_studs = (Wanted(Need("board", (low,), pinned=FixedPlace("v", "+x+y+z", (8.5, 8.5, 46.5))), low),)
    studs = {(round(stud.solid.bounds.low[2], 3)) for stud in floor_studs(decked())}
    assert studs == {19.2, 44.8}
    assert {round(stud.solid.bounds.low[2], 3) for stud in floor_studs(decked(smooth=True))} == {19.2}
    assert Packer({"v": decked()}).pack_as_it_is("v", wanted).verdict == "cannot fit"
    assert Packer({"v": decked(smooth=True)}).pack_as_it_is("v", wanted).verdict == "fits"
    assert Packer({"v": decked()}).pack_as_it_is("v", on_studs).verdict == "fits"
