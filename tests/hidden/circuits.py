"""What is built in and which pins are joined: circuits of the usual kinds, from the bundled catalogue."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass, field

from fitplan.model.nets import Net, NetRole, PinRef
from fitplan.model.part import Part

CELLS_OF_SIX_VOLTS = ("cells-aaa-4-stack", "cells-aa-4-stack", "cells-aaa-4", "cells-aa-4", "cells-9v-block")
CELLS_TO_STEP_UP = (
    "cells-aa-2", "cells-aaa-2", "cells-aaa-2-stack", "cells-aa-2-stack", "cells-aa-3", "cells-aaa-3",
    "cells-aa-2-row", "cells-aaa-2-row", "cells-18650-1", "pouch-603040", "pouch-103450",
)  # fmt: skip
BANKS = ("bank-stick", "bank-flat")
STEP_UPS = (
    "regulator-step-up-5v", "regulator-step-up-5v-tiny", "regulator-step-up-adjustable",
    "regulator-step-up-down-5v",
)  # fmt: skip
STEP_DOWNS = ("regulator-step-down-5v-tiny", "regulator-linear-5v", "regulator-linear-5v-low-drop")
CONTROLLERS = (
    "controller-compact-5v", "controller-small-5v", "controller-small-5v-usb", "controller-stamp-5v",
    "controller-mid-5v",
)  # fmt: skip
LARGE_CONTROLLERS = ("controller-54-dense", "controller-large-54")
SWITCHES = ("switch-slide-small", "switch-slide", "switch-push", "switch-rocker")
EYES = ("ranger-one-eyed", "ranger-two-eyed-bare", "ranger-two-eyed", "sensor-time-of-flight",
        "sensor-time-of-flight-far")  # fmt: skip
LAMPS = ("lamp-5mm", "lamp-3mm")
LOOSE = ("sounder-12mm", "sounder-disc", "sensor-hall-switch", "lamp-strip", "driver-single")
OF_COACHES = ("lamp-strip", "lamp-strip", "lamp-strip", "sensor-hall-switch", "sounder-disc")
"""What lit coaches hold: three of five are lamps."""
EMITTERS = ("emitter-5mm", "emitter-3mm")


@dataclass
class Circuit:
    """Parts by need, and the nets; ``looks`` names those that look out of an end of the train.

    ``ends`` of ``looks``: 0 for the front of the train, 1 for its rear.
    """

    parts: dict[str, Part] = field(default_factory=dict)
    nets: dict[str, tuple[NetRole, list[str]]] = field(default_factory=dict)
    looks: dict[str, int] = field(default_factory=dict)
    emitter: str = ""
    motor_for: str = ""
    together: list[str] = field(default_factory=list)
    """Needs of the supply, which makers like to have in one vehicle."""

    def join(self, net: str, role: NetRole, *ends: str) -> None:
        """Add ends to a net."""
        self.nets.setdefault(net, (role, []))[1].extend(ends)

    def as_nets(self) -> tuple[Net, ...]:
        """Return the nets with two ends or more."""
        return tuple(
            Net(name, role, tuple(PinRef(*end.rsplit(".", 1)) for end in ends))
            for name, (role, ends) in self.nets.items()
            if len(ends) > 1
        )


def draw_circuit(
    rng: random.Random,
    catalogue: Mapping[str, Part],
    parts: int,
    most_wide: float,
    loose: tuple[str, ...] = LOOSE,
) -> Circuit:
    """Draw a circuit of about so many parts, none wider than ``most_wide`` mm whichever way it lies.

    ``loose`` are the ids that it is filled up with.
    """

    def pick(ids: tuple[str, ...]) -> Part:
        fitting = [id_ for id_ in ids if sorted(catalogue[id_].bounds.size)[1] <= most_wide]
        return catalogue[rng.choice(fitting)]

    made = Circuit()
    made.parts["brain"] = pick(CONTROLLERS if parts < 13 else LARGE_CONTROLLERS)
    made.join("ground", "ground", "brain.ground")
    kind = rng.choice(("raw", "raw", "step-up", "step-up", "step-down", "bank"))
    made.together = ["cells", "switch"]
    if kind == "bank":
        made.parts["cells"] = pick(BANKS)
        made.together = ["cells"]
        made.join("five volts", "supply", "cells.plus", "brain.5v")
    else:
        made.parts["cells"] = pick(CELLS_TO_STEP_UP if kind == "step-up" else CELLS_OF_SIX_VOLTS)
        made.parts["switch"] = pick(SWITCHES)
        fused = rng.random() < 0.2
        if fused:
            made.parts["fuse"] = catalogue["junction-resettable-fuse"]
            made.join("cells plus", "supply", "cells.plus", "fuse.a")
            made.join("fused", "supply", "fuse.b", "switch.a")
        else:
            made.join("cells plus", "supply", "cells.plus", "switch.a")
        if kind == "raw":
            made.join("switched", "supply", "switch.b", "brain.raw")
            made.join("five volts", "supply", "brain.5v")
        else:
            made.parts["regulator"] = pick(STEP_UPS if kind == "step-up" else STEP_DOWNS)
            made.together.append("regulator")
            made.join("switched", "supply", "switch.b", "regulator.in")
            made.join("five volts", "supply", "regulator.out", "brain.5v")
            made.join("ground", "ground", "regulator.GND")
    made.join("ground", "ground", "cells.minus")
    ends = [0, 1] if rng.random() < 0.75 else [0]
    buses = 0
    for end in ends:
        name = ("front eye", "tail eye")[end]
        part = pick(EYES)
        made.parts[name], made.looks[name] = part, end
        made.join("five volts", "supply", f"{name}.VCC")
        made.join("ground", "ground", f"{name}.GND")
        if part.id.startswith("ranger"):
            made.join(f"{name} trigger", "signal", "brain.*", f"{name}.TRIG")
            made.join(f"{name} echo", "signal", "brain.*", f"{name}.ECHO")
        else:
            buses += 1
            for net, pin in (("bus clock", "SCL"), ("bus data", "SDA")):
                made.join(net, "signal", *(["brain.*"] if buses == 1 else []), f"{name}.{pin}")
            made.join(f"{name} off", "signal", "brain.*", f"{name}.OFF")
    if rng.random() < 0.6:
        made.emitter = "emitter"
        made.parts["emitter"] = pick(EMITTERS)
        made.join("infrared", "signal", "brain.*", "emitter.IN")
        made.join("ground", "ground", "emitter.GND")
    while len(made.parts) < parts:
        number = len(made.parts)
        if (lit := {end for name, end in made.looks.items() if "lamp" in name}) != {
            0,
            1,
        } and rng.random() < 0.5:
            end = 1 if 0 in lit else 0
            name = ("headlamp", "tail lamp")[end]
            made.parts[name], made.looks[name] = pick(LAMPS), end
            made.join(name, "signal", "brain.*", f"{name}.IN")
            made.join("ground", "ground", f"{name}.GND")
            continue
        part = pick(loose)
        name = f"{part.family} {number}"
        made.parts[name] = part
        made.join("ground", "ground", f"{name}.GND")
        if part.family == "sounder":
            made.join(name, "signal", "brain.*", f"{name}.IN")
        elif part.family == "lamp":
            made.join("five volts", "supply", f"{name}.VCC")
        elif part.family == "sensor":
            made.join("five volts", "supply", f"{name}.VCC")
            made.join(name, "signal", "brain.*", f"{name}.OUT")
        else:
            made.join("five volts", "supply", f"{name}.VM")
            made.join(f"{name} forwards", "signal", "brain.*", f"{name}.AIN1")
            made.join(f"{name} backwards", "signal", "brain.*", f"{name}.AIN2")
            if not made.motor_for:
                made.motor_for = name
    return made
