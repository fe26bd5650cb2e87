"""A train on the terminal as it was read: vehicles layer by layer, needs and nets."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from fitplan.model.solids import Direction
from fitplan.model.train import Train
from fitplan.model.vehicle import OPEN_SIDES, Port, Vehicle
from fitplan.packing.access.openings import Gap, gaps
from fitplan.report.lists.wording import edges_word, number, shorten
from fitplan.report.terminal.layer_text import layers_text
from fitplan.report.terminal.tables import LONGEST, plain_table


def _open_sides(vehicle: Vehicle) -> str:
    """Return the largest gap of each open side with its size, and how many more there are."""
    by_side: dict[Direction, list[Gap]] = {}
    for gap in gaps(vehicle):
        by_side.setdefault(gap.out, []).append(gap)
    found = []
    for out, own in by_side.items():
        size = edges_word(own[0].size)
        more = f" and {len(own) - 1} smaller" if len(own) > 1 else ""
        found.append(f"{OPEN_SIDES[out].removeprefix('the open ')} {size} mm{more}")
    return ", ".join(found)


def _port(port: Port) -> str:
    """Return a port by its name; of an end where no brick is, with the size of the gap that wires have."""
    if not port.is_open_end:
        return port.name
    return f"{port.name} ({edges_word(port.opening)} mm, no brick is there)"


def print_train(train: Train, console: Console) -> None:
    """Print what was read: the vehicles layer by layer, the needs and the nets."""
    console.print(Text(shorten(train.name, 100), "bold"))
    for entry in train.vehicles:
        vehicle = entry.vehicle
        size = f"{vehicle.studs_long} × {vehicle.studs_wide} studs, {number(vehicle.mass_g)} g"
        turned = ", its front looks backwards" if entry.turned else ""
        console.print()
        console.rule(
            Text(f"{shorten(entry.name, 40)}: {shorten(vehicle.name, 40)} ({size}{turned})"), align="left"
        )
        console.print(layers_text(vehicle))
        found = [
            f"openings: {', '.join(o.name for o in vehicle.openings) or 'none'}",
            f"open sides, ways in without opening anything: {_open_sides(vehicle) or 'none'}",
            f"windows: {', '.join(w.name for w in vehicle.windows) or 'none'}",
            f"ports: {', '.join(map(_port, vehicle.ports)) or 'none'}",
            f"built in: {', '.join(b.name for b in vehicle.built_in) or 'nothing'}",
        ]
        for line in found:
            console.print(Text(shorten(line, LONGEST)))
    console.print()
    needs = plain_table(("need", "may be", "goes into", "looks or sits"))
    for need in train.needs:
        where = need.looks or need.sits or ()
        ids = ", ".join(part.id for part in need.candidates)
        vehicles = ", ".join(need.vehicles) or "any"
        needs.add_row(
            shorten(need.name, 40), shorten(ids, 160), shorten(vehicles, 60), shorten(" / ".join(where), 80)
        )
    console.print(needs)
    nets = plain_table(("net", "role", "joins"))
    for net in train.nets:
        joins = ", ".join(f"{end.owner}.{end.pin}" for end in net.joins)
        nets.add_row(shorten(net.name, 40), net.role, shorten(joins, 200))
    console.print(nets)
