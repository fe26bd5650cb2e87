"""What a choice of parts and vehicles costs, in the order in which a user minds."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from fitplan.model.facts import mass_of
from fitplan.model.nets import Net
from fitplan.model.part import Part
from fitplan.model.placed import Placement
from fitplan.model.solids import Vec
from fitplan.model.straight_links import link_length, tree_of_links
from fitplan.model.train import Train, Weights
from fitplan.model.vehicle import built_in_name


@dataclass(frozen=True)
class Costs:
    """The eight costs of one choice; lower is better in each."""

    vehicles_opened: int
    wagons_added: int
    conductors_across: int
    bricks_removed: float
    wire_mm: float
    mass_off_balance_g: float
    unfused_across: int = 0
    later_in_list: int = 0

    def score(self, weights: Weights) -> float:
        """Return the weighted sum that choices are ordered by."""
        return (
            weights.vehicles_opened * self.vehicles_opened
            + weights.wagons_added * self.wagons_added
            + weights.conductors_across * self.conductors_across
            + weights.bricks_removed * self.bricks_removed
            + weights.wire_metres * self.wire_mm / 1000.0
            + weights.mass_off_balance * self.mass_off_balance_g
            + weights.unfused_across * self.unfused_across
            + weights.later_in_list * self.later_in_list
        )

    def dominates(self, other: Costs) -> bool:
        """Return True when no cost is higher than the other's and one is lower."""
        own, others = self._figures(), other._figures()
        return own != others and all(a <= b for a, b in zip(own, others, strict=True))

    def _figures(self) -> tuple[float, ...]:
        return (
            self.vehicles_opened,
            self.wagons_added,
            self.conductors_across,
            self.bricks_removed,
            round(self.wire_mm, 1),
            round(self.mass_off_balance_g, 2),
            self.unfused_across,
            self.later_in_list,
        )


def without(train: Train, left: frozenset[str]) -> Train:
    """Return the train without some of its vehicles; the same train when none is left out."""
    if not left:
        return train
    return replace(train, vehicles=tuple(entry for entry in train.vehicles if entry.name not in left))


def conductors_across(train: Train, homes: Mapping[str, str], nets: Collection[str] | None = None) -> int:
    """Return how many conductors cross couplings in all, a coupling of each conductor counted once.

    Parameters
    ----------
    homes
        The vehicle of each need that has one. Other ends of nets are left out.
    nets
        Names of those that count; all when not given.
    """
    order = {entry.name: number for number, entry in enumerate(train.vehicles)}
    total = 0
    for net in train.nets:
        if nets is not None and net.name not in nets:
            continue
        places = [order[home] for ref in net.joins if (home := vehicle_of(ref.owner, homes)) is not None]
        total += crossings(net, places)
    return total


def crossings(net: Net, places: Sequence[int]) -> int:
    """Return how many couplings the conductors of a net cross in all.

    A tree or a chain crosses each coupling between its ends once; home runs cross once for every end on the
    far side of the first.

    Parameters
    ----------
    places
        Places in the train of the net's ends, in the order of `Net.joins`.
    """
    if len(places) < 2:
        return 0
    if net.style == "home-run":
        return sum(abs(place - places[0]) for place in places)
    return max(places) - min(places)


def conductors_over(net: Net, places: Sequence[int | None], coupling: int) -> int:
    """Return how many conductors of a net cross one coupling at the least; over all it is `crossings`.

    Parameters
    ----------
    places
        As for `crossings`; None for an end that is not decided or is left out.
    coupling
        The place of the vehicle ahead of it.
    """
    behind = sum(place > coupling for place in places if place is not None)
    ahead = sum(place <= coupling for place in places if place is not None)
    if net.style != "home-run":
        return int(behind > 0 and ahead > 0)
    if places[0] is None:  # where the runs start is open
        return min(ahead, behind)
    return ahead if places[0] > coupling else behind


def fewest_crossings(net: Net, places: Sequence[int | None]) -> int:
    """Return a number of crossings that a net has at the least, whatever becomes of its open ends.

    Parameters
    ----------
    places
        As for `crossings`; None for an end that is not decided or is left out.
    """
    known = [place for place in places if place is not None]
    if net.style != "home-run" or places[:1] != [None]:
        return crossings(net, known)
    # Where the runs start is open: no start has less in all than the middle one of the known ends.
    known.sort()
    middle = known[len(known) // 2] if known else 0
    return sum(abs(place - middle) for place in known)


def vehicle_of(owner: str, homes: Mapping[str, str]) -> str | None:
    """Return the vehicle of a net's end: of a need, where it went; of something built in, where it is."""
    named = built_in_name(owner)
    return named[0] if named is not None else homes.get(owner)


def wire_length(train: Train, placements: Sequence[Placement]) -> float:
    """Return an estimate of all wire in mm, of straight-line links along the axes.

    A tree or a chain counts as the shortest tree of its ends, home runs as links from the first end.
    """
    starts = train.starts()
    where: dict[str, Placement] = {entry.need: entry for entry in placements}
    total = 0.0
    for net in train.nets:
        points: list[Vec] = []
        for ref in net.joins:
            body = train.built_in(ref.owner)
            if body is not None:
                vehicle_name = vehicle_of(ref.owner, {}) or ""
                spot = next((pin.at for pin in body.pins if ref.pin in (pin.name, pin.role)), None)
                local = spot or body.solids[0].bounds.center
            elif (placement := where.get(ref.owner)) is not None:
                vehicle_name = placement.vehicle
                local = placement.place.move(_pin_spot(placement.part, ref.pin))
            else:
                continue
            points.append(train.vehicle(vehicle_name).in_train(starts[vehicle_name], local))
        if net.style == "home-run":
            total += sum(link_length(points[0], point) for point in points[1:])
        else:
            total += tree_of_links(points)
    return total


def _pin_spot(part: Part, name: str) -> Vec:
    pins = [pin for pin in part.pins if name in ("*", pin.name, pin.role)]
    return pins[0].at if pins else part.bounds.center


def mass_off_balance(train: Train, placements: Sequence[Placement]) -> float:
    """Return the grams that, laid on one rail, would right each vehicle sideways: Σ |Σ m·y| / half gauge."""
    half_gauge = train.track.gauge / 2
    total = 0.0
    for entry in train.vehicles:
        moment = sum(
            mass_of(placement.part)
            * (placement.place.move(placement.part.bounds.center)[1] - entry.vehicle.width / 2)
            for placement in placements
            if placement.vehicle == entry.name
        )
        total += abs(moment) / half_gauge
    return total
