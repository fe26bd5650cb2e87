"""Trains as a maker draws them in an evening: bodies from the ruler's forms, the usual parts, and no answer.

Nothing says that such a train can be planned; much may be wrong with it, as with a first drawing: windows too
small, too few cells, a board of other volts. What can be asked is that each is planned, or refused with a
reason, and that whatever comes out holds.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

from fitplan.meshes.forms import measure
from fitplan.meshes.vehicle_text import vehicle_yaml
from fitplan.model.solids import Box
from fitplan.model.vehicle import BodySolid, BuiltIn, Face, Vehicle, Window
from fitplan.units import PLATE, STUD

_LOCOS = ("hood loco", "cab loco", "railcar", "cab loco", "boiler loco")
_WAGONS = ("box wagon", "open wagon", "flat wagon", "box wagon")
_NAMES = ("wagon", "van", "tail")
_BOARDS = (
    "[controller-compact-5v, controller-small-5v]",
    "[controller-small-5v, controller-compact-5v, controller-mid-5v]",
    "[controller-wireless-small, controller-compact-5v]",
)
_RANGERS = ("ranger-two-eyed", "ranger-two-eyed-bare", "ranger-one-eyed", "sensor-time-of-flight-far")
_SUPPLIES = (
    ("cells, choose: {parts: [cells-aaa-4, cells-aaa-4-stack, cells-aa-4-stack], hours: 1}",
     "lift, part: regulator-step-up-down-5v", "switch, part: switch-slide"),
    ("cells, choose: {parts: [cells-aa-2, cells-aa-2-stack, cells-aa-4-stack], hours: 1}",
     "lift, part: regulator-step-up-5v", "switch, part: switch-slide",
     "fuse, part: junction-resettable-fuse"),
    ("bank, choose: [bank-stick, bank-flat]", "lights, part: lamp-strip"),
    ("cells, part: cells-9v-block", "down, part: regulator-step-down-5v-tiny",
     "switch, part: switch-slide-small"),
    ("cells, part: cells-18650-1-protected", "lift, part: regulator-step-up-5v",
     "fuse, part: junction-resettable-fuse", "switch, part: switch-slide"),
)  # fmt: skip


@dataclass
class _Sketch:
    """A train while it is drawn: its files by name, and the rows of what must be built in."""

    files: dict[str, Vehicle] = field(default_factory=dict)
    needs: list[str] = field(default_factory=list)

    def need(self, text: str) -> None:
        """Add a need, told without its braces."""
        self.needs.append(f"  - {{name: {text}}}")


def write_measured_train(seed: int, folder: Path) -> Path:
    """Write a random train's files into a folder; return its train file."""
    rng = random.Random(seed)
    sketch = _Sketch()
    wide, form = rng.choice([5, 6, 6, 6, 7, 8]), rng.choice(_LOCOS)
    sketch.need(f"brain, choose: {rng.choice(_BOARDS)}")
    both_ends = _draw_loco(rng, sketch, form, wide)
    count = 0 if form == "railcar" else rng.choice([0, 1, 1, 2, 2, 3])
    count = max(count, 1) if form == "boiler loco" else count
    for number, name in enumerate(_NAMES[:count]):
        _draw_wagon(rng, sketch, name, wide, last=number == count - 1)
    if not count and both_ends:
        sketch.need("rear eyes, part: sensor-time-of-flight-far, looks: loco/rear window")
    sketch.need(
        f"emitter, part: {rng.choice(['emitter-5mm', 'emitter-3mm'])}, sits: loco/receiver/eye, duty: 0.2"
    )
    for text in rng.choice(_SUPPLIES):
        sketch.need(text)
    for number in range(rng.choice([0, 1, 2])):
        sketch.need(f"lamp {number + 1}, part: lamp-3mm, in: [{rng.choice(list(sketch.files))}]")
    for name, vehicle in sketch.files.items():
        (folder / f"{name}.yaml").write_text(vehicle_yaml(vehicle), encoding="utf-8")
    path = folder / "train.yaml"
    path.write_text("\n".join([*_rows(rng, seed, sketch)]) + "\n", encoding="utf-8")
    return path


def _rows(rng: random.Random, seed: int, sketch: _Sketch) -> Iterator[str]:
    eyes = sum(" eyes," in row for row in sketch.needs)
    yield f"train: Measured {seed}"
    yield "vehicles:"
    yield from (f"  - {{name: {name}, file: {name}.yaml}}" for name in sketch.files)
    yield "needs:"
    yield from sketch.needs
    yield "usual nets: yes"
    yield f"track: {{radius: 40 studs, gradient: {rng.choice([0, 1, 3])}}}"
    yield (
        f"running: {{speed: {rng.choice([200, 250])}, speed in curves: 70, deceleration: 450, hours: 1,"
        f" push pull: {'yes' if eyes == 2 else 'no'}}}"
    )
    if rng.random() < 0.3:
        yield "may open: yes"
    if rng.random() < 0.4:
        yield "wiring: {coupling connector: connector-6-keyed}"


def _draw_loco(rng: random.Random, sketch: _Sketch, form: str, wide: int) -> bool:
    """Draw a loco with a motor and a receiver on it; tell whether it looks out at both ends."""
    answers = {"wide": wide, "long": rng.choice([18, 20, 22, 24, 26, 28])}
    if form == "hood loco":
        answers |= {"inset": rng.choice([0, 0, 1]) if wide > 5 else 0, "hood": rng.choice([8, 9, 10])}
        answers |= {"cab": rng.choice([5, 6]), "ahead": rng.choice([8, 10])}
    elif form == "boiler loco":
        answers |= {"diameter": rng.choice([36, 40])}
    else:
        answers |= {"walls": rng.choice([10, 12, 14]), "sill": rng.choice([2, 3])}
    vehicle = replace(measure(form, answers, name="loco"), mass_g=220.0)
    start, long = 4 * STUD, 40.0
    if form == "hood loco":
        start, long = (answers["long"] - answers["ahead"] - answers["cab"] + 1) * STUD + 4.0, 16.0
    elif form == "boiler loco":
        start, long = STUD + 4.0, 24.0
    elif rng.random() < 0.6:
        start = answers["long"] * STUD / 2 - 16.0
    vehicle = replace(vehicle, built_in=_motor(rng, vehicle, start, long))
    if form != "boiler loco":
        floor = vehicle.base + PLATE
        vehicle = _with_gap(
            vehicle, "nose", floor + rng.choice([1, 2]) * PLATE, 6, answers.get("inset", 0), front=True
        )
        sketch.need(f"front eyes, part: {rng.choice(_RANGERS)}, looks: loco/nose")
    sketch.files["loco"] = vehicle
    return form in ("cab loco", "railcar")


def _motor(rng: random.Random, vehicle: Vehicle, start: float, long: float) -> tuple[BuiltIn, ...]:
    """Return a motor on the floor, and a receiver on it with its eye upwards; 4 mm clear on either side."""
    floor, middle = vehicle.base + PLATE, vehicle.studs_wide * STUD / 2
    half = min(16.0, middle - STUD - 4.0)
    levels = (floor, floor + 4 * PLATE, floor + 6 * PLATE)
    low, high = (
        Box((start, middle - half, z0), (start + long, middle + half, z1))
        for z0, z1 in (levels[:2], levels[1:])
    )
    at = start + long / 2
    eye = Face("eye", Box((at - 1, middle - 1, levels[2]), (at + 1, middle + 1, levels[2])), "+z")
    stall, current = rng.choice([700.0, 900.0, 1300.0]), rng.choice([150.0, 220.0, 300.0])
    return (
        BuiltIn("motor", "motor", (low,), mass_g=62.0, stall_ma=stall, current_ma=current),
        BuiltIn("receiver", "receiver", (high,), (eye,), mass_g=20.0, current_ma=12.0),
    )


def _draw_wagon(rng: random.Random, sketch: _Sketch, name: str, wide: int, *, last: bool) -> None:
    form = rng.choice(_WAGONS)
    answers = {"wide": wide, "long": rng.choice([16, 18, 20, 24])}
    if form != "flat wagon":
        answers["walls"] = rng.choice([10, 12]) if form == "box wagon" else rng.choice([3, 6, 9])
    vehicle = measure(form, answers, name=name)
    if last:
        floor = vehicle.base + PLATE * (2 if form == "flat wagon" else 1)
        sill = floor + PLATE if form == "box wagon" else floor
        vehicle = _with_gap(vehicle, "rear end", sill, 7, 0, front=False)
        sketch.need(f"rear eyes, part: {rng.choice(_RANGERS)}, looks: {name}/rear end")
    sketch.files[name] = vehicle


def _with_gap(vehicle: Vehicle, name: str, sill: float, plates: int, inset: int, *, front: bool) -> Vehicle:
    """Return a vehicle with an end wall opened over its width, and its sides two studs behind that."""
    long, wide = vehicle.studs_long * STUD, vehicle.studs_wide * STUD
    y0, y1, top = inset * STUD, wide - inset * STUD, sill + plates * PLATE
    wall, behind = (
        ((long - STUD, long), (long - 3 * STUD, long - STUD)) if front else ((0.0, STUD), (STUD, 3 * STUD))
    )
    gap = Box((wall[0], y0, sill), (wall[1], y1, top))
    sides = [Box((behind[0], a, sill), (behind[1], a + STUD, top)) for a in (y0, y1 - STUD)]
    clear = tuple(BodySolid(box, "free") for box in (gap, *sides))
    window = Window(name, gap, "+x" if front else "-x")
    return replace(vehicle, body=(*vehicle.body, *clear), windows=(*vehicle.windows, window))
