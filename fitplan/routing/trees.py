"""Ways to join many pins of one net in a map: a tree with splices, home runs, a daisy chain, compared.

A tree branches only in voxels where a splice can be soldered and reached, or at pins that take two wires.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from time import monotonic
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fitplan.routing.orders import best_order, exchanged_order
from fitplan.routing.steiner import steiner_tree
from fitplan.routing.ways import Field, Voxel, Way

Style = Literal["tree", "home", "daisy"]

_EXACT_PINS = 10
"""Up to so many pins the chain is the shortest of all orders (2ⁿ work)."""

_FIRST_SITES = 24
"""Sites for splices that are compared at once; each costs a look at the whole map."""

_TREE_SECONDS = 5.0
"""Longest search for a tree over the sites; then the best so far is taken."""


@dataclass(frozen=True, eq=False)
class Link:
    """One wire of a joined net.

    Attributes
    ----------
    ends
        Numbers of what it joins: pins from 0 on, then the splices.
    way
        Its voxel way, from the first end to the second.
    """

    ends: tuple[int, int]
    way: Way


@dataclass(frozen=True, eq=False)
class Joining:
    """A net joined in one style.

    Attributes
    ----------
    style
        ``tree``, ``home`` (all from one pin) or ``daisy`` (from pin to pin).
    links
        The wires.
    splices
        Voxels of the soldered junctions; numbers of `Link.ends` from the number of pins on.
    copper_mm
        Length of all wires together (cost in a field with costs).
    joints
        Soldered or crimped connections: each end of each wire at a pin, and each splice once.
    shortest
        True when no other choice of order or splice sites among those compared is shorter.
    """

    style: Style
    links: tuple[Link, ...]
    splices: tuple[Voxel, ...]
    copper_mm: float
    joints: int
    shortest: bool


def compare_styles(
    field: Field,
    pins: Sequence[Voxel],
    sites: NDArray[np.bool_] | None = None,
    *,
    hub: int = 0,
    deadline: float | None = None,
) -> dict[Style, Joining]:
    """Join a net in each style; a style is missing when it cannot join all pins.

    Parameters
    ----------
    field
        The map.
    pins
        At least two voxels, all different.
    sites
        (x, y, z) bool, True where a splice may be; None: anywhere free.
    hub
        Number of the pin that home runs start from.

    Raises
    ------
    TimeoutError
        The deadline passed.
    """
    found: dict[Style, Joining | None] = {
        "tree": tree(field, pins, sites, deadline=deadline),
        "home": home_runs(field, pins, hub, deadline=deadline),
        "daisy": daisy_chain(field, pins, deadline=deadline),
    }
    return {style: joining for style, joining in found.items() if joining is not None}


def home_runs(
    field: Field, pins: Sequence[Voxel], hub: int = 0, *, deadline: float | None = None
) -> Joining | None:
    """Return a wire from one pin to each other, or None when one has no way."""
    _check(pins)
    field.distances([pins[hub]], deadline=deadline)
    links = []
    for number, pin in enumerate(pins):
        if number != hub:
            way = field.way_back(pin)
            if way is None:
                return None
            links.append(Link((hub, number), way))
    return _joined("home", links, (), len(pins), shortest=True)


def daisy_chain(field: Field, pins: Sequence[Voxel], *, deadline: float | None = None) -> Joining | None:
    """Return wires from pin to pin in the order that needs least, or None when one has no way.

    Up to ten pins the order is the best of all (Held and Karp 1962); beyond, it is improved by exchanges
    until none helps.
    """
    _check(pins)
    lengths = _lengths(field, pins, deadline)
    if not np.isfinite(lengths).all():
        return None
    exact = len(pins) <= _EXACT_PINS
    order = best_order(lengths) if exact else exchanged_order(lengths)
    links = []
    for one, two in pairwise(order):
        way = field.way(pins[one], pins[two], deadline=deadline)
        if way is None:
            return None
        links.append(Link((one, two), way))
    return _joined("daisy", links, (), len(pins), shortest=exact)


def tree(
    field: Field,
    pins: Sequence[Voxel],
    sites: NDArray[np.bool_] | None = None,
    *,
    pins_join: bool = False,
    deadline: float | None = None,
) -> Joining | None:
    """Return a tree with splices, or None when the pins cannot be joined so.

    Sites that are best for three pins each are looked for over the whole map; over these a shortest tree is
    found (`fitplan.routing.steiner`), then each splice moves to where its own wires are shortest together,
    until none moves.

    Parameters
    ----------
    sites
        (x, y, z) bool, True where a splice may be; None: anywhere free.
    pins_join
        Whether a pin takes several wires, so that the tree may branch there without a splice.
    """
    _check(pins)
    if len(pins) == 2:
        way = field.way(pins[0], pins[1], deadline=deadline)
        return None if way is None else _joined("tree", [Link((0, 1), way)], (), 2, shortest=True)
    allowed = field.free if sites is None else field.free & sites
    cells = np.argwhere(allowed)
    if not len(cells):
        return None if not pins_join else daisy_chain(field, pins, deadline=deadline)
    known: dict[Voxel, NDArray[np.float64]] = {}

    def looked_from(place: Voxel) -> NDArray[np.float64]:
        if place not in known:
            known[place] = field.distances([place], deadline=deadline)[allowed]
        return known[place]

    reach = [looked_from(pin) for pin in pins]
    if any(not np.isfinite(one).any() for one in reach):
        return None
    chosen = _first_sites(reach)
    spots = [_voxel(cells[index]) for index in chosen]
    nodes = [*pins, *spots]
    edges, proved = _over_sites(_lengths(field, nodes, deadline), len(pins), pins_join=pins_join)
    if edges is None:
        return None
    places, edges = _settled(nodes, edges, len(pins), cells, looked_from)
    links = []
    for one, two in edges:
        way = field.way(places[one], places[two], deadline=deadline)
        if way is None:
            return None
        links.append(Link((one, two), way))
    return _joined("tree", links, tuple(places[len(pins) :]), len(pins), shortest=proved)


def _check(pins: Sequence[Voxel]) -> None:
    if len(pins) < 2 or len(set(pins)) < len(pins):
        raise ValueError("a net joins at least two pins, all at different voxels")


def _joined(
    style: Style, links: Sequence[Link], splices: tuple[Voxel, ...], pins: int, *, shortest: bool
) -> Joining:
    copper = sum(link.way.cost_mm for link in links)
    ends = sum(1 for link in links for end in link.ends if end < pins)
    return Joining(style, tuple(links), splices, copper, ends + len(splices), shortest)


def _voxel(row: NDArray[np.integer]) -> Voxel:
    x, y, z = row.tolist()
    return x, y, z


def _lengths(field: Field, places: Sequence[Voxel], deadline: float | None) -> NDArray[np.float64]:
    index = tuple(np.array(places).T)
    return np.array([field.distances([place], deadline=deadline)[index] for place in places])


def _first_sites(reach: Sequence[NDArray[np.float64]]) -> list[int]:
    """Return the sites that are best for three pins each, the ones that serve most triples first."""
    triples = list(combinations(range(len(reach)), 3))
    if len(triples) > 400:  # many pins: neighbours matter, the farthest triples do not
        triples = triples[:: len(triples) // 400 + 1]
    votes: dict[int, int] = {}
    for a, b, c in triples:
        total = reach[a] + reach[b] + reach[c]
        best = int(total.argmin())
        if math.isfinite(total[best]):
            votes[best] = votes.get(best, 0) + 1
    return sorted(votes, key=lambda site: (-votes[site], site))[:_FIRST_SITES]


def _over_sites(
    lengths: NDArray[np.float64], pins: int, *, pins_join: bool
) -> tuple[list[tuple[int, int]] | None, bool]:
    """Return the links of a shortest tree over pins and sites, and whether it is proved.

    Where pins do not join, they are leaves: each link at a pin weighs so much more that no second one pays.
    """
    finite = lengths[np.isfinite(lengths)]
    leaf = 0.0 if pins_join else 2.0 * float(finite.sum()) / len(lengths) + 1.0
    edges = [
        (a, b, float(lengths[a, b]) + (leaf if a < pins else 0.0))
        for a in range(len(lengths))
        for b in range(max(a + 1, 0 if pins_join else pins), len(lengths))
        if math.isfinite(lengths[a, b])
    ]
    found = steiner_tree(edges, range(pins), deadline=monotonic() + _TREE_SECONDS)
    if not math.isfinite(found.weight) or not found.edges:
        return None, False
    return [edges[index][:2] for index in found.edges], found.proved


def _settled(
    nodes: Sequence[Voxel],
    edges: Sequence[tuple[int, int]],
    pins: int,
    cells: NDArray[np.integer],
    looked_from: Callable[[Voxel], NDArray[np.float64]],
) -> tuple[list[Voxel], list[tuple[int, int]]]:
    """Drop splices that join two wires only, number the rest, and move each to its best voxel."""
    links = [list(edge) for edge in edges]
    for site in range(pins, len(nodes)):
        own = [link for link in links if site in link]
        if len(own) == 2:
            one, two = ((link[0] if link[1] == site else link[1]) for link in own)
            links = [link for link in links if link not in own] + [[one, two]]
    kept = sorted({end for link in links for end in link if end >= pins})
    number = {site: pins + index for index, site in enumerate(kept)} | {pin: pin for pin in range(pins)}
    final = [(number[one], number[two]) for one, two in links]
    places = [*nodes[:pins], *(nodes[site] for site in kept)]
    for _ in range(6):
        moved = False
        for site in range(pins, len(places)):
            near = [two if one == site else one for one, two in final if site in (one, two)]
            total = np.sum([looked_from(places[n]) for n in near], axis=0)
            here = int(np.flatnonzero((cells == places[site]).all(axis=1))[0])
            best = int(np.argmin(total))
            if total[best] < total[here] - 1e-9:
                places[site] = _voxel(cells[best])
                moved = True
        if not moved:
            break
    return places, final
