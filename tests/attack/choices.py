"""An attack on what is called the best choice: random trains, weights and styles against all choices.

Vehicles hold parts by length alone, so every choice can be listed and packed; what each costs is reckoned
here from the words of the reference (conductors coupling by coupling, wire as links along the axes, grams off
the middle), not by the program. No choice may cost less than the one called best, no bound on a way to the
cheapest choice more than it, and no row of the table of options may be cheaper than its first.

    python -m tests.attack.choices [COUNT]
"""

from __future__ import annotations

import itertools
import random
import sys
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache

from fitplan.model.needed import Need
from fitplan.model.nets import Net, WiringStyle
from fitplan.model.part import Part
from fitplan.model.placed import Placement, Rebuild
from fitplan.model.solids import Box, Place, Vec, poses
from fitplan.model.train import Train, Weights
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.choice import choose
from fitplan.planning.choice_bound import Bound, Penalties, Pick
from fitplan.planning.choice_search import PackParts
from tests.packing.small_trains import block, hollow, train_of

STYLES: list[WiringStyle] = ["tree", "home-run", "chain"]
BRICK = 1.5
"""What a brick costs that is taken out."""
WEIGHTS = (0.0, 0.1, 1.0, 50.0, 1000.0, 30000.0)
Picks = Mapping[str, tuple[Part, str]]


def shelf_packer(room: float, brick_mm: float = 0.0, bricks: int = 0) -> PackParts:
    """Return a packer that lays blocks end to end and holds them while their lengths fit the room.

    Where they do not, up to ``bricks`` bricks come out, each of which makes ``brick_mm`` more room and costs
    `BRICK`.
    """

    @cache
    def pack(vehicle: str, wanted: tuple[Wanted, ...]) -> Packing:
        at, placements = 0.0, []
        for entry in sorted(wanted, key=lambda w: w.need.name):
            placements.append(
                Placement(entry.need.name, entry.part, vehicle, Place(poses()[0], (at, 8, 20)), "")
            )
            at += entry.part.bounds.size[0]
        for out in range(bricks + 1):
            if at <= room + out * brick_mm:
                names = tuple(f"brick {number}" for number in range(out))
                rebuild = Rebuild(vehicle, names, (), BRICK * out, BRICK * out, "") if out else None
                verdict = "fits after a rebuild" if out else "fits"
                return Packing(vehicle, verdict, tuple(placements), rebuild)  # type: ignore[arg-type]
        return Packing(vehicle, "cannot fit", reason="full")

    return pack


def random_train(rng: random.Random, vehicles: int = 3, needs: int = 4) -> Train:
    """Return a train with random parts, nets, styles and weights."""
    bricks = tuple(
        (f"brick {k}", Box((8.0 + 8 * k, 8.0, 19.2), (16.0 + 8 * k, 16.0, 28.8)), BRICK) for k in range(2)
    )
    bodies = tuple(
        hollow(f"v{i}", 10, 6, 9, kind="wagon" if i else "loco", removable=bricks) for i in range(vehicles)
    )
    wanted = tuple(
        Need(
            f"n{i}",
            tuple(block(f"b{i}{k}", (rng.randint(10, 40), 10.0, 10.0)) for k in range(rng.randint(1, 2))),
        )
        for i in range(needs)
    )
    nets = tuple(
        (f"net{i}", tuple(f"n{k}.p0" for k in rng.sample(range(needs), rng.randint(2, needs))))
        for i in range(4)
    )
    train = train_of(bodies, wanted, nets)
    return replace(
        train,
        nets=tuple(replace(net, style=rng.choice(STYLES)) for net in train.nets),
        weights=Weights(*(rng.choice(WEIGHTS) for _ in range(8))),
    )


def everything(train: Train) -> Iterator[dict[str, tuple[Part, str]]]:
    """Give every part of every need in every vehicle where it may go."""
    ways = [
        [(part, name) for part in need.candidates for name in need.vehicles or vehicle_names(train)]
        for need in train.needs
    ]
    for combination in itertools.product(*ways):
        yield {need.name: way for need, way in zip(train.needs, combination, strict=True)}


def vehicle_names(train: Train) -> tuple[str, ...]:
    """Return the vehicles' names from the front."""
    return tuple(entry.name for entry in train.vehicles)


# -- what a choice costs, reckoned anew -----------------------------------------------------------


def score(train: Train, pack: PackParts, picks: Picks, added: str) -> float | None:
    """Return what a choice costs; None when it does not fit."""
    homes = {need: home for need, (_, home) in picks.items()}
    there = replace(
        train, vehicles=tuple(v for v in train.vehicles if v.name != added or v.name in homes.values())
    )
    placements: list[Placement] = []
    bricks = 0.0
    for name in dict.fromkeys(homes.values()):
        wanted = tuple(Wanted(train.need(need), part) for need, (part, home) in picks.items() if home == name)
        packing = pack(name, wanted)
        if not packing.holds:
            return None
        placements.extend(packing.placements)
        bricks += packing.rebuild.cost if packing.rebuild is not None else 0.0
    weights = train.weights
    off_balance = sum(_off_balance(there, name, placements) for name in set(homes.values()))
    return (
        weights.vehicles_opened * len(set(homes.values()))
        + weights.wagons_added * (added in homes.values())
        + weights.conductors_across * sum(conductors(there, net, homes) for net in there.nets)
        + weights.bricks_removed * bricks
        + weights.wire_metres * sum(_wire(there, net, placements) for net in there.nets) / 1000
        + weights.mass_off_balance * off_balance
        + weights.later_in_list * sum(_places_down(train, need, part) for need, (part, _) in picks.items())
    )


def _places_down(train: Train, need: str, part: Part) -> int:
    """Return how many candidates stand ahead of a part in its list; no part is named in two forms here."""
    return [one.id for one in train.need(need).candidates].index(part.id)


def conductors(train: Train, net: Net, homes: Mapping[str, str]) -> int:
    """Return how many conductors of a net cross couplings, counted coupling by coupling."""
    order = vehicle_names(train)
    places = [order.index(homes[ref.owner]) for ref in net.joins if ref.owner in homes]
    total = 0
    for coupling in range(len(order) - 1):
        if net.style == "home-run":
            total += sum((place <= coupling) != (places[0] <= coupling) for place in places)
        elif places:
            total += min(places) <= coupling < max(places)
    return total


def _wire(train: Train, net: Net, placements: Sequence[Placement]) -> float:
    """Links along the axes: from the first end to all others, or the least tree of all ends (Kruskal)."""
    ends: list[Vec] = []
    for ref in net.joins:
        for placement in placements:
            if placement.need == ref.owner:
                pin = next(pin for pin in placement.part.pins if pin.name == ref.pin)
                x, y, z = placement.place.move(pin.at)
                # Each vehicle starts where the one before it ends, its coupling beyond its front included.
                ends.append(_in_train(train, placement.vehicle, (x, y, z)))
    if len(ends) < 2:
        return 0.0
    if net.style == "home-run":
        return sum(_apart(ends[0], end) for end in ends[1:])
    links = sorted((_apart(ends[a], ends[b]), a, b) for a, b in itertools.combinations(range(len(ends)), 2))
    group = list(range(len(ends)))
    total = 0.0
    for length, a, b in links:
        if group[a] != group[b]:
            total += length
            group = [group[a] if entry == group[b] else entry for entry in group]
    return total


def _in_train(train: Train, vehicle: str, at: Vec) -> Vec:
    return train.vehicle(vehicle).in_train(train.starts()[vehicle], at)


def _apart(one: Vec, other: Vec) -> float:
    return abs(one[0] - other[0]) + abs(one[1] - other[1]) + abs(one[2] - other[2])


def _off_balance(train: Train, vehicle: str, placements: Sequence[Placement]) -> float:
    middle = train.vehicle(vehicle).vehicle.width / 2
    moment = 0.0
    for placement in placements:
        if placement.vehicle == vehicle:
            low, high = (placement.place.move(corner)[1] for corner in _corners(placement.part))
            moment += placement.part.mass_g * ((low + high) / 2 - middle)
    return abs(moment) / (train.track.gauge / 2)


def _corners(part: Part) -> tuple[Vec, Vec]:
    return part.bounds.low, part.bounds.high


# -- the attack -----------------------------------------------------------------------------------


def attack(seed: int) -> tuple[str, int, list[str]]:
    """Return what was said of a random train, how many choices it has, and what contradicts."""
    rng = random.Random(seed)
    vehicles = rng.randint(2, 4)
    train = random_train(rng, vehicles, rng.randint(2, 5 if vehicles < 4 else 4))
    if rng.random() < 0.3:  # a need that may go to some vehicles only
        tied = rng.choice(train.needs)
        some = tuple(rng.sample(vehicle_names(train), rng.randint(1, vehicles - 1)))
        train = replace(
            train, needs=tuple(replace(n, vehicles=some) if n is tied else n for n in train.needs)
        )
    added = rng.choice(vehicle_names(train)[1:]) if rng.random() < 0.4 else ""
    pack = shelf_packer(rng.choice((45.0, 60.0, 90.0)), 8.0, rng.choice((0, 2)))
    choices = 0
    least: float | None = None
    cheapest: dict[str, tuple[Part, str]] = {}
    for picks in everything(train):
        choices += 1
        cost = score(train, pack, picks, added)
        if cost is not None and (least is None or cost < least):
            least, cheapest = cost, picks
    decision = choose(train, pack, lambda parts: "", added=frozenset({added} - {""}))
    bad = []
    if least is None:
        if decision.verdict != "cannot fit" or not decision.best.left_out:
            bad.append(f"nothing fits, and {decision.verdict} is said")
        return decision.verdict, choices, bad
    if decision.best.left_out:
        bad.append("something is left out, and all of it fits")
        return decision.verdict, choices, bad
    said = decision.best.costs.score(train.weights)
    margin = 1e-6 * max(1.0, least)
    own = score(train, pack, {p.need.name: (p.part, p.vehicle) for p in decision.best.picks if p.part}, added)
    if own is None or abs(own - said) > margin + 1e-3:
        bad.append(f"the choice is said to cost {said}, and costs {own}")
    if decision.proved and said > least + margin + 1e-3:
        bad.append(f"{said} is called the least, and {least} would do")
    if min(option.score for option in decision.options) < decision.options[0].score - margin:
        bad.append("an option costs less than the one that was chosen")
    bad += _bounds_above(train, cheapest, least, added, rng)
    return ("proved" if decision.proved else "not proved"), choices, bad


def _bounds_above(train: Train, picks: Picks, cost: float, added: str, rng: random.Random) -> list[str]:
    """Return each bound on the way to a choice, its needs decided in some order, that is above its cost."""
    bound = Bound(train, Penalties.above(train), frozenset({added} - {""}))
    found = []
    for _ in range(4):
        order = list(train.needs)
        rng.shuffle(order)
        ways = [Pick(need, *picks[need.name], 0) for need in order]
        for count in range(len(ways) + 1):
            value = bound.of(ways[:count])
            if value > cost + 1e-6 * max(1.0, cost):
                found.append(f"the bound {value} after {count} needs is above the cost {cost}")
    return found


def main(count: int) -> int:
    """Attack with so many trains and print the table; return the number of contradictions."""
    said: Counter[str] = Counter()
    contradictions = listed = 0
    for seed in range(count):
        verdict, choices, bad = attack(seed)
        said[verdict] += 1
        listed += choices
        contradictions += len(bad)
        for text in bad:
            print(f"train {seed}: {text}", flush=True)
    print(
        f"{count} trains, {listed} choices listed: " + ", ".join(f"{n} {v}" for v, n in sorted(said.items()))
    )
    undecided = said["not proved"] + said["not decided"]
    print(f"contradictions {contradictions}; undecided {undecided / max(count, 1):.1%}")
    return contradictions


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 200) > 0)
