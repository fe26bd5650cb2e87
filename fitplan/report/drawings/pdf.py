"""The PDF side of the draw interface: fonts, drawings on a page at 1:1, and the same bytes each time."""

from __future__ import annotations

import io
import math
import re
import unicodedata
from bisect import bisect
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import cache, lru_cache
from pathlib import Path as FilePath
from typing import TypeAlias

from reportlab import rl_config
from reportlab.lib.colors import Color, HexColor
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from fitplan.report.drawings.drawing import INKS, Circle, Drawing, Group, Label, Path, Pen, Rect, Shape
from fitplan.report.lists.wording import clean

_FONTS = FilePath(__file__).parents[1] / "fonts"
REGULAR, BOLD, WIDE = "Fitplan-Regular", "Fitplan-Bold", "Fitplan-Wide"
_FILES = {
    REGULAR: "barlow-semi-condensed-regular.ttf",
    BOLD: "barlow-semi-condensed-semibold.ttf",
    WIDE: "dejavu-sans-condensed.ttf",
}
RIGHT_TO_LEFT = re.compile(
    "[\u0590-\u08ff\u200f\ufb1d-\ufdff\ufe70-\ufeff\U00010800-\U00010fff\U0001e800-\U0001efff]"
)
"""Blocks that hold every right-to-left letter (Unicode's DerivedBidiClass), and others."""
Runs: TypeAlias = tuple[tuple[str, str], ...]
"""A text in runs of one font: its name, and what is set in it."""


def pdf_bytes(pages: Sequence[Drawing], title: str) -> bytes:
    """Return a PDF, a page as large as its drawing for each; it asks to be printed unscaled."""
    out = io.BytesIO()
    _fonts()
    canvas = Canvas(out, invariant=1, pageCompression=1)
    canvas.setTitle(clean(title))
    canvas.setAuthor("fitplan")
    canvas.setCreator("fitplan")
    canvas.setViewerPreference("PrintScaling", "None")
    brush = _Brush(canvas)
    for page in pages:
        canvas.setPageSize((page.width * mm, page.height * mm))
        if page.title:
            key = f"page-{canvas.getPageNumber()}"
            canvas.bookmarkPage(key)
            canvas.addOutlineEntry(clean(page.title)[:120], key)
        brush.draw_page(page)
        canvas.showPage()
    with _plain_streams():
        canvas.save()
    return out.getvalue()


@contextmanager
def _plain_streams() -> Iterator[None]:
    """Write compressed streams as they are: a fifth smaller and sooner done than as text."""
    before, rl_config.useA85 = rl_config.useA85, 0
    try:
        yield
    finally:
        rl_config.useA85 = before


@lru_cache(maxsize=8192)
def text_width(text: str, size: float, bold: bool = False) -> float:
    """Return the width of a text in mm, set at a size in mm."""
    return _wide(_font_runs(clean(text), bold), size)


def _wide(runs: Runs, size: float) -> float:
    """Return the width of runs of text, as the library adds it up."""
    widths = _fonts()
    return sum(0.001 * size * sum(map(widths[font].__getitem__, run)) for font, run in runs)


def wrapped(text: str, size: float, width: float, bold: bool = False, most: int = 12) -> list[str]:
    """Return a text broken into lines of at most ``width`` mm; words that are too long are cut.

    No more than ``most`` lines are given; the last one then ends with an ellipsis. A single character that
    is wider stands alone.
    """
    lines: list[str] = []
    line = ""
    # no more than could stand there even in the narrowest letters
    for word in clean(text)[: _room(size, width) * (most + 1)].split():
        tried = f"{line} {word}" if line else word
        if text_width(tried, size, bold) <= width:
            line = tried
            continue
        if line:
            lines.append(line)
        line = word
        while len(lines) <= most and text_width(line, size, bold) > width and len(line) > 1:
            keep = max(1, _prefix(line, size, width, bold))
            lines.append(line[:keep])
            line = line[keep:]
        if len(lines) > most:
            break
    if line:
        lines.append(line)
    if len(lines) > most:
        lines = lines[:most]
        lines[-1] = fitted(lines[-1] + "…", size, width, bold)
    return lines


def fitted(text: str, size: float, width: float, bold: bool = False) -> str:
    """Return a text that is cut with an ellipsis where it is wider than ``width`` mm."""
    text = clean(text)
    room = _room(size, width)
    if len(text) <= room and text_width(text, size, bold) <= width:
        return text
    left = width - text_width("…", size, bold)
    return text[:room][: _prefix(text[:room], size, left, bold)].rstrip() + "…"


def _room(size: float, width: float) -> int:
    """How many of the narrowest letters there is room for, roughly and never too few."""
    return int(width / (size * 0.15)) + 8


def _prefix(text: str, size: float, width: float, bold: bool) -> int:
    """How many characters from the start of a text are no wider than this together."""
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if text_width(text[:middle], size, bold) <= width:
            low = middle
        else:
            high = middle - 1
    return low


@cache
def _fonts() -> dict[str, dict[str, float]]:
    """Register the fonts once and return the characters that each can set, with their widths."""
    found = {}
    for name, file in _FILES.items():
        font = TTFont(name, str(_FONTS / file))
        pdfmetrics.registerFont(font)
        wide = font.face.charWidths
        found[name] = {chr(code): wide.get(code, font.face.defaultWidth) for code in font.face.charToGlyph}
    return found


@lru_cache(maxsize=8192)
def _font_runs(text: str, bold: bool) -> Runs:
    """Split a text into runs of one font; a character that no font has is written as its code point."""
    glyphs = _fonts()
    first = BOLD if bold else REGULAR
    if text and glyphs[first].keys() >= set(text) and not RIGHT_TO_LEFT.search(text):
        return ((first, text),)
    runs: list[tuple[str, str]] = []
    for character in _visual(text):
        font = first if character in glyphs[first] else WIDE
        if character not in glyphs[font]:
            if unicodedata.category(character) in {"Mn", "Me", "Cf"}:
                continue
            font, character = first, f"‹U+{ord(character):04X}›"
        if runs and runs[-1][0] == font:
            runs[-1] = (font, runs[-1][1] + character)
        else:
            runs.append((font, character))
    return tuple(runs)


def _visual(text: str) -> str:
    """Turn runs of right-to-left letters round, as they are read; letters are not joined."""
    out: list[str] = []
    run: list[str] = []
    for character in text:
        if unicodedata.bidirectional(character) in {"R", "AL"} or (run and character == " "):
            run.append(character)
            continue
        out += _turned(run)
        run = []
        out.append(character)
    return "".join(out + _turned(run))


def _turned(run: list[str]) -> list[str]:
    letters = "".join(run).rstrip(" ")
    return [*reversed(letters), *run[len(letters) :]]


_ROUND = 4 / 3 * (math.sqrt(2) - 1)
"""How far middle points of a Bézier curve lie from its ends that draws a quarter of a circle of radius 1."""
_ARCS = (
    (1, _ROUND), (_ROUND, 1), (0, 1), (-_ROUND, 1), (-1, _ROUND), (-1, 0),
    (-1, -_ROUND), (-_ROUND, -1), (0, -1), (_ROUND, -1), (1, -_ROUND), (1, 0),
)  # fmt: skip
"""A circle of radius 1, against the clock from the right: of each quarter two middle points and its end."""
_DRAWN = {(0, 0): "n", (1, 0): "S", (0, 1): "f*", (1, 1): "B*"}
"""What is said of a way behind it: whether its line and its inside are drawn."""
_AT_THE_ORIGIN = "BT 1 0 0 1 0 0 Tm "
"""How the library begins a text that stands at the origin."""
_TENS = (1e1, 1e2, 1e3, 1e4, 1e5, 1e6)


class _Brush:
    """Draws shapes on pages and remembers the pen, so that what has not changed is not written again."""

    def __init__(self, canvas: Canvas) -> None:
        self.canvas, self.height = canvas, 0.0
        self.pen: Pen | None = None
        self._set_before: dict[tuple[Runs, float], str] = {}

    def draw_page(self, drawing: Drawing) -> None:
        """Draw onto the current page, whose height is the drawing's."""
        self.height, self.pen = drawing.height, None
        for shape in drawing.shapes:
            self.draw(shape)

    def draw(self, shape: Shape) -> None:
        """Draw a shape, and all shapes of a group."""
        canvas, height = self.canvas, self.height
        match shape:
            case Path():
                first, *others = [f"{_n(x * mm)} {_n((height - y) * mm)}" for x, y in shape.points]
                way = " ".join(["n", f"{first} m", *(f"{point} l" for point in others)])
                self._put(shape.pen, f"{way} h\n" if shape.closed else f"{way}\n")
            case Group():
                for entry in shape.shapes:
                    self.draw(entry)
            case Label():
                self._write(shape)
            case Rect() if shape.radius:
                stroke, fill = self._use(shape.pen)
                place = (shape.x * mm, (height - shape.y - shape.h) * mm, shape.w * mm, shape.h * mm)
                canvas.roundRect(*place, shape.radius * mm, stroke=stroke, fill=fill)
            case Rect():
                corner = f"{_n(shape.x * mm)} {_n((height - shape.y - shape.h) * mm)}"
                self._put(shape.pen, f"n {corner} {_n(shape.w * mm)} {_n(shape.h * mm)} re ")
            case Circle():
                x, y, r = shape.x * mm, (height - shape.y) * mm, shape.r * mm
                around = [f"{_n(x + r * one)} {_n(y + r * two)}" for one, two in _ARCS]
                curves = [f"{' '.join(around[place : place + 3])} c" for place in range(0, 12, 3)]
                self._put(shape.pen, "\n".join(["n", f"{around[-1]} m", *curves, ""]))

    def _put(self, pen: Pen, way: str) -> None:
        """Draw a way that is written in a PDF's own words."""
        drawn = _DRAWN[self._use(pen)]
        self.canvas.addLiteral(way + drawn)

    def _use(self, pen: Pen) -> tuple[int, int]:
        """Take up a pen and return whether lines and filling are drawn."""
        canvas = self.canvas
        if pen != self.pen:
            self.pen = pen
            if pen.stroke is not None:
                canvas.addLiteral(f"{_shares(pen.stroke)} RG")
                canvas.setStrokeAlpha(pen.opacity)
                canvas.addLiteral(_line(pen.width, pen.dash))
            if pen.fill is not None:
                canvas.addLiteral(f"{_shares(pen.fill)} rg")
                canvas.setFillAlpha(pen.opacity)
        return int(pen.stroke is not None), int(pen.fill is not None)

    def _write(self, label: Label) -> None:
        canvas, size = self.canvas, label.size
        runs = _font_runs(label.text, label.bold)
        start = {"start": 0.0, "middle": -0.5, "end": -1.0}[label.anchor]
        start *= _wide(runs, size) if start else 0.0
        canvas.saveState()
        canvas.setFillAlpha(1.0)
        canvas.addLiteral(f"{_shares(label.ink)} rg")
        if label.turn:
            canvas.translate(label.x * mm, (self.height - label.y) * mm)
            canvas.rotate(label.turn)
        else:
            canvas.addLiteral(f"1 0 0 1 {_n(label.x * mm)} {_n((self.height - label.y) * mm)} cm")
        words = f"{_n(start * mm)} 0 Tm", self._words(runs, size)
        if label.halo:
            canvas.setStrokeColor(_colour("paper"))
            canvas.setLineWidth(size / 5 * mm)
            canvas.setDash([])
            canvas.addLiteral(f"q\nBT 1 0 0 1 {' 1 Tr '.join(words)} ET\nQ")  # the rims of letters
        canvas.addLiteral(f"q\nBT 1 0 0 1 {' '.join(words)} ET\nQ")
        canvas.restoreState()

    def _words(self, runs: Runs, size: float) -> str:
        """Return what a PDF says to set runs of text; which code a letter has is the library's business."""
        if (runs, size) not in self._set_before:
            text = self.canvas.beginText(0, 0)
            for font, run in runs:
                text.setFont(font, size * mm)
                text.textOut(run)
            self._set_before[runs, size] = text.getCode().removeprefix(_AT_THE_ORIGIN).removesuffix(" ET")
        return self._set_before[runs, size]


@cache
def _colour(ink: str) -> Color:
    return HexColor(INKS.get(ink, ink))


@cache
def _shares(ink: str) -> str:
    """Return the shares of red, green and blue in an ink, in a PDF's own words."""
    return " ".join(map(_n, _colour(ink).rgb()))


@lru_cache(maxsize=1024)
def _line(width: float, dash: tuple[float, ...]) -> str:
    """Return what a PDF says of a line with round ends and corners, as wide and dashed as this (mm)."""
    return f"{_n(width * mm)} w\n1 J\n1 j\n[{' '.join(_n(entry * mm) for entry in dash)}] 0 d"


@lru_cache(maxsize=65536)
def _n(value: float) -> str:
    """Write a number with seven figures, as the library does, in a third of its time."""
    size = abs(value)
    if size <= 1e-7:
        return "0"
    text = f"{value:.{6 - bisect(_TENS, size)}f}"
    if size < _TENS[-1]:
        text = text.rstrip("0").rstrip(".")
    return text[1:] if len(text) > 1 and text[0] == "0" else text
