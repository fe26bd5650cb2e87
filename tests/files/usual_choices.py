"""Train files with parts to choose from, drawn from the whole catalogue, and which of these work alone."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from fitplan.files.usual_owners import NotUsualError
from fitplan.model.part import Part
from fitplan.model.train import Train
from fitplan.planning.suitability import Suitability
from tests.files.usual_trains import wired_as_usual

VAN = """vehicle: Van
kind: wagon
footprint: 20 x 8
floor finish: studded
mass: 90
mass center: [72, 24, 36]
base: 5 plates
layers:
  - {name: floor, rows: "#################### x8"}
wheels: {kind: axles, at: [28, 116], driven: [no, no], radius: 8.5}
"""


def drawn_lists(seed: int, catalogue: Mapping[str, Part]) -> dict[str, list[str]]:
    """Draw up to three parts for each need; they need not suit one another."""
    dice = random.Random(seed)
    families: dict[str, list[str]] = {}
    for one in catalogue.values():
        families.setdefault(one.family, []).append(one.id)

    def some(family: str, most: int) -> list[str]:
        ids = families[family]
        return dice.sample(ids, min(len(ids), dice.randint(1, most)))

    found = {
        "brain": some("controller", 3),
        "supply": some(dice.choice(["cells", "cells", "cells", "bank", "pouch"]), 3),
    }
    for name, family, most in (("lift", "regulator", 3), ("charger", "charger", 3), ("switch", "switch", 2)):
        if dice.random() < 0.5:
            found[name] = some(family, most)
    for number in range(dice.randint(0, 2)):
        family = dice.choice(["sensor", "lamp", "emitter", "sounder", "display", "ranger"])
        found[f"{family} {number}"] = some(family, 2)
    return found


def written_train(folder: Path, lists: Mapping[str, Sequence[str]]) -> Path:
    """Write a train of one open wagon that asks for these choices, with the usual nets."""
    (folder / "van.yaml").write_text(VAN, encoding="utf-8")
    needs = "\n".join(f"  - {{name: {name}, choose: [{', '.join(ids)}]}}" for name, ids in lists.items())
    path = folder / "train.yaml"
    path.write_text(
        f"train: A train\nvehicles: [{{name: van, file: van.yaml}}]\nneeds:\n{needs}\n"
        "usual nets: yes\nrunning: {speed: 200}\n",
        encoding="utf-8",
    )
    return path


def working_alone(
    lists: Mapping[str, Sequence[str]], catalogue: Mapping[str, Part]
) -> Iterator[tuple[str, ...]]:
    """Yield each choice of one part for each need that works, wired as is usual for just these parts."""
    for ids in itertools.product(*lists.values()):
        parts = {name: catalogue[one] for name, one in zip(lists, ids, strict=True)}
        try:
            train = wired_as_usual(parts)
        except NotUsualError:
            continue
        if not Suitability(train).why_not(parts):
            yield ids


def works(train: Train) -> bool:
    """Return whether some choice of a train's parts works together, all of them asked."""
    suitability = Suitability(train)
    return any(
        not suitability.why_not({need.name: part for need, part in zip(train.needs, parts, strict=True)})
        for parts in itertools.product(*(need.candidates for need in train.needs))
    )
