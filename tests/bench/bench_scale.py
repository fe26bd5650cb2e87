"""Long trains: processor time and memory from 1 vehicle on, and one choice for ten vehicles with forty parts.

Run it with ``python -m tests.bench.bench_scale [MOST]``; trains of 1, 2, 4 … MOST vehicles (16 if not
given) are planned whole, each in a process of its own, and the exponent of processor time is that of a
straight line through the logarithms from 2 vehicles on (aim 1.1, memory below 1 GB at 32). The choice
stands beside first fit, which puts each part into the first vehicle that still holds it and never looks
back.
"""

from __future__ import annotations

import math
import random
import resource
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context

from fitplan.files.catalogue import read_catalogue
from fitplan.model.needed import Need
from fitplan.model.train import Train
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.rebuild import pack_with_rebuild
from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.choice import choose
from fitplan.planning.run import plan_train
from tests.packing.small_trains import block, hollow, train_of

VEHICLES, PARTS = 10, 40


def first_fit(packer: Packer, names: list[str], needs: tuple[Need, ...]) -> int:
    """Put each part into the first vehicle that holds it beside what is there already."""
    inside: dict[str, list[Wanted]] = {name: [] for name in names}
    for need in needs:
        for name in names:
            tried = (*inside[name], Wanted(need, need.candidates[0]))
            if packer.holds(name, tried):
                inside[name].append(tried[-1])
                break
    return sum(len(wanted) for wanted in inside.values())


def long_train(count: int) -> Train:
    """Return a train of equal vehicles with four parts in each, joined inside it and with the next one."""
    vehicles = tuple(hollow(f"v{i}", 14, 6, 9, kind="loco" if i == 0 else "wagon") for i in range(count))
    sizes = ((24.0, 16.0, 9.0), (18.0, 10.0, 6.0), (12.0, 12.0, 5.0), (30.0, 8.0, 4.0))
    needs = tuple(
        Need(f"n{i}_{k}", (block(f"b{k}", size, pins=4),), vehicles=(f"v{i}",))
        for i in range(count)
        for k, size in enumerate(sizes)
    )
    nets = [(f"in{i}", tuple(f"n{i}_{k}.p0" for k in range(4))) for i in range(count)]
    nets += [(f"on{i}_{k}", (f"n{i}_{k}.p1", f"n{i + 1}_{k}.p2")) for i in range(count - 1) for k in range(2)]
    bare = train_of(vehicles, needs, tuple(nets))
    parts = {need.candidates[0].id: need.candidates[0] for need in needs}
    return replace(bare, catalogue={**read_catalogue(), **parts})


def planned(count: int) -> tuple[float, float, int, int]:
    """Plan a long train; return processor seconds, peak MB, wires and pins that were not reached."""
    start = time.process_time()
    plan = plan_train(long_train(count))
    spent = time.process_time() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    return spent, peak, len(plan.built.harness.wires), len(plan.unreached)


def scaling(most: int) -> None:
    """Print a row for each length of train, and the exponent."""
    print("vehicles  processor s   MB  wires  not reached")
    found: list[tuple[int, float]] = []
    count = 1
    while count <= most:
        with ProcessPoolExecutor(1, get_context("spawn")) as pool:
            spent, peak, wires, lost = pool.submit(planned, count).result()
        print(f"{count:8d} {spent:12.1f} {peak:5.0f} {wires:6d} {lost:12d}", flush=True)
        found.append((count, spent))
        count *= 2
    points = [(math.log(n), math.log(s)) for n, s in found if n > 1]
    if len(points) > 1:
        x, y = (sum(values) / len(points) for values in zip(*points, strict=True))
        slope = sum((a - x) * (b - y) for a, b in points) / sum((a - x) ** 2 for a, _ in points)
        print(f"exponent of processor time {slope:.2f} (aim 1.1)")


def main() -> None:
    """Print the figures."""
    scaling(int(sys.argv[1]) if len(sys.argv) > 1 else 16)
    rng = random.Random(7)
    vehicles = tuple(hollow(f"v{i}", 16, 6, 12, kind="loco" if i == 0 else "wagon") for i in range(VEHICLES))
    needs = tuple(
        Need(f"n{i}", (block(f"b{i}", (rng.randint(15, 50), rng.randint(10, 28), rng.randint(5, 20))),))
        for i in range(PARTS)
    )
    nets = tuple((f"net{i}", tuple(f"n{k}.p0" for k in rng.sample(range(PARTS), 3))) for i in range(30))
    train = train_of(vehicles, needs, nets)
    names = [vehicle.name for vehicle in vehicles]

    start = time.perf_counter()
    plain = first_fit(Packer(dict(zip(names, vehicles, strict=True))), names, needs)
    reference = time.perf_counter() - start

    packer = Packer(dict(zip(names, vehicles, strict=True)))
    start = time.perf_counter()
    decision = choose(
        train,
        lambda name, wanted: pack_with_rebuild(packer, name, wanted),
        lambda parts: "",
        # No vehicle here has a brick that comes out.
        holds=lambda name, wanted, opened: not opened and packer.holds(name, wanted),
    )
    spent = time.perf_counter() - start
    print(f"first fit   {reference:6.2f} s   {plain} of {PARTS} parts placed")
    print(
        f"one choice  {spent:6.2f} s   {len(decision.best.placements)} of {PARTS} parts placed,"
        f" {decision.best.costs.vehicles_opened} vehicles opened, proved best: {decision.proved},"
        f" ratio {spent / reference:.1f}"
    )


if __name__ == "__main__":
    main()
