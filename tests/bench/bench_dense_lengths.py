"""Lengths of wires in dense finished harnesses beside an any-angle reference at 0.5 mm, wire by wire.

Every wire of a plan in every vehicle, between its lead-outs, against the shortest way that it could have
alone (`tests.bench.any_angle`), as laid and less the detours that the plan tells. Straight ones, which no
reference can beat by a hundredth, are counted without one.

    python -m tests.bench.bench_dense_lengths [EXAMPLE | PLAN.json …] [--hidden DIFFICULTY:SEED …]
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from fitplan.files.catalogue import read_catalogue
from fitplan.files.find import example_names, find_train
from fitplan.files.plan_json import read_plan
from fitplan.files.read import read_train
from fitplan.model.plan import Plan
from fitplan.model.wired import Wire
from fitplan.planning.run import plan_train
from fitplan.verify.scene import sites_of
from tests.bench.any_angle import Floats, Room, shortest
from tests.hidden.oracle import first_shown

LIMITS = (0.01, 0.03)


@dataclass(frozen=True)
class Row:
    """A wire in a vehicle: as laid, what of it the plan tells as a detour, and the reference, in mm."""

    wire: int
    net: str
    vehicle: str
    laid: float
    told: float
    least: float
    why: str


def rows_of(plan: Plan) -> Iterator[Row]:
    """Yield a row for each wire of a plan: its legs together."""
    sites = sites_of(plan.built)
    rooms: dict[str, Room] = {}
    for wire in plan.built.harness.wires:
        for number, leg in enumerate(wire.legs):
            way = _inner(wire, number)
            laid = float(np.linalg.norm(np.diff(way, axis=0), axis=1).sum())
            straight = float(np.linalg.norm(way[-1] - way[0]))
            least = straight
            if laid > (1 + LIMITS[0]) * straight:
                if leg.vehicle not in rooms:
                    rooms[leg.vehicle] = Room(sites[leg.vehicle])
                least = shortest(rooms[leg.vehicle], way, wire.outer_mm / 2)
            told = [entry for entry in wire.detours if entry.vehicle == leg.vehicle]
            yield Row(
                wire.number, wire.net, leg.vehicle, laid, sum(entry.more_mm for entry in told), least,
                ", ".join(entry.why for entry in told),
            )  # fmt: skip


def _inner(wire: Wire, number: int) -> Floats:
    points = list(wire.legs[number].points)
    if number == len(wire.legs) - 1 and wire.end.kind == "pin" and len(points) > 2:
        points.pop()
    if number == 0 and wire.start.kind == "pin" and len(points) > 2:
        points.pop(0)
    return np.array(points)


def shares(name: str, excess: Floats) -> str:
    """Return a line of a table: median, 95 % and most, and the shares within the limits."""
    within = ", ".join(
        f"{100 * (excess <= limit + 1e-9).mean():.1f} % within {limit:.0%}" for limit in LIMITS
    )
    middle, high = np.quantile(excess, (0.5, 0.95))
    figures = f"median {middle:+.2%}, 95 % {high:+.2%}, most {excess.max():+.1%}"
    return f"{name:18} {len(excess):4} wires: {figures}; {within}"


def main(plans: Iterator[tuple[str, Plan]]) -> None:
    """Print what is longer than told, plan by plan, then the table."""
    every: list[Row] = []
    for name, plan in plans:
        rows = list(rows_of(plan))
        for row in rows:
            # An excess below a third of a millimetre is below what the reference's grid can tell.
            if row.laid - row.told > (1 + LIMITS[0]) * row.least + 0.3:
                print(
                    f"  {name}: wire {row.wire} ({row.net}) in {row.vehicle}: {row.laid:.1f} mm, told"
                    f" {row.told:.1f} ({row.why}), reference {row.least:.1f}"
                )
        every += rows
        if rows:
            print(shares(f"{name}, laid", np.array([row.laid / row.least - 1 for row in rows])))
            print(shares(f"{name}, less told", _rest(rows)), flush=True)
    if every:
        print(shares("all, as laid", np.array([row.laid / row.least - 1 for row in every])))
        print(shares("all, less told", _rest(every)))


def _rest(rows: list[Row]) -> Floats:
    return np.array([(row.laid - row.told) / row.least - 1 for row in rows])


def _plans(names: list[str], hidden: list[str]) -> Iterator[tuple[str, Plan]]:
    for name in names or (example_names() if not hidden else []):
        if name.endswith(".json"):
            yield Path(name).stem, read_plan(Path(name))
        else:
            yield name, plan_train(read_train(find_train(name)))
    for text in hidden:
        difficulty, seed = (int(part) for part in text.split(":"))
        hidden, _, _ = first_shown(seed, difficulty, read_catalogue())
        yield text, plan_train(hidden.train)


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("names", nargs="*")
    asked.add_argument("--hidden", nargs="+", default=[])
    options = asked.parse_args()
    main(_plans(options.names, options.hidden))
