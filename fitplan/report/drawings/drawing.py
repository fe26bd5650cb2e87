"""One draw interface in millimetres, with SVG and PDF behind it.

A `Drawing` is a list of shapes; x grows to the right, y downwards, from the upper left corner. The same
drawing is written as SVG (`svg_bytes`, `svg_inline`) and on a page of a PDF (`pdf_bytes` in `pdf`).
Colours are names of `INKS` or ``#rrggbb``; in the page the names become style variables, so that a drawing
follows dark and light.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from html import escape
from typing import Literal, NamedTuple, TypeAlias

from fitplan.report.lists.wording import clean

Point: TypeAlias = tuple[float, float]
Anchor: TypeAlias = Literal["start", "middle", "end"]

INKS: dict[str, str] = {
    "paper": "#fbfaf6",
    "ink": "#232b2f",
    "soft": "#5c666b",
    "faint": "#c9c6bb",
    "grid": "#dedbd0",
    "brick": "#e4e0d5",
    "brick-edge": "#8f8b80",
    "keep": "#ead9cf",
    "part": "#cfe0e3",
    "part-edge": "#1f5c66",
    "new": "#f2c46d",
    "new-edge": "#7a4e00",
    "stop": "#a5301c",
    "caution": "#8a5a00",
    "note": "#2a5f8a",
    "fits": "#2c6b45",
    "open": "#6b4a86",
}
"""Colours by meaning, as printed on paper."""
FONT = "'Barlow Semi Condensed', 'DejaVu Sans Condensed', 'Arial Narrow', sans-serif"


class Pen(NamedTuple):
    """How a shape is drawn: line and filling colour (None: not drawn), width and dashes in mm."""

    stroke: str | None = "ink"
    width: float = 0.2
    fill: str | None = None
    dash: tuple[float, ...] = ()
    opacity: float = 1.0


LINE = Pen("ink", 0.25)


class Rect(NamedTuple):
    """A rectangle, its upper left corner at (x, y)."""

    x: float
    y: float
    w: float
    h: float
    pen: Pen
    radius: float = 0.0


class Circle(NamedTuple):
    """A circle round (x, y)."""

    x: float
    y: float
    r: float
    pen: Pen


class Path(NamedTuple):
    """Straight lines through points; ``closed`` joins the last to the first."""

    points: tuple[Point, ...]
    pen: Pen
    closed: bool = False


class Label(NamedTuple):
    """A line of text; (x, y) is on its base line; ``turn`` in degrees against the clock."""

    x: float
    y: float
    text: str
    size: float
    anchor: Anchor
    bold: bool
    ink: str
    turn: float = 0.0
    halo: bool = False


class Group(NamedTuple):
    """Shapes that belong to one thing; ``key`` links them to rows of the page, ``title`` is read aloud."""

    key: str
    title: str
    shapes: tuple[Shape, ...]


Shape: TypeAlias = Rect | Circle | Path | Label | Group


@dataclass
class Drawing:
    """Shapes on a sheet of ``width`` × ``height`` mm; the methods add one shape each."""

    width: float
    height: float
    title: str = ""
    shapes: list[Shape] = field(default_factory=list)

    def line(self, x1: float, y1: float, x2: float, y2: float, pen: Pen = LINE) -> None:
        """Draw a straight line."""
        self.shapes.append(Path(((x1, y1), (x2, y2)), pen))

    def rect(self, x: float, y: float, w: float, h: float, pen: Pen = LINE, radius: float = 0.0) -> None:
        """Draw a rectangle."""
        self.shapes.append(Rect(x, y, w, h, pen, radius))

    def circle(self, x: float, y: float, r: float, pen: Pen = LINE) -> None:
        """Draw a circle."""
        self.shapes.append(Circle(x, y, r, pen))

    def path(self, points: Sequence[Point], pen: Pen = LINE, closed: bool = False) -> None:
        """Draw straight lines through points."""
        if len(points) > 1:
            self.shapes.append(Path(tuple(points), pen, closed))

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float = 2.8,
        anchor: Anchor = "start",
        bold: bool = False,
        ink: str = "ink",
        turn: float = 0.0,
        halo: bool = False,
    ) -> None:
        """Write a line of text; ``halo`` keeps it clear of what is under it."""
        self.shapes.append(Label(x, y, clean(text), size, anchor, bold, ink, turn, halo))

    def hatch(
        self, x: float, y: float, w: float, h: float, pen: Pen, gap: float = 1.6, falling: bool = False
    ) -> None:
        """Draw slanting lines inside a rectangle; lines of neighbouring rectangles meet."""
        sign = -1 if falling else 1
        corners = [px + sign * py for px in (x, x + w) for py in (y, y + h)]
        first = math.ceil(min(corners) / gap)
        for step in range(first, math.floor(max(corners) / gap) + 1):
            level = step * gap
            ends: list[Point] = []
            for px in (x, x + w):
                py = (level - px) * sign
                if y - 1e-9 <= py <= y + h + 1e-9:
                    ends.append((px, py))
            for py in (y, y + h):
                px = level - sign * py
                if x + 1e-9 < px < x + w - 1e-9:
                    ends.append((px, py))
            if len(ends) == 2:
                self.path(ends, pen)

    @contextmanager
    def group(self, key: str, title: str) -> Iterator[None]:
        """Gather the shapes drawn inside into a `Group`."""
        before = self.shapes
        self.shapes = []
        try:
            yield
        finally:
            made, self.shapes = self.shapes, before
            self.shapes.append(Group(key, title, tuple(made)))

    def piece(self, low: float, high: float) -> Drawing:
        """Return the same drawing with those shapes only that reach between two distances from the left."""
        kept = [shape for shape in self.shapes if _reaches(shape, low, high)]
        return Drawing(self.width, self.height, self.title, kept)

    def place(self, other: Drawing, x: float, y: float, scale: float = 1.0) -> None:
        """Draw another drawing with its upper left corner at (x, y)."""
        self.shapes += [moved(shape, x, y, scale) for shape in other.shapes]


def _reaches(shape: Shape, low: float, high: float) -> bool:
    """Return whether any of a shape lies between two distances from the left; a text counts as it is."""
    match shape:
        case Group():
            lines = [entry for entry in shape.shapes if not isinstance(entry, Label)] or shape.shapes
            return any(_reaches(entry, low, high) for entry in lines)
        case Rect():
            return shape.x < high and shape.x + shape.w > low
        case Circle():
            return shape.x - shape.r < high and shape.x + shape.r > low
        case Path():
            across = [x for x, _ in shape.points]
            return min(across) < high and max(across) > low
        case Label():
            reach = len(shape.text) * shape.size
            return shape.x - reach < high and shape.x + reach > low


def moved(shape: Shape, dx: float, dy: float, scale: float = 1.0) -> Shape:
    """Return a shape scaled about the origin and then moved; pens scale with it."""
    match shape:
        case Path():
            points = tuple([(x * scale + dx, y * scale + dy) for x, y in shape.points])
            return Path(points, _scaled(shape.pen, scale), shape.closed)
        case Rect():
            return Rect(
                shape.x * scale + dx,
                shape.y * scale + dy,
                shape.w * scale,
                shape.h * scale,
                _scaled(shape.pen, scale),
                shape.radius * scale,
            )
        case Circle():
            pen = _scaled(shape.pen, scale)
            return Circle(shape.x * scale + dx, shape.y * scale + dy, shape.r * scale, pen)
        case Label():
            return shape._replace(x=shape.x * scale + dx, y=shape.y * scale + dy, size=shape.size * scale)
        case Group():
            return shape._replace(shapes=tuple(moved(entry, dx, dy, scale) for entry in shape.shapes))


def _scaled(pen: Pen, scale: float) -> Pen:
    if scale == 1.0:
        return pen
    return pen._replace(width=pen.width * scale, dash=tuple(entry * scale for entry in pen.dash))


def svg_bytes(drawing: Drawing) -> bytes:
    """Return a drawing as an SVG file at 1:1: a user unit is a millimetre. Same drawing, same bytes."""
    paper = f'<rect width="{_n(drawing.width)}" height="{_n(drawing.height)}" fill="{INKS["paper"]}"/>'
    head = '<?xml version="1.0" encoding="UTF-8"?>\n'
    return (head + _svg(drawing, paper, inline=False) + "\n").encode("utf-8", "replace")


def svg_inline(drawing: Drawing) -> str:
    """Return a drawing as an ``<svg>`` element for the page, with style variables for its colours."""
    return _svg(drawing, "", inline=True)


def _svg(drawing: Drawing, paper: str, inline: bool) -> str:
    size = f'width="{_n(drawing.width)}mm" height="{_n(drawing.height)}mm" '
    label = f' aria-label="{_attribute(drawing.title)}"' if drawing.title else ""
    open_tag = (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size}'
        f'viewBox="0 0 {_n(drawing.width)} {_n(drawing.height)}" role="img"{label}'
        f' font-family="{escape(FONT, quote=True)}">'
    )
    title = "" if inline or not drawing.title else f"<title>{escape(clean(drawing.title))}</title>"
    body = "\n".join(_shape(shape, inline) for shape in drawing.shapes)
    return f"{open_tag}{title}{paper}\n{body}\n</svg>"


def _shape(shape: Shape, inline: bool) -> str:
    match shape:
        case Path():
            steps = " ".join(f"{_n(x)},{_n(y)}" for x, y in shape.points)
            name = "polygon" if shape.closed else "polyline"
            return f'<{name} points="{steps}"{_pen(shape.pen, inline)}/>'
        case Rect():
            radius = f' rx="{_n(shape.radius)}"' if shape.radius else ""
            place = f'x="{_n(shape.x)}" y="{_n(shape.y)}" width="{_n(shape.w)}" height="{_n(shape.h)}"'
            return f"<rect {place}{radius}{_pen(shape.pen, inline)}/>"
        case Circle():
            place = f'cx="{_n(shape.x)}" cy="{_n(shape.y)}" r="{_n(shape.r)}"'
            return f"<circle {place}{_pen(shape.pen, inline)}/>"
        case Label():
            turn = f' transform="rotate({_n(-shape.turn)} {_n(shape.x)} {_n(shape.y)})"' if shape.turn else ""
            bold = ' font-weight="600"' if shape.bold else ""
            anchor = f' text-anchor="{shape.anchor}"' if shape.anchor != "start" else ""
            place = f'x="{_n(shape.x)}" y="{_n(shape.y)}" font-size="{_n(shape.size)}"'
            ink = _paint({"fill": shape.ink}, inline)
            if shape.halo and inline:
                ink = ink.replace('class="', 'class="halo ')
            elif shape.halo:
                rim = f'stroke="{INKS["paper"]}" stroke-width="{_n(shape.size / 8)}"'
                ink = f'{ink} paint-order="stroke" {rim}'
            return f"<text {place}{anchor}{bold}{turn}{ink}>{escape(shape.text)}</text>"
        case Group():
            inside = "\n".join(_shape(entry, inline) for entry in shape.shapes)
            title = f"<title>{escape(clean(shape.title))}</title>" if shape.title else ""
            return f'<g data-key="{_attribute(shape.key)}">{title}{inside}</g>'


@lru_cache(maxsize=1024)
def _pen(pen: Pen, inline: bool) -> str:
    parts = [_paint({"fill": pen.fill, "stroke": pen.stroke}, inline)]
    if pen.stroke is not None:
        parts.append(f' stroke-width="{_n(pen.width)}" stroke-linecap="round" stroke-linejoin="round"')
        if pen.dash:
            parts.append(f' stroke-dasharray="{" ".join(_n(entry) for entry in pen.dash)}"')
    if pen.opacity != 1.0:
        parts.append(f' opacity="{_n(pen.opacity)}"')
    return "".join(parts)


def _paint(inks: dict[str, str | None], inline: bool) -> str:
    """Write colours: in the page, named ones as the classes ``f-NAME`` and ``s-NAME``."""
    classes = [f"{way[0]}-{ink}" for way, ink in inks.items() if inline and ink in INKS]
    plain = "".join(
        f' {way}="{INKS.get(ink, ink) if ink else "none"}"'
        for way, ink in inks.items()
        if not (inline and ink in INKS) and not (way == "stroke" and ink is None)
    )
    return plain + (f' class="{" ".join(classes)}"' if classes else "")


def _attribute(text: str) -> str:
    return escape(clean(text), quote=True)


@lru_cache(maxsize=65536)
def _n(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text
