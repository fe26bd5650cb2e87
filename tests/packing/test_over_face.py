"""A part on a face that reaches too far from it: by how much, and that a wrong figure is seen."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.files.catalogue import read_catalogue
from fitplan.model.needed import Need
from fitplan.model.proposed import FitRow
from fitplan.model.solids import Box
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BodySolid, BuiltIn, Face, Vehicle
from fitplan.packing.vehicle.over_face import over_face
from fitplan.packing.vehicle.seats import Wanted
from fitplan.verify.over_faces import check_over_face
from fitplan.verify.result import Tally
from tests.packing.small_trains import hollow

EMITTER = read_catalogue()["emitter-5mm"]
TALL = 12.0
"""Of the emitter from the tip of its lens to the end of the room for its leads, in mm: as drawn."""
FLOOR = 19.2
NEED = Need("emitter", (EMITTER,), sits=("loco", "receiver", "eye"))


def loco(plates: int, receiver: float, **changes: object) -> Vehicle:
    """Return a hollow body with a receiver of some height on its floor, its eye on top."""
    top = FLOOR + receiver
    box = Box((40.0, 12.0, FLOOR), (64.0, 36.0, top))
    eye = Face("eye", Box((50.0, 22.0, top), (54.0, 26.0, top)), "+z")
    made = hollow("loco", 16, 6, plates, built_in=(BuiltIn("receiver", "receiver", (box,), (eye,)),))
    return replace(made, **changes)  # type: ignore[arg-type]


@pytest.mark.parametrize(("plates", "receiver"), [(6, 9.6), (6, 12.8), (4, 6.4), (7, 19.2)])
def test_what_is_missing_is_height_less_room(plates: int, receiver: float) -> None:
    """The roof's underside less the receiver's top is what is there; the emitter takes 12 mm of it."""
    room = 3.2 * plates - receiver
    missing, axis, pose, text = over_face(loco(plates, receiver), "loco", Wanted(NEED, EMITTER))
    assert room < TALL
    assert missing == pytest.approx(TALL - room, abs=0.11)
    assert axis == "height"
    assert pose
    assert f"{missing:.1f} mm of height are missing over the face eye of receiver" in text
    assert "emitter takes 12.0 mm there, its room for leads and plugs counted" in text


def test_nothing_is_missing_where_it_fits_or_sits_on_none() -> None:
    """With room enough, in another vehicle, or without a face nothing is said."""
    nothing = (0.0, "", "", "")
    assert over_face(loco(9, 9.6), "loco", Wanted(NEED, EMITTER)) == nothing
    assert over_face(loco(6, 9.6), "van", Wanted(NEED, EMITTER)) == nothing
    assert over_face(loco(6, 9.6), "loco", Wanted(replace(NEED, sits=None), EMITTER)) == nothing


def test_what_stands_beside_is_no_lack_of_height() -> None:
    """A wall through the leads stays in the way however deep the part stands: no figure is told."""
    low = loco(6, 9.6)
    wall = BodySolid(Box((44.0, 8.0, FLOOR), (48.0, 40.0, FLOOR + 3.2 * 6)), "fixed")
    other = BodySolid(Box((56.0, 8.0, FLOOR), (60.0, 40.0, FLOOR + 3.2 * 6)), "fixed")
    across = BodySolid(Box((44.0, 14.0, FLOOR), (60.0, 20.0, FLOOR + 3.2 * 6)), "fixed")
    along = BodySolid(Box((44.0, 28.0, FLOOR), (60.0, 34.0, FLOOR + 3.2 * 6)), "fixed")
    shut = replace(low, body=(*low.body, wall, other, across, along))
    assert over_face(shut, "loco", Wanted(NEED, EMITTER)) == (0.0, "", "", "")


@pytest.mark.parametrize(
    ("more", "axis", "sits", "held"),
    [
        (0.0, "height", True, True),
        (0.5, "height", True, False),
        (-0.5, "height", True, False),
        (0.0, "width", True, False),
        (0.0, "height", False, False),
    ],
)
def test_a_wrong_figure_does_not_hold(more: float, axis: str, *, sits: bool, held: bool) -> None:
    """Half a millimetre more or less, another axis, or a part that sits on no face, is seen."""
    body = loco(6, 9.6)
    missing, _, pose, text = over_face(body, "loco", Wanted(NEED, EMITTER))
    row = FitRow(
        "emitter", "emitter-5mm", "loco", "cannot fit", text, "no seat", round(missing + more, 1), axis, pose
    )
    need = NEED if sits else replace(NEED, sits=None)
    sheet = Tally()
    check_over_face(row, need, EMITTER, TrainVehicle("loco", body), sheet)
    assert (not sheet.report().problems) is held
