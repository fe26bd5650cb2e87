"""What is named where a part finds no place goes in and works there, and is of its family."""

from __future__ import annotations

import itertools
from pathlib import Path

from fitplan.files.read import read_train
from fitplan.model.part import Part
from fitplan.planning.of_its_family import MOST_NAMED, others_of_its_family, words_for
from fitplan.planning.run_state import PlanningRun
from fitplan.planning.suitability import Suitability

ROOM = (144.0, 32.0, 28.8)
VAN = """vehicle: Van
kind: railcar
footprint: 20 x 6
floor finish: smooth
mass: 200
base: 5 plates
layers:
  - {name: floor, rows: "#"}
  - {name: walls, plates: 9, mirrored: yes, rows: ["####################", "#..................# x2"]}
  - {name: roof, rows: "#"}
openings: [{name: roof, box: {from: [8, 8, 48], to: [152, 40, 51.2]}, out: up}]
wheels: {kind: axles, at: [32, 128], radius: 7}
"""
TRAIN = """train: van
vehicles: [{name: van, file: van.yaml}]
needs:
  - {name: brain, part: controller-large-54}
  - {name: bank, part: bank-flat}
nets:
  - {name: lead, role: supply, lead: lead-usb-a-mini-b, joins: [bank.plus, board.USB]}
running: {speed: 100}
"""


def goes_in(part: Part) -> bool:
    """Whether the box round a part goes into the room in some turning."""
    turned = itertools.permutations(part.bounds.size)
    return any(all(a <= b for a, b in zip(size, ROOM, strict=True)) for size in turned)


def test_others_of_a_family_go_in_and_take_the_same_leads(tmp_path: Path) -> None:
    """Of the family the largest that go in: boxes in turnings refute all that are larger and not named.

    In place of the flat bank the stick, with the lead's plug in.
    """
    (tmp_path / "van.yaml").write_text(VAN, encoding="utf-8")
    text = TRAIN.replace("controller-large-54", "controller-compact-5v").replace("board.USB", "brain.USB")
    for needs, name, largest in (
        (TRAIN.partition("nets:")[0], "brain", "controller-mid-5v"),
        (text, "bank", ""),
    ):
        path = tmp_path / f"{name}.yaml"
        path.write_text(
            needs if "running" in needs else f"{needs}running: {{speed: 100}}\n", encoding="utf-8"
        )
        train = read_train(path)
        need = train.need(name)
        assert not goes_in(need.candidates[0])
        found = others_of_its_family(need, PlanningRun.of(train), Suitability(train), ())
        assert 0 < len(found) <= MOST_NAMED
        for part, vehicle in found:
            assert vehicle == "van"
            assert part.family == need.candidates[0].family
            assert goes_in(part)
            assert part.id.removesuffix("-plugged") in words_for(found)
        assert words_for(found).endswith("would go into the van")
        if largest:
            assert not goes_in(train.catalogue[largest])
            assert largest not in words_for(found)
        else:
            assert [part.id for part, _ in found] == ["bank-stick-plugged"]
    assert words_for(()) == ""
