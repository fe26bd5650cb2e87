"""Vehicles from a ruler: the few dimensions of a common body form become a vehicle to be corrected as text.

A form is a set of questions and a drawing of layers; none is a picture of a known model. Walls are one stud
thick and roofs one plate. Wheel sizes, coupling reach and default sizes are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from fitplan.errors import FitplanError, nearest_name
from fitplan.files.layers import DEFAULT_LEGEND, body_of_layers
from fitplan.files.load_room import open_for_loads
from fitplan.meshes.form_draft import (
    PORT,
    Draft,
    draw_boiler_body,
    draw_box_body,
    draw_car_body,
    draw_flat_body,
    draw_hood_body,
    draw_lorry_body,
    draw_open_body,
    draw_tank_body,
    draw_windowed_body,
)
from fitplan.model.facts import BRICK_G_MM3
from fitplan.model.solids import Box, Direction, bounds_of
from fitplan.model.vehicle import BodySolid, Coupling, Kind, Port, Vehicle, Wheels
from fitplan.units import PLATE, STUD, STUD_HEIGHT

_WHEEL = 8.5


@dataclass(frozen=True)
class FormQuestion:
    """One dimension that a form asks for, in its unit, with what is taken when nothing is said."""

    key: str
    text: str
    unit: str
    default: int
    least: int
    most: int


@dataclass(frozen=True)
class Form:
    """A body form: its name, what it is, its questions, and the function that draws it."""

    name: str
    text: str
    kind: Kind
    questions: tuple[FormQuestion, ...]
    draw: Callable[[Draft, Mapping[str, int]], None]


def _q(key: str, text: str, unit: str, default: int, least: int, most: int) -> FormQuestion:
    return FormQuestion(key, text, unit, default, least, most)


def _common(long: int, wide: int, underside: int) -> tuple[FormQuestion, ...]:
    """Return what is asked of every form, whether it runs on rails or on a road."""
    return (
        _q("long", "How long is the body, end to end?", "studs", long, 6, 64),
        _q("wide", "How wide is it?", "studs", wide, 3, 16),
        _q(
            "underside",
            "How high is its underside above the rail head (or the road)?",
            "plates",
            underside,
            1,
            20,
        ),
    )


_COUPLING = _q(
    "coupling", "How far does each coupling reach beyond the body's end (half the gap to the next body)?",
    "mm", 8, 1, 60,
)  # fmt: skip
_WALLS = _q("walls", "How high are the walls, from the floor's top to the roof?", "plates", 12, 2, 60)
_SIDES = _q("walls", "How high are the walls above the floor?", "plates", 6, 1, 40)
_SILL = _q("sill", "How high is the lower edge of the end windows above the floor?", "plates", 3, 0, 50)
_PANE = _q("pane", "How high are the end windows? (0: none)", "plates", 6, 0, 50)


FORMS: tuple[Form, ...] = (
    Form("hood loco", "a loco with a cab between or behind lower hoods", "loco", (
        *_common(22, 6, 5),
        _q("cab", "How long is the cab?", "studs", 6, 3, 30),
        _q("ahead", "How long is the hood before the cab?", "studs", 10, 0, 60),
        _q("inset", "How far do the hood's sides stand back on each side?", "studs", 1, 0, 4),
        _q("hood", "How high are the hood's walls, from the floor's top to its roof?", "plates", 9, 2, 50),
        _q("walls", "How high are the cab's walls, from the floor's top to its roof?", "plates", 15, 3, 60),
        _COUPLING,
    ), draw_hood_body),
    Form("cab loco", "a loco with one body over its whole length and windows at its ends", "loco",
         (*_common(26, 6, 5), _WALLS, _SILL, _PANE, _COUPLING), draw_windowed_body),
    Form("boiler loco", "a loco with a round boiler before its cab", "loco", (
        *_common(24, 6, 5),
        _q("cab", "How long is the cab, at the rear?", "studs", 6, 3, 30),
        _q("walls", "How high are the cab's walls, from the floor's top to its roof?", "plates", 15, 3, 60),
        _q("diameter", "What is the boiler's outer diameter?", "mm", 40, 16, 120),
        _q("wall", "How thick is the boiler's wall?", "mm", 4, 1, 40),
        _COUPLING,
    ), draw_boiler_body),
    Form("railcar", "a railcar or coach with windows at its ends", "railcar",
         (*_common(28, 6, 5), _WALLS, _SILL, _PANE, _COUPLING), draw_windowed_body),
    Form("open wagon", "a wagon with low walls and no roof", "wagon",
         (*_common(20, 6, 5), _SIDES, _COUPLING), draw_open_body),
    Form("flat wagon", "a wagon with a floor alone", "wagon", (
        *_common(24, 6, 5),
        _q("floor", "How thick is the floor?", "plates", 2, 1, 12),
        _q("load", "How high may a load stand on it?", "plates", 12, 1, 60),
        _COUPLING,
    ), draw_flat_body),
    Form("box wagon", "a wagon with walls and a roof", "wagon",
         (*_common(20, 6, 5), _WALLS, _COUPLING), draw_box_body),
    Form("tank wagon", "a wagon with a round tank", "wagon", (
        *_common(20, 6, 5),
        _q("diameter", "What is the tank's outer diameter?", "mm", 40, 16, 120),
        _q("wall", "How thick is the tank's wall?", "mm", 4, 1, 40),
        _COUPLING,
    ), draw_tank_body),
    Form("car", "a car with a bonnet, a cabin and a boot", "road", (
        *_common(16, 6, 2),
        _q("hood", "How long is the bonnet?", "studs", 5, 0, 40),
        _q("cabin", "How long is the cabin?", "studs", 8, 3, 40),
        _q("low", "How high is the lower body above the floor?", "plates", 5, 1, 40),
        _q("high", "How high is the cabin above that?", "plates", 5, 1, 40),
    ), draw_car_body),
    Form("lorry", "a lorry with a cab and a box", "road", (
        *_common(24, 6, 3),
        _q("cab", "How long is the cab?", "studs", 6, 3, 30),
        _q("walls", "How high are the cab's walls above the floor?", "plates", 12, 2, 60),
        _q("cargo", "How high are the box's walls above the floor?", "plates", 15, 2, 60),
    ), draw_lorry_body),
)  # fmt: skip
"""All body forms."""


def form_named(name: str) -> Form:
    """Return the form of this name.

    Raises
    ------
    FitplanError
        When there is none; it names the nearest.
    """
    for form in FORMS:
        if form.name == name:
            return form
    names = [form.name for form in FORMS]
    hint = nearest_name(name, names)
    raise FitplanError(
        f"found the form {name!r}; expected one of {', '.join(names)}" + (f" ({hint})" if hint else "")
    )


def measure(
    form: Form | str, answers: Mapping[str, int] | None = None, *, name: str = "", studded: bool = True
) -> Vehicle:
    """Return a vehicle of a form.

    Parameters
    ----------
    answers
        What was measured, by `FormQuestion.key`; what is not said takes the question's default.
    name
        What the vehicle is called; the form's name when empty.
    studded
        Whether the floor shows its studs inside.

    Raises
    ------
    FitplanError
        When a form or a key is not known, or an answer is out of its range or does not go with the others.
    """
    form = form_named(form) if isinstance(form, str) else form
    given = dict(answers or {})
    keys = [question.key for question in form.questions]
    for key in given:
        if key not in keys:
            hint = nearest_name(key, keys)
            raise FitplanError(
                f"found {key!r} for a {form.name}; expected one of {', '.join(keys)}"
                + (f" ({hint})" if hint else "")
            )
    values = {question.key: given.get(question.key, question.default) for question in form.questions}
    for question in form.questions:
        value = values[question.key]
        if not question.least <= value <= question.most:
            raise FitplanError(
                f"found {question.key} {value} {question.unit}; expected {question.least} to {question.most}"
            )
    draft = Draft(values["long"], values["wide"], round(values["underside"] * PLATE, 6))
    form.draw(draft, values)
    return _vehicle(form, draft, name or form.name.capitalize(), studded, float(values.get("coupling", 0)))


def _vehicle(form: Form, draft: Draft, name: str, studded: bool, reach: float) -> Vehicle:
    drawn = (*body_of_layers(draft.layers, DEFAULT_LEGEND), *draft.solids)
    hull = bounds_of(tuple(entry.solid for entry in drawn))
    length, width = draft.long * STUD, draft.wide * STUD
    floor = draft.base + PLATE + STUD_HEIGHT + 0.1
    ends: tuple[tuple[str, float, Direction], ...] = (("rear", 0.0, "-x"), ("front", length - STUD, "+x"))
    ports = []
    for word, x0, out in ends:
        foot = draft.port_heights.get(word, floor)
        low = (x0, round(width / 2 - PORT / 2, 6), round(foot, 6))
        high = (x0 + STUD, round(width / 2 + PORT / 2, 6), round(foot + PORT, 6))
        ports.append(Port(f"{word} wire hole", Box(low, high), out))
    # The holes are drawn, too: a port where the drawing shows brick leads no wire. On a deck there is none.
    holes = [BodySolid(port.box, "free") for port in ports if draft.load_height is None]
    body = (*drawn, *holes)
    bogies = draft.long >= 24 and form.kind != "road"
    fifth = STUD * round(draft.long / 5)
    couplings = (Coupling("front", length - STUD, 10.0, reach), Coupling("rear", STUD, 10.0, reach))
    solid = sum(entry.solid.bounds.volume for entry in body if entry.state == "fixed")
    wheels = Wheels(
        "bogies" if bogies else "axles", (fifth, length - fifth), (form.kind != "wagon", False), _WHEEL,
        24.0 if bogies else 0.0,
    )  # fmt: skip
    vehicle = Vehicle(
        name=name,
        kind=form.kind,
        studs_long=draft.long,
        studs_wide=draft.wide,
        base=hull.low[2],
        top=hull.high[2],
        floor_finish="studded" if studded else "smooth",
        body=body,
        layers=tuple(draft.layers),
        removables=(),
        openings=tuple(draft.openings),
        windows=tuple(draft.windows),
        ports=tuple(ports),
        couplings=() if form.kind == "road" else couplings,
        wheels=wheels,
        built_in=(),
        mass_g=float(max(20, round(solid * BRICK_G_MM3))),
        mass_center=(length / 2, width / 2, round(hull.center[2], 1)),
        characters=tuple((character, state) for character, (state, _) in DEFAULT_LEGEND.items()),
    )
    return open_for_loads(vehicle, draft.load_height)
