"""Colours of conductors, by the letter codes of IEC 60757 (codes from memory, not confirmed)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

from fitplan.model.facts import WIRE_COLOURS
from fitplan.model.wiring import SPOOL_COLOURS

Use = Literal["ground", "supply", "signal"]

NAMES = {code: word for code, (word, _) in WIRE_COLOURS.items()}
"""Every code and its colour. Green and yellow together marks protective earth and is never given out."""

STOCK = SPOOL_COLOURS
"""All colours that are given out."""

PALETTES: Mapping[Use, tuple[str, ...]] = {
    "ground": ("BK",),
    "supply": ("RD", "OG", "BN", "PK"),
    "signal": ("YE", "BU", "GN", "WH", "VT", "GY", "TQ", "SR", "GD"),
}
"""First choices of each use, which no other use takes as long as it has one of its own left."""
_BORROWED: Mapping[Use, tuple[str, ...]] = {
    "ground": ("GY", "BU", "WH", "VT", "TQ", "GN", "SR", "GD", "YE", "PK", "BN", "OG", "RD"),
    "supply": ("YE", "BU", "GN", "WH", "VT", "GY", "TQ", "SR", "GD", "BK"),
    "signal": ("PK", "BN", "OG", "RD", "BK"),
}
"""What a use takes then: no ground looks like a supply, and nothing like a ground, while there is another."""

_TRIES = 4_000
"""Choices of a colour that are tried for all nets together before some share one."""


@dataclass(frozen=True)
class ColourPlan:
    """A colour for each net, and the pairs that share one in a bundle because colours ran out.

    Attributes
    ----------
    colours
        Code by net.
    shared
        (net, net, code): to be told apart by tags.
    """

    colours: Mapping[str, str]
    shared: tuple[tuple[str, str, str], ...]


def assign_colours(
    nets: Mapping[str, Use],
    bundles: Iterable[Iterable[str]],
    *,
    stock: Sequence[str] = STOCK,
    fixed: Mapping[str, str] | None = None,
    before: Mapping[str, str] | None = None,
) -> ColourPlan:
    """Give each net one colour, so that nets in a common bundle differ while colours last.

    Nets with the most neighbours come first (greedy colouring after Welsh and Powell 1967); of equal colours
    the one used least is taken. A ground, supply or signal takes another use's colour only when its own are
    used up in its bundles, and shares one with a net of its own use before it shares one with another use.
    Where some must share that way, all ways are tried, the liked colours first, until none does (`_apart`).

    Parameters
    ----------
    nets
        What each net is used for.
    bundles
        Names of the nets in each bundle.
    stock
        Colours at hand.
    fixed
        Colours of wires that stay, and that the user chose.
    before
        Colours of nets whose wires were taken out: a net comes back in its own where that serves as well, so
        that two do not change colours behind the builder's back.

    Raises
    ------
    ValueError
        A colour is not a code of IEC 60757, or nothing is in stock.
    """
    chosen = dict(fixed or {})
    for code in (*stock, *chosen.values()):
        if code not in NAMES:
            raise ValueError(f"{code!r} is no colour code of IEC 60757; the codes are {', '.join(NAMES)}")
    usable = [code for code in stock if code != "GNYE"]
    if not usable:
        raise ValueError("no colour is in stock")
    beside: dict[str, set[str]] = {net: set() for net in nets}
    for bundle in bundles:
        for one, two in combinations(dict.fromkeys(net for net in bundle if net in nets), 2):
            beside[one].add(two)
            beside[two].add(one)
    rank: dict[Use, int] = {"ground": 0, "supply": 1, "signal": 2}
    liked = before or {}
    for net in sorted(nets, key=lambda n: (n in chosen, n not in liked, rank[nets[n]], -len(beside[n]), n)):
        if net not in chosen:
            chosen[net] = _best(net, nets, beside, chosen, usable, liked.get(net, ""))
    if any(chosen[one] == chosen[two] for one in nets for two in beside[one]):
        chosen |= _apart(nets, beside, fixed or {}, usable)
    shared = sorted(
        (one, two, chosen[one])
        for one in nets
        for two in beside[one]
        if one < two and chosen[one] == chosen[two]
    )
    return ColourPlan({net: chosen[net] for net in nets}, tuple(shared))


def _apart(
    nets: Mapping[str, Use], beside: Mapping[str, set[str]], fixed: Mapping[str, str], usable: Sequence[str]
) -> dict[str, str]:
    """Return colours with which no two neighbours share one; nothing where none is found within `_TRIES`.

    The net with the fewest colours left comes next (after Brélaz 1979).
    """
    given = {net: code for net, code in fixed.items() if net in nets}
    if any(given.get(one, "") == given.get(two) for one in given for two in beside[one]):
        return {}
    tries = 0

    def left(net: str) -> list[str]:
        taken = {given[other] for other in beside[net] if other in given}
        return [code for code in usable if code not in taken]

    def go() -> bool:
        nonlocal tries
        open_nets = [net for net in nets if net not in given]
        if not open_nets:
            return True
        tries += 1
        net = min(open_nets, key=lambda one: (len(left(one)), -len(beside[one]), one))
        for code in sorted(left(net), key=lambda one: _liking(one, nets[net])):
            if tries > _TRIES:
                return False
            given[net] = code
            if go():
                return True
            del given[net]
        return False

    return given if go() else {}


def _liking(code: str, use: Use) -> int:
    """Return how far down in the order of a use a colour stands: its own, then the others."""
    return (*PALETTES[use], *_BORROWED[use]).index(code)


def _best(
    net: str,
    nets: Mapping[str, Use],
    beside: Mapping[str, set[str]],
    chosen: Mapping[str, str],
    usable: Sequence[str],
    liked: str = "",
) -> str:
    use = nets[net]
    own = PALETTES[use]

    def rank(code: str) -> tuple[int, ...]:
        neighbours = [other for other in beside[net] if chosen.get(other) == code]
        across = sum(nets[other] != use for other in neighbours)
        elsewhere = sum(colour == code for colour in chosen.values())
        spread = elsewhere if code in own[1:] else 0
        other = code != liked
        return across, len(neighbours), int(code not in own), other, spread, _liking(code, use)

    return min(usable, key=rank)
