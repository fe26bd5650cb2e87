"""Plots of a plan's checks as drawings: lines told apart by dashes and by their names at the line itself."""

from __future__ import annotations

import math

from fitplan.model.found import Plot
from fitplan.report.drawings.drawing import Drawing, Pen, Point
from fitplan.report.lists.wording import number, shorten

WIDTH, HEIGHT = 150.0, 78.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 15.0, 4.0, 7.0, 13.0
_INKS = ("part-edge", "new-edge", "open", "fits", "note")
_DASHES: tuple[tuple[float, ...], ...] = ((), (2.4, 1.4), (0.4, 1.4), (4.0, 1.2, 0.4, 1.2))


def plot_drawing(plot: Plot) -> Drawing:
    """Return a plot with its axes, its lines with their names, and its limits as dashed level lines."""
    drawing = Drawing(WIDTH, HEIGHT, plot.title)
    xs = [x for curve in plot.curves for x in curve.x if math.isfinite(x)]
    ys = [y for curve in plot.curves for y in curve.y if math.isfinite(y)]
    ys += [level for _, level in plot.limits]
    if not xs or not ys:
        drawing.text(WIDTH / 2, HEIGHT / 2, "nothing to plot", 3.4, "middle", ink="soft")
        return drawing
    x_marks, y_marks = ticks(min(xs), max(xs)), ticks(min(ys), max(ys))
    x_low, x_high = min(xs), max(max(xs), min(xs) + 1e-9)
    y_low, y_high = y_marks[0], y_marks[-1]
    wide, high = WIDTH - _LEFT - _RIGHT, HEIGHT - _TOP - _BOTTOM

    def at(x: float, y: float) -> Point:
        return (
            _LEFT + (x - x_low) / (x_high - x_low) * wide,
            _TOP + high - (y - y_low) / (y_high - y_low) * high,
        )

    for mark in y_marks:
        y = at(x_low, mark)[1]
        drawing.line(_LEFT, y, WIDTH - _RIGHT, y, Pen("grid", 0.2))
        drawing.text(_LEFT - 1.6, y + 1.2, number(mark, 3), 3.4, "end", ink="soft")
    for mark in x_marks:
        if x_low - 1e-9 <= mark <= x_high + 1e-9:
            x = at(mark, y_low)[0]
            drawing.line(x, _TOP + high, x, _TOP + high + 1.4, Pen("soft", 0.25))
            drawing.text(x, _TOP + high + 5, number(mark, 3), 3.4, "middle", ink="soft")
    drawing.line(_LEFT, _TOP + high, WIDTH - _RIGHT, _TOP + high, Pen("soft", 0.35))
    drawing.text(WIDTH - _RIGHT, HEIGHT - 2.2, shorten(plot.x_label, 60), 3.6, "end")
    drawing.text(_LEFT - 13, 3.8, shorten(plot.y_label, 60), 3.6)
    taken: list[Point] = []
    for name, level in plot.limits:
        _, y = at(x_low, level)
        drawing.line(_LEFT, y, WIDTH - _RIGHT, y, Pen("stop", 0.35, dash=(1.6, 1.2)))
        text = f"{shorten(name, 40)} {number(level, 3)}"
        spot = _clear(taken, (WIDTH - _RIGHT - 1, y - 1.1))
        drawing.text(*spot, text, 3.4, "end", ink="stop", halo=True)
    for place, curve in enumerate(plot.curves):
        ink = _INKS[place % len(_INKS)]
        pairs = zip(curve.x, curve.y, strict=False)
        points = [at(x, y) for x, y in pairs if math.isfinite(x) and math.isfinite(y)]
        drawing.path(points, Pen(ink, 0.6, dash=_DASHES[place % len(_DASHES)]))
        if points:
            x, y = points[len(points) * 2 // 5]
            spot = _clear(taken, (x + 1, y - 1.8))
            drawing.text(*spot, shorten(curve.name, 40), 3.6, bold=True, ink=ink, halo=True)
    return drawing


def ticks(low: float, high: float, wanted: int = 5) -> list[float]:
    """Return round marks (1, 2 or 5 times a power of ten apart) that cover a range."""
    if not high > low:
        high = low + (abs(low) or 1.0)
    raw = (high - low) / wanted
    base = 10.0 ** math.floor(math.log10(raw))
    step = next(factor * base for factor in (1, 2, 5, 10) if factor * base >= raw - 1e-12)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [round(place * step, 10) for place in range(first, last + 1)]


def _clear(taken: list[Point], spot: Point) -> Point:
    """Move a name up until it lies on no other."""
    x, y = spot
    for _ in range(6):
        if all(abs(y - other) > 3.8 or abs(x - across) > 45 for across, other in taken):
            break
        y -= 4
    y = max(y, 3.6)
    taken.append((x, y))
    return x, y
