"""The faces of the connectors at the couplings: each cavity in its place, with the wire that goes into it."""

from __future__ import annotations

from fitplan.model.plan import Plan
from fitplan.model.wired import Crossing, Wire
from fitplan.report.drawings.drawing import Drawing, Pen
from fitplan.report.lists.connector_cavities import cavities
from fitplan.report.lists.wording import colour_hex, shorten

CAVITY = 15.0
_HIGH = 9.0
_LEFT = 3.0
_HEAD = 7.0
_FACE = 27.0
SIZE = 3.55
"""Size of its text, in mm: 10 pt."""


def connector_faces(plan: Plan) -> tuple[Drawing, ...]:
    """Return for each coupling with a connector the faces of both halves, seen from where the wires go in."""
    found = []
    for crossing in plan.built.harness.crossings:
        pairs = cavities(plan, crossing.name, crossing.ahead)
        if pairs:
            found.append(_faces(crossing, pairs))
    return tuple(found)


def _faces(crossing: Crossing, pairs: dict[str, tuple[Wire | None, Wire | None]]) -> Drawing:
    """Draw both halves; the one ahead is the mirror image, as cavity 1 meets cavity 1."""
    width = 2 * _LEFT + CAVITY * max(len(pairs), 6)
    drawing = Drawing(width, _HEAD + 2 * _FACE, f"Connector {crossing.name}")
    for half, (vehicle, turned) in enumerate(((crossing.behind, False), (crossing.ahead, True))):
        top = _HEAD + half * _FACE
        text = f"{shorten(crossing.name, 12)}, half in {shorten(vehicle, 24)}, seen from the wires"
        drawing.text(_LEFT, top - 2.0, text, SIZE, bold=True)
        wide = CAVITY * len(pairs)
        drawing.rect(_LEFT - 1.2, top - 0.2, wide + 2.4, _HIGH + 1.4, Pen("ink", 0.35), 0.0 if half else 1.5)
        # the nose that lets the halves go together one way only
        drawing.rect(_LEFT + wide / 2 - 4, top + _HIGH + 1.2, 8, 1.6, Pen("ink", 0.35, "paper"))
        order = list(pairs.items())
        for place, (cavity, pair) in enumerate(order[::-1] if turned else order):
            wire = pair[0 if turned else 1]
            x = _LEFT + place * CAVITY
            drawing.rect(x + 0.6, top + 0.6, CAVITY - 1.2, _HIGH - 0.2, Pen("ink", 0.25, "paper"))
            drawing.text(x + 3.4, top + 5.6, shorten(cavity, 3), SIZE, "middle", bold=True)
            if wire is None:
                drawing.text(x + 10.2, top + 5.6, "–", SIZE, "middle", ink="soft")
                continue
            drawing.circle(x + 10.2, top + 4.7, 2.6, Pen("ink", 0.25, colour_hex(wire.colour)))
            label = f"{wire.number} {wire.colour}"
            drawing.text(x + CAVITY / 2, top + _HIGH + 7.0, label, SIZE, "middle")
    return drawing
