"""How the two leads of a motor may lie, all ways tried: which turn it, and what is said of the others."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest

from fitplan.circuit.motor_faults import motor_faults
from fitplan.circuit.nodes import read_circuit
from fitplan.files.catalogue import read_catalogue
from fitplan.model.nets import Net
from fitplan.model.part import Pin
from fitplan.model.solids import Box
from fitplan.model.vehicle import BuiltIn
from tests.circuit.sample_parts import need, net, train

CATALOGUE = read_catalogue()
PLACES = ("nowhere", "pin", "first output", "second output", "five", "ground")
MOTOR = BuiltIn(
    "motor",
    "motor",
    (Box((0, 0, 0), (1, 1, 1)),),
    pins=(Pin("plus", "supply", (0, 0, 0), "+z"), Pin("minus", "supply", (1, 0, 0), "+z")),
)


def wired(plus: str, minus: str) -> set[str]:
    """What is said of a motor whose leads lie in these places."""
    ends = {
        "pin": ["brain.D5"],
        "first output": ["driver.A1"],
        "second output": ["driver.A2"],
        "five": ["lift.out", "brain.5V", "driver.VM"],
        "ground": ["cells.minus", "lift.GND", "brain.GND", "driver.GND"],
        "low": ["cells.plus", "lift.in"],
    }
    needs = [
        need("cells", CATALOGUE["cells-aa-2"]),
        need("lift", CATALOGUE["regulator-step-up-5v"]),
        need("brain", CATALOGUE["controller-compact-5v"]),
        need("driver", CATALOGUE["driver-single"]),
    ]
    made = train(needs, [])
    entry = made.vehicles[0]
    home = f"{entry.name}/motor"
    for lead, place in (("plus", plus), ("minus", minus)):
        if place != "nowhere":
            ends[place].append(f"{home}.{lead}")
    role = {"pin": "signal", "ground": "ground"}
    nets: list[Net] = [net(name, role.get(name, "supply"), *to) for name, to in ends.items() if len(to) > 1]  # type: ignore[arg-type]
    vehicle = replace(entry.vehicle, built_in=(MOTOR,))
    made = replace(made, vehicles=(replace(entry, vehicle=vehicle),), nets=tuple(nets))
    return {fault.kind for fault in motor_faults(made, read_circuit(made, {}))}


@pytest.mark.parametrize(("plus", "minus"), [*product(PLACES, PLACES)])
def test_every_way_to_wire_a_motor(plus: str, minus: str) -> None:
    """Sound are two outputs, or one output against a rail; every other way is told by its own name."""
    both = {plus, minus}
    expected = set()
    if "pin" in both:
        expected.add("motor on a pin")
    if "nowhere" in both and len(both) > 1:
        expected.add("motor lead open")
    elif len(both) == 1 and both != {"nowhere"}:
        expected.add("motor leads joined")
    elif both == {"five", "ground"}:
        expected.add("motor not switched")
    assert wired(plus, minus) == expected
