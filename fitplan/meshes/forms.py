"""Vehicles from a ruler: the few dimensions of a common body form become a vehicle to be corrected as text.

A form is a set of questions and a drawing of layers; none is a picture of a known model. Walls are one stud
thick and roofs one plate. Wheel sizes, coupling reach and default sizes are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from fitplan.errors import FitplanError, nearest_name
from fitplan.files.layers import DEFAULT_LEGEND, body_of_layers
from fitplan.model.solids import Box, Cylinder, Direction, bounds_of
from fitplan.model.vehicle import BodySolid, Coupling, Kind, Layer, Opening, Port, Vehicle, Wheels, Window
from fitplan.units import PLATE, STUD, STUD_HEIGHT

_PORT = 4.8
_WHEEL = 8.5
_REACH = 4.0
_BRICK_DENSITY = 0.6e-3
"""Grams in a cubic millimetre of brick-built body; from memory, not confirmed, and to be weighed."""


@dataclass(frozen=True)
class Question:
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
    questions: tuple[Question, ...]
    draw: Callable[[_Draft, Mapping[str, int]], None]


@dataclass
class _Draft:
    """A vehicle while it is drawn; lengths along x and y in studs, heights in plates from the underside."""

    long: int
    wide: int
    base: float
    layers: list[Layer] = field(default_factory=list)
    solids: list[BodySolid] = field(default_factory=list)
    openings: list[Opening] = field(default_factory=list)
    windows: list[Window] = field(default_factory=list)
    height: int = 0
    port_heights: dict[str, float] = field(default_factory=dict)

    def layer(self, name: str, plates: int, *patches: tuple[str, int, int, int, int]) -> None:
        """Add a layer of patches (character, first and last x, first and last y), outside elsewhere."""
        if plates <= 0:
            return
        field_ = [["-"] * self.long for _ in range(self.wide)]
        for character, x0, x1, y0, y1 in patches:
            for row in field_[max(y0, 0) : max(y1, 0)]:
                for x in range(max(x0, 0), min(x1, self.long)):
                    row[x] = character
        rows = tuple("".join(row) for row in reversed(field_))
        self.layers.append(Layer(name, round(self.base + self.height * PLATE, 6), plates, rows))
        self.height += plates

    def box(self, x0: float, x1: float, y0: float, y1: float, z0: float, z1: float) -> Box:
        """Return a box from studs along x and y and plates from the underside."""
        low = (x0 * STUD, y0 * STUD, round(self.base + z0 * PLATE, 6))
        return Box(low, (x1 * STUD, y1 * STUD, round(self.base + z1 * PLATE, 6)))

    def roof(self, name: str, x0: int, x1: int, y0: int, y1: int, z0: int, z1: int) -> None:
        """Add an opening upwards over some studs."""
        self.openings.append(Opening(name, self.box(x0, x1, y0, y1, z0, z1), "+z"))

    def gap(self, front: bool, x: int, inset: int, z0: int, z1: int) -> None:
        """Open the end wall whose outer face is at `x` studs, and call the gap a window."""
        if z1 <= z0 or self.wide - 2 * inset <= 0:
            return
        x0, x1 = (x - 1, x) if front else (x, x + 1)
        box = self.box(x0, x1, inset, self.wide - inset, z0, z1)
        self.solids.append(BodySolid(box, "free"))
        name = "front window" if front else "rear window"
        self.windows.append(Window(name, box, "+x" if front else "-x"))


def _ring(x0: int, x1: int, y0: int, y1: int) -> tuple[tuple[str, int, int, int, int], ...]:
    return (("#", x0, x1, y0, y1), (".", x0 + 1, x1 - 1, y0 + 1, y1 - 1))


def _q(key: str, text: str, unit: str, default: int, least: int, most: int) -> Question:
    return Question(key, text, unit, default, least, most)


def _common(long: int, wide: int, underside: int) -> tuple[Question, ...]:
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


_WALLS = _q("walls", "How high are the walls, from the floor's top to the roof?", "plates", 12, 2, 60)
_SILL = _q("sill", "How high is the lower edge of the end windows above the floor?", "plates", 3, 0, 50)
_PANE = _q("pane", "How high are the end windows? (0: none)", "plates", 6, 0, 50)


def _box_body(draft: _Draft, answers: Mapping[str, int]) -> None:
    walls, long, wide = answers["walls"], draft.long, draft.wide
    draft.layer("floor", 1, ("#", 0, long, 0, wide))
    draft.layer("walls", walls, *_ring(0, long, 0, wide))
    draft.layer("roof", 1, ("#", 0, long, 0, wide))
    draft.roof("roof", 1, long - 1, 1, wide - 1, 1 + walls, 2 + walls)


def _windowed_body(draft: _Draft, answers: Mapping[str, int]) -> None:
    _box_body(draft, answers)
    sill, top = 1 + answers["sill"], 1 + min(answers["sill"] + answers["pane"], answers["walls"])
    draft.gap(True, draft.long, 1, sill, top)
    draft.gap(False, 0, 1, sill, top)


def _open_body(draft: _Draft, answers: Mapping[str, int]) -> None:
    walls, long, wide = answers["walls"], draft.long, draft.wide
    draft.layer("floor", 1, ("#", 0, long, 0, wide))
    draft.layer("walls", walls, *_ring(0, long, 0, wide))
    draft.roof("open top", 1, long - 1, 1, wide - 1, 1 + walls, 1 + walls)


def _flat_body(draft: _Draft, answers: Mapping[str, int]) -> None:
    load, long, wide = answers["load"], draft.long, draft.wide
    draft.layer("floor", answers["floor"], ("#", 0, long, 0, wide))
    draft.layer("room for the load", load, (".", 0, long, 0, wide))
    draft.port_heights |= {
        "rear": draft.base + answers["floor"] * PLATE,
        "front": draft.base + answers["floor"] * PLATE,
    }
    draft.roof("load", 0, long, 0, wide, answers["floor"] + load, answers["floor"] + load)


def _hood_body(draft: _Draft, answers: Mapping[str, int]) -> None:
    long, wide, hood, cab = draft.long, draft.wide, answers["hood"], answers["cab"]
    ahead, inset = answers["ahead"], answers["inset"]
    if ahead + cab > long:
        raise FitplanError(
            f"found a cab of {cab} studs behind {ahead} studs of hood; expected at most {long} together"
        )
    c1 = long - ahead
    c0 = c1 - cab
    more = max(answers["walls"] - hood - 1, 0)
    hoods = [span for span in ((0, c0 + 1), (c1 - 1, long)) if span[1] - span[0] > 2]
    draft.layer("floor", 1, ("#", 0, long, 0, wide))
    walls: list[tuple[str, int, int, int, int]] = list(_ring(c0, c1, 0, wide))
    for x0, x1 in hoods:
        walls += [("#", x0, x1, inset, wide - inset)]
    for x0, x1 in hoods:
        # The hood is open to the cab, so that what lies in it can reach into the cab.
        walls += [(".", x0 + (x0 == 0), x1 - (x1 == long), inset + 1, wide - inset - 1)]
    walls += [(".", c0 + 1, c1 - 1, 1, wide - 1)]
    draft.layer("hood and cab", hood, *walls)
    lids = tuple(("#", x0, x1, inset, wide - inset) for x0, x1 in hoods)
    draft.layer("roof of the hood", 1, *lids, *_ring(c0, c1, 0, wide))
    draft.layer("upper part of the cab", more, *_ring(c0, c1, 0, wide))
    draft.layer("roof of the cab", 1, ("#", c0, c1, 0, wide))
    for x0, x1 in hoods:
        name = "rear hood" if x0 == 0 else "front hood"
        start, end = (x0 + 1, c0) if x0 == 0 else (c1, x1 - 1)
        draft.roof(name, start, end, inset + 1, wide - inset - 1, 1 + hood, 2 + hood)
    draft.roof("cab roof", c0 + 1, c1 - 1, 1, wide - 1, 2 + hood + more, 3 + hood + more)


def _boiler_body(draft: _Draft, answers: Mapping[str, int]) -> None:
    long, wide, cab, walls = draft.long, draft.wide, answers["cab"], answers["walls"]
    if cab > long - 4:
        raise FitplanError(
            f"found a cab of {cab} studs; expected at most {long - 4}, so that a boiler is left"
        )
    draft.layer("floor", 1, ("#", 0, long, 0, wide))
    draft.layer("cab", walls, *_ring(0, cab, 0, wide))
    draft.layer("cab roof", 1, ("#", 0, cab, 0, wide))
    _barrel(draft, answers, cab - 1, long, cab)
    draft.roof("cab roof", 1, cab - 1, 1, wide - 1, 1 + walls, 2 + walls)


def _tank_body(draft: _Draft, answers: Mapping[str, int]) -> None:
    draft.layer("floor", 1, ("#", 0, draft.long, 0, draft.wide))
    _barrel(draft, answers, 0, draft.long, 1)


def _barrel(draft: _Draft, answers: Mapping[str, int], x0: int, x1: int, hollow_from: int) -> None:
    """Lay a hollow cylinder on the floor; its hollow begins at `hollow_from` or, in a cab, runs into it."""
    outer, wall = answers["diameter"] / 2, float(answers["wall"])
    if 2 * outer > draft.wide * STUD or 2 * wall >= 2 * outer:
        raise FitplanError(
            f"found a barrel of {2 * outer:g} mm with walls of {wall:g} mm; expected a diameter of at most"
            f" {draft.wide * STUD:g} mm (wide) and thinner walls"
        )
    middle, height = draft.wide * STUD / 2, draft.base + PLATE + outer
    start = x0 * STUD
    first = (x0 if x0 else hollow_from) * STUD
    end = (x1 - 1) * STUD
    # A wire leaves through the middle of the barrel's end.
    draft.solids.append(BodySolid(Cylinder("x", (start, middle, height), x1 * STUD - start, outer), "fixed"))
    draft.solids.append(BodySolid(Cylinder("x", (first, middle, height), end - first, outer - wall), "free"))
    for end_name, flat in (("rear", x0 == 0), ("front", True)):
        if flat:
            draft.port_heights[end_name] = height - _PORT / 2
    top = round(height + outer, 6)
    half = outer - wall
    lid = Box((hollow_from * STUD, middle - half, height), (end, middle + half, top))
    draft.openings.append(Opening("upper half of the barrel", lid, "+z", often=False))


def _car_body(draft: _Draft, answers: Mapping[str, int]) -> None:
    long, wide = draft.long, draft.wide
    hood, cabin, low, high = answers["hood"], answers["cabin"], answers["low"], answers["high"]
    if hood + cabin > long:
        raise FitplanError(
            f"found {hood} studs of bonnet and {cabin} of cabin; expected at most {long} together (long)"
        )
    c1 = long - hood
    c0 = c1 - cabin
    draft.layer("floor", 1, ("#", 0, long, 0, wide))
    draft.layer("lower body", low, *_ring(0, long, 0, wide))
    lids = tuple(("#", x0, x1, 0, wide) for x0, x1 in ((0, c0), (c1, long)) if x1 > x0)
    draft.layer("bonnet and boot lid", 1, *lids, *_ring(c0, c1, 0, wide))
    draft.layer("cabin", high, *_ring(c0, c1, 0, wide))
    draft.layer("cabin roof", 1, ("#", c0, c1, 0, wide))
    if hood > 1:
        draft.roof("bonnet", c1, long - 1, 1, wide - 1, 1 + low, 2 + low)
    if c0 > 1:
        draft.roof("boot lid", 1, c0, 1, wide - 1, 1 + low, 2 + low)
    draft.roof("cabin roof", c0 + 1, c1 - 1, 1, wide - 1, 2 + low + high, 3 + low + high)


def _lorry_body(draft: _Draft, answers: Mapping[str, int]) -> None:
    long, wide, cab, walls, cargo = draft.long, draft.wide, answers["cab"], answers["walls"], answers["cargo"]
    if cab > long - 4:
        raise FitplanError(f"found a cab of {cab} studs; expected at most {long - 4}, so that a load is left")
    c0 = long - cab
    low = min(walls, cargo)
    draft.layer("floor", 1, ("#", 0, long, 0, wide))
    draft.layer("walls", low, *_ring(0, c0, 0, wide), *_ring(c0, long, 0, wide))
    parts = {c0: (0, c0, cargo), long: (c0, long, walls)}
    above = [(x0, x1, tall) for x0, x1, tall in parts.values() if tall > low]
    ending = [(x0, x1) for x0, x1, tall in parts.values() if tall == low]
    lids = tuple(("#", x0, x1, 0, wide) for x0, x1 in ending)
    rings = tuple(patch for x0, x1, _ in above for patch in _ring(x0, x1, 0, wide))
    draft.layer("lower roof" if above else "roof", 1, *lids, *rings)
    for x0, x1, tall in above:
        draft.layer("upper walls", tall - low - 1, *_ring(x0, x1, 0, wide))
        draft.layer("upper roof", 1, ("#", x0, x1, 0, wide))
    for name, x0, x1, tall in (("load roof", 0, c0, cargo), ("cab roof", c0, long, walls)):
        top = max(tall, low + 1) if tall > low else tall
        draft.roof(name, x0 + 1, x1 - 1, 1, wide - 1, 1 + top, 2 + top)


FORMS: tuple[Form, ...] = (
    Form("hood loco", "a loco with a cab between or behind lower hoods", "loco", (
        *_common(22, 6, 5),
        _q("cab", "How long is the cab?", "studs", 6, 3, 30),
        _q("ahead", "How long is the hood before the cab?", "studs", 10, 0, 60),
        _q("inset", "How far do the hood's sides stand back on each side?", "studs", 1, 0, 4),
        _q("hood", "How high are the hood's walls, from the floor's top to its roof?", "plates", 9, 2, 50),
        _q("walls", "How high are the cab's walls, from the floor's top to its roof?", "plates", 15, 3, 60),
    ), _hood_body),
    Form("cab loco", "a loco with one body over its whole length and windows at its ends", "loco",
         (*_common(26, 6, 5), _WALLS, _SILL, _PANE), _windowed_body),
    Form("boiler loco", "a loco with a round boiler before its cab", "loco", (
        *_common(24, 6, 5),
        _q("cab", "How long is the cab, at the rear?", "studs", 6, 3, 30),
        _q("walls", "How high are the cab's walls, from the floor's top to its roof?", "plates", 15, 3, 60),
        _q("diameter", "What is the boiler's outer diameter?", "mm", 40, 16, 120),
        _q("wall", "How thick is the boiler's wall?", "mm", 4, 1, 40),
    ), _boiler_body),
    Form("railcar", "a railcar or coach with windows at its ends", "railcar",
         (*_common(28, 6, 5), _WALLS, _SILL, _PANE), _windowed_body),
    Form("open wagon", "a wagon with low walls and no roof", "wagon",
         (*_common(20, 6, 5), _q("walls", "How high are the walls above the floor?", "plates", 6, 1, 40)),
         _open_body),
    Form("flat wagon", "a wagon with a floor alone", "wagon", (
        *_common(24, 6, 5),
        _q("floor", "How thick is the floor?", "plates", 2, 1, 12),
        _q("load", "How high may a load stand on it?", "plates", 12, 1, 60),
    ), _flat_body),
    Form("box wagon", "a wagon with walls and a roof", "wagon", (*_common(20, 6, 5), _WALLS), _box_body),
    Form("tank wagon", "a wagon with a round tank", "wagon", (
        *_common(20, 6, 5),
        _q("diameter", "What is the tank's outer diameter?", "mm", 40, 16, 120),
        _q("wall", "How thick is the tank's wall?", "mm", 4, 1, 40),
    ), _tank_body),
    Form("car", "a car with a bonnet, a cabin and a boot", "road", (
        *_common(16, 6, 2),
        _q("hood", "How long is the bonnet?", "studs", 5, 0, 40),
        _q("cabin", "How long is the cabin?", "studs", 8, 3, 40),
        _q("low", "How high is the lower body above the floor?", "plates", 5, 1, 40),
        _q("high", "How high is the cabin above that?", "plates", 5, 1, 40),
    ), _car_body),
    Form("lorry", "a lorry with a cab and a box", "road", (
        *_common(24, 6, 3),
        _q("cab", "How long is the cab?", "studs", 6, 3, 30),
        _q("walls", "How high are the cab's walls above the floor?", "plates", 12, 2, 60),
        _q("cargo", "How high are the box's walls above the floor?", "plates", 15, 2, 60),
    ), _lorry_body),
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
        What was measured, by `Question.key`; what is not said takes the question's default.
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
    draft = _Draft(values["long"], values["wide"], round(values["underside"] * PLATE, 6))
    form.draw(draft, values)
    return _vehicle(form, draft, name or form.name.capitalize(), studded)


def _vehicle(form: Form, draft: _Draft, name: str, studded: bool) -> Vehicle:
    body = (*body_of_layers(draft.layers, DEFAULT_LEGEND), *draft.solids)
    hull = bounds_of(tuple(entry.solid for entry in body))
    length, width = draft.long * STUD, draft.wide * STUD
    floor = draft.base + PLATE + STUD_HEIGHT + 0.1
    ends: tuple[tuple[str, float, Direction], ...] = (("rear", 0.0, "-x"), ("front", length - STUD, "+x"))
    ports = []
    for word, x0, out in ends:
        foot = draft.port_heights.get(word, floor)
        low = (x0, round(width / 2 - _PORT / 2, 6), round(foot, 6))
        high = (x0 + STUD, round(width / 2 + _PORT / 2, 6), round(foot + _PORT, 6))
        ports.append(Port(f"{word} wire hole", Box(low, high), out))
    bogies = draft.long >= 24 and form.kind != "road"
    fifth = STUD * round(draft.long / 5)
    couplings = (Coupling("front", length - STUD, 10.0, _REACH), Coupling("rear", STUD, 10.0, _REACH))
    solid = sum(entry.solid.bounds.volume for entry in body if entry.state == "fixed")
    wheels = Wheels(
        "bogies" if bogies else "axles", (fifth, length - fifth), (form.kind != "wagon", False), _WHEEL,
        24.0 if bogies else 0.0,
    )  # fmt: skip
    return Vehicle(
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
        mass_g=float(max(20, round(solid * _BRICK_DENSITY))),
        mass_center=(length / 2, width / 2, round(hull.center[2], 1)),
        characters=tuple((character, state) for character, (state, _) in DEFAULT_LEGEND.items()),
    )
