"""The simplest build of all, as makers load it: twenty variants, planned and held or refused with a reason.

    python -m tests.bench.bench_loads [--only NAME …] [--seconds 200]

Varied are the bank (stick or flat), where it lies with its board, the rangers (lying or standing on their
ends), the wagon (sides as drawn, high, none; turned round), whether the bank is plugged in or its lead is
cut, and the iron. A variant that is planned must be held by the independent checker; one that is refused says
which part, pin or wire stands in the way. Each runs in a process of its own, its processor time bounded.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from multiprocessing.connection import Connection
from pathlib import Path

from fitplan.errors import FitplanError
from fitplan.files.find import examples_folder
from fitplan.files.read import read_train
from fitplan.model.solids import Direction
from fitplan.model.train import Train
from fitplan.planning.run import PlanOptions, plan_train
from tests.hidden.measure import bound, doubts_of, in_a_process, missing_in

Change = tuple[str, str, str]
"""File, text, and what stands there instead."""
_FLAT: Change = ("train.yaml", "part: bank-stick", "part: bank-flat")
_IN_ENGINE: Change = (
    "train.yaml",
    "part: controller-compact-5v, in: [wagon]",
    "part: controller-compact-5v, in: [engine]",
)
_SMOOTH: Change = ("engine.yaml", "floor finish: studded", "floor finish: smooth")
_TILED: Change = (
    "wagon.yaml",
    "solids:\n",
    "solids:\n  - {smooth: yes, box: {from: [200, 16, 19.2], to: [208, 32, 22.4]}}  # in the wire hole\n",
)
_TALL_END: Change = (
    "wagon.yaml",
    "box: {from: [0, 0, 22.4], to: [8, 48, 48]}",
    "box: {from: [0, 0, 22.4], to: [8, 48, 80]}",
)
_BOTH_IN_ENGINE: Change = ("train.yaml", "part: bank-stick, in: [wagon]", "part: bank-stick, in: [engine]")
_HIGH: Change = ("wagon.yaml", ", 32]}}", ", 51.2]}}")
_TURNED: Change = ("train.yaml", "file: wagon.yaml}", "file: wagon.yaml, turned: yes}")
_CUT: Change = (
    "train.yaml",
    "{name: bank lead, role: supply, lead: lead-usb-a-mini-b, joins: [bank.plus, brain.USB]}",
    "{name: five volts, role: supply,"
    " joins: [bank.plus, brain.5V, front eyes.VCC, rear eyes.VCC, work lights.VCC]}",
)
_NONE: Change = ("wagon.yaml", "solids:\n", "unused:\n")
_UP: Change = ("train.yaml", "lead-usb-a-mini-b,", "lead-usb-a-mini-b-up,")
_NO_IRON: tuple[Change, ...] = (
    ("train.yaml", "wiring: {", "wiring: {solder: no, leads: [lead-socket-socket], "),
    ("train.yaml", "part: controller-compact-5v,", "part: controller-compact-5v-pins,"),
    ("train.yaml", "front eyes, part: ranger-two-eyed-bare", "front eyes, part: ranger-one-eyed-leads"),
    ("train.yaml", "ranger-two-eyed-bare", "ranger-two-eyed-pins"),
    ("train.yaml", "emitter-5mm", "emitter-5mm-leads"),
    ("train.yaml", "part: lamp-strip", "part: lamp-strip-leads"),
    (
        "train.yaml",
        "wire-awg24, coupling connector: connector-6-keyed",
        "wire-awg28, coupling connector: connector-6-pins",
    ),
    (
        "train.yaml",
        "usual nets: yes\nnets:\n",
        "  - {name: rails, part: junction-two-rails-of-pins, in: [wagon]}\n"
        "  - {name: ground strip, part: junction-one-rail-of-pins, in: [engine]}\n"
        "nets:\n"
        "  - {name: ground, role: ground, joins: [brain.GND, bank.minus, front eyes.GND, rear eyes.GND,"
        " emitter.GND, work lights.GND, rails.G1, ground strip.P1]}\n"
        "  - {name: five volts, role: supply, joins: [brain.5V, front eyes.VCC, rear eyes.VCC,"
        " work lights.VCC, rails.P1]}\n"
        + "".join(
            f"  - {{name: {eyes} {pin.lower()}, role: signal, joins: [brain.*, {eyes}.{pin}]}}\n"
            for eyes in ("front eyes", "rear eyes")
            for pin in ("TRIG", "ECHO")
        )
        + "  - {name: emitter, role: signal, joins: [brain.*, emitter.IN]}\n",
    ),
)
VARIANTS: dict[str, tuple[tuple[Change, ...], Direction | None]] = {
    "as it is": ((), None),
    "high sides": ((_HIGH,), None),
    "no sides": ((_NONE,), None),
    "wagon turned": ((_TURNED,), None),
    "rangers standing": ((), "+y"),
    "the bank's lead cut": ((_CUT,), None),
    "the board's plug leaves upwards": ((_UP,), None),
    "board in the engine, bank on the deck": ((_IN_ENGINE,), None),
    "board in the engine, its floor smooth, bank on the deck": ((_IN_ENGINE, _SMOOTH, _TILED), None),
    "board in the engine, the bank's lead cut": ((_IN_ENGINE, _CUT), None),
    "board and bank in the engine": ((_IN_ENGINE, _BOTH_IN_ENGINE), None),
    "no iron": (_NO_IRON, None),
    "no iron, no sides": ((*_NO_IRON, _NONE), None),
    "flat bank": ((_FLAT,), None),
    "flat bank, high sides": ((_FLAT, _HIGH), None),
    "flat bank, no sides": ((_FLAT, _NONE), None),
    "flat bank, wagon turned": ((_FLAT, _TURNED), None),
    "flat bank, no sides, rear ranger standing": ((_FLAT, _NONE, _TALL_END), "+y"),
    "flat bank, its lead cut, no sides": ((_FLAT, _CUT, _NONE), None),
    "flat bank, board in the engine, its lead cut, no sides": ((_FLAT, _IN_ENGINE, _CUT, _NONE), None),
    "flat bank, no iron, no sides": ((_FLAT, *_NO_IRON, _NONE), None),
}


def variant(name: str) -> Train:
    """Return the train of a variant, read from changed files.

    Raises
    ------
    KeyError
        When a change finds no text to change.
    """
    changes, up = VARIANTS[name]
    with tempfile.TemporaryDirectory() as folder:
        for file in (examples_folder() / "clay-run").glob("*.yaml"):
            text = file.read_text(encoding="utf-8")
            for where, old, new in changes:
                if where != file.name:
                    continue
                if old not in text:
                    raise KeyError(old)
                text = text.replace(old, new)
            if "unused:" in text:
                text = text[: text.index("unused:")] + text[text.index("windows:") :]
            (Path(folder) / file.name).write_text(text, encoding="utf-8")
        train = read_train(Path(folder) / "train.yaml")
    return replace(train, needs=tuple(_standing(train, up))) if up is not None else train


def _standing(train: Train, up: Direction) -> Iterator:  # type: ignore[type-arg]
    for need in train.needs:
        tall = {
            window.name for one in train.vehicles for window in one.vehicle.windows if window.box.size[2] > 42
        }
        if need.looks is None or (tall and need.looks[1] not in tall):
            yield need
            continue
        ways: tuple[Direction, ...] = (up, "-y")
        parts = (replace(part, mount=replace(part.mount, up=ways)) for part in need.candidates)
        yield replace(need, candidates=tuple(parts))


def main() -> None:
    """Print a line a variant, then how many ended how."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", nargs="+", default=list(VARIANTS), help="names of variants")
    parser.add_argument("--seconds", type=int, default=200, help="processor time a variant may take")
    asked = parser.parse_args()
    counts: Counter[str] = Counter()
    for name in asked.only:
        told = in_a_process(_plan, name, asked.seconds)
        kind, text, seconds = told[0] if told else ("no answer", "", asked.seconds)
        counts[kind] += 1
        print(f"{name}: {kind}, {seconds:.1f} s: {text}", flush=True)
    print("; ".join(f"{kind} {count}" for kind, count in sorted(counts.items())))


def _plan(pipe: Connection, name: str, seconds: int) -> None:
    """Plan a variant and send how it ended, why, and its processor time."""
    began = bound(seconds)
    try:
        plan = plan_train(variant(name), PlanOptions())
    except FitplanError as error:
        pipe.send(("refused with a reason", str(error), bound(600) - began))
        return
    spent = bound(600) - began
    missing, doubts = missing_in(plan), doubts_of(plan)
    if doubts:
        pipe.send(("does not hold", "; ".join(doubts[:3]), spent))
    elif missing:
        pipe.send(("refused with a reason", f"{plan.verdict}: {'; '.join(missing[:3])}", spent))
    else:
        stops = [f"{one.where}: {one.message}" for one in plan.findings if one.severity == "stop"]
        kind = "planned, and held" if plan.works else "refused with a reason"
        pipe.send((kind, "; ".join([plan.verdict, *stops[:3]]), spent))


if __name__ == "__main__":
    main()
