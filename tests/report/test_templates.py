"""Templates are true to size: windows, ports and eyes lie where the vehicle has them."""

from __future__ import annotations

from fitplan.model.plan import Plan
from fitplan.report.drawings.drawing import Circle, Rect
from fitplan.report.drawings.templates import plug_labels, template_drawings


def test_windows_and_ports_stand_at_true_size_in_true_places(harbour_plan: Plan) -> None:
    """Each window and port of an end is drawn 1:1, as far from the middle and above the foot as it is."""
    drawn = {sheet.title: sheet for sheet in template_drawings(harbour_plan)}
    seen = 0
    for entry in harbour_plan.built.train.vehicles:
        shape = entry.vehicle
        for out, name in (("+x", "front"), ("-x", "rear")):
            wanted = [one for one in (*shape.windows, *shape.ports) if one.out == out]
            if not wanted:
                assert f"{entry.name}, {name}, from outside" not in drawn
                continue
            sheet = drawn[f"{entry.name}, {name}, from outside"]
            boxes = [one for one in sheet.shapes if isinstance(one, Rect)]
            edge = max((one for one in boxes if abs(one.w - shape.width) < 1e-6), key=lambda one: one.h)
            for one in wanted:
                low, high = one.box.low, one.box.high
                # From the front the vehicle's left, where y grows, is at the right hand.
                left = shape.width - high[1] if name == "rear" else low[1]
                assert any(
                    abs(box.w - (high[1] - low[1])) < 1e-6
                    and abs(box.h - (high[2] - low[2])) < 1e-6
                    and abs(box.x - edge.x - left) < 1e-6
                    and abs(edge.y + edge.h - box.y - box.h - (low[2] - shape.base)) < 1e-6
                    for box in boxes
                ), (entry.name, one.name)
                seen += 1
    assert seen > 3
    circles = [one for sheet in drawn.values() for one in sheet.shapes if isinstance(one, Circle)]
    assert len(circles) >= 2
    assert len(plug_labels(harbour_plan)) == 2 * sum(
        bool(c.connector) for c in harbour_plan.built.harness.crossings
    )
