"""Numbers, circles and ways in the printed sheets are written as the library writes them."""

from __future__ import annotations

import io
import random

import pytest
from reportlab.lib.rl_accel import fp_str
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from fitplan.report.drawings import pdf
from fitplan.report.drawings.drawing import Drawing, Pen


def test_numbers_as_the_library_writes_them() -> None:
    rng = random.Random(1)
    drawn = [rng.choice((-1, 1)) * 10 ** rng.uniform(-9, 7) for _ in range(5000)]
    whole = [float(value) for value in range(-1200, 1200)]
    short = [round(rng.uniform(-1000, 1000), rng.randint(0, 5)) for _ in range(2000)]
    for value in (*drawn, *whole, *short, 999999.5, 1e6, 10.0, 9.9999996, 99.999996, 1e-7):
        assert pdf._n(value) == fp_str(value)


@pytest.mark.parametrize("pen", [Pen("ink", 0.2), Pen(None, 0.2, "part"), Pen("ink", 0.2, "part")])
def test_shapes_as_the_library_draws_them(pen: Pen) -> None:
    rng = random.Random(2)
    drawing = Drawing(200.0, 100.0)
    theirs = Canvas(io.BytesIO(), invariant=1)
    stroke, fill = int(pen.stroke is not None), int(pen.fill is not None)
    for _ in range(200):
        x, y, w, h = (rng.uniform(1, 90) for _ in range(4))
        drawing.rect(x, y, w, h, pen)
        theirs.rect(x * mm, (100.0 - y - h) * mm, w * mm, h * mm, stroke=stroke, fill=fill)
        drawing.circle(x, y, w, pen)
        theirs.circle(x * mm, (100.0 - y) * mm, w * mm, stroke=stroke, fill=fill)
        drawing.path([(x, y), (w, h), (y, w)], pen, closed=w > h)
        path = theirs.beginPath()
        path.moveTo(x * mm, (100.0 - y) * mm)
        path.lineTo(w * mm, (100.0 - h) * mm)
        path.lineTo(y * mm, (100.0 - w) * mm)
        if w > h:
            path.close()
        theirs.drawPath(path, stroke=stroke, fill=fill)
    ours = Canvas(io.BytesIO(), invariant=1)
    pdf._Brush(ours).draw_page(drawing)
    assert ours.getCurrentPageContent().endswith(theirs.getCurrentPageContent())


def test_what_is_translucent_on_the_page_is_so_on_paper() -> None:
    """The colour is set first: in the library each colour brings its own opacity, which is whole."""
    drawing = Drawing(200.0, 100.0)
    drawing.rect(1.0, 2.0, 30.0, 40.0, Pen("ink", 0.2, "part", opacity=0.7))
    canvas = Canvas(io.BytesIO(), invariant=1)
    pdf._Brush(canvas).draw_page(drawing)
    assert [canvas._extgstate.getValue(key) for key in ("CA", "ca")] == [0.7, 0.7]  # type: ignore[attr-defined]
