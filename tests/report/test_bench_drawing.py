"""Labels, connector faces and boards: true size, numbers in their places, both halves as mirror images."""

from __future__ import annotations

import math

import pytest

from fitplan.model.plan import Plan
from fitplan.report.drawings.bench_drawing import board_drawing, connector_face, label_drawings
from fitplan.report.drawings.drawing import Drawing, Label
from fitplan.report.drawings.scene import body_edges
from fitplan.report.drawings.work_drawing import work_drawing
from fitplan.report.lists.build_sequence import build_sequence

from .sample import sample_plan


@pytest.fixture(scope="module")
def plan() -> Plan:
    return sample_plan()


def texts(drawing: Drawing) -> list[tuple[float, str]]:
    return [(shape.x, shape.text) for shape in drawing.shapes if isinstance(shape, Label)]


def test_each_wire_has_a_label_at_both_ends_as_long_as_its_girth_asks(plan: Plan) -> None:
    """Two halves of 26 mm and π times the wire's diameter between them; the number stands on both halves."""
    labels = label_drawings(plan)
    wires = [wire for wire in plan.built.harness.wires for _ in range(2)]
    assert len(labels) == len(wires)
    for label, wire in zip(labels, wires, strict=True):
        assert label.width == pytest.approx(52.0 + math.pi * wire.outer_mm)
        assert [text for _, text in texts(label)].count(str(wire.number)) == 2


def test_the_halves_of_a_connector_are_mirror_images(plan: Plan) -> None:
    """Cavity 1 of one half meets cavity 1 of the other when they face each other."""
    crossing = next(one for one in plan.built.harness.crossings if one.connector)
    orders = []
    for vehicle in (crossing.ahead, crossing.behind):
        face = texts(connector_face(plan, crossing, vehicle))
        places = sorted((x, text) for x, text in face if text in {"1", "2"} and x > 0)
        orders.append([text for _, text in places][:2])
    assert orders[0][0] != orders[1][0] or len(orders[0]) < 2


def test_a_board_names_every_pin_and_the_wires_that_go_there(plan: Plan) -> None:
    """All names stand beside the outline, none upon another."""
    placement = max(plan.built.placements, key=lambda one: len(one.part.pins))
    drawing = board_drawing(plan, placement.need, placement.part)
    words = [text.split()[0] for _, text in texts(drawing)[1:]]
    assert sorted(words) == sorted(pin.name for pin in placement.part.pins)
    labels = [shape for shape in drawing.shapes if isinstance(shape, Label)][1:]
    for one in labels:
        others = [other for other in labels if other is not one and other.anchor == one.anchor]
        assert all(abs(other.y - one.y) > 3.0 for other in others)


def test_each_step_of_work_has_its_picture(harbour_plan: Plan) -> None:
    """One for each step: wires that it works at bear their numbers, lengths stand beside what is cut."""
    sequence = build_sequence(harbour_plan)
    edges = {entry.name: body_edges(harbour_plan, entry) for entry in harbour_plan.built.train.vehicles}
    laid: frozenset[int] = frozenset()
    for step, said in zip(harbour_plan.work.steps, sequence, strict=True):
        if step.act in ("place", "measure", "run", "couple"):
            laid |= frozenset(said.wires)
            continue
        drawing = work_drawing(harbour_plan, step, edges.get(step.vehicle, []), laid, 60.0, 23.0)
        said_there = {text for _, text in texts(drawing)}
        if step.spot == "table" and step.act in ("cut", "crimp", "splice"):
            assert len({text for text in said_there if text.endswith(" mm")}) >= 1, step
        if step.spot != "table" and step.vehicle:
            assert {"front", "left"} <= said_there
            own = [
                wire
                for wire in harbour_plan.built.harness.wires
                if wire.number in step.wires and any(leg.vehicle == step.vehicle for leg in wire.legs)
            ]
            # Where several run as one, there may be room for few of their numbers.
            assert not own or {str(wire.number) for wire in own} & said_there, step
        laid |= frozenset(said.wires)
