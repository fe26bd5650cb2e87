"""Ten vehicles with forty parts, planned whole; beside it the same decision by trying every vehicle in turn.

Run it with ``python -m tests.bench.bench_scale``. Prints seconds, what found a place, and the ratio to the
reference: first fit, which puts each part into the first vehicle that still holds it and never looks back.
"""

from __future__ import annotations

import random
import time

from fitplan.model.train import Need
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.rebuild import pack_with_rebuild
from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.choice import choose
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


def main() -> None:
    """Print the figures."""
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
        holds=packer.holds,
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
