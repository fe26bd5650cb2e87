"""Parts to choose from that are wired otherwise than the others of their list: groups that are wired alike.

Of parts to choose from one speaks for all when the usual nets are made. That is wrong for charging boards of
which one lies between cells and train and others hang at the cells, or for boards of 3.3 and 5 V. Such lists
fall into groups: what is wired alike stays together.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from typing import TypeAlias

from fitplan.files.choice import pins_meant
from fitplan.files.usual_owners import NotUsualError, UsualNet, is_any
from fitplan.model.part import Part

MOST_WAYS = 32
"""So many ways to wire a train are offered at the most."""

_Wired: TypeAlias = frozenset[tuple[str, frozenset[str]]]


def otherwise_wired(
    parts: Mapping[str, list[Part]],
    nets_of: Callable[[Mapping[str, list[Part]]], Sequence[UsualNet]],
    built: Collection[tuple[str, str]] = (),
) -> Iterator[Mapping[str, frozenset[str]]]:
    """Yield which ids of each list to keep so that all that is left is wired alike; nothing where all is.

    Each list is parted by itself, with the first parts of the others.

    Parameters
    ----------
    parts
        The parts that may serve each need, the preferred first.
    nets_of
        Returns the usual nets with some of them.
    built
        (need, id) of what is built in already: groups with it come first.
    """
    groups = {
        name: found for name, some in parts.items() if len(found := _groups(name, some, parts, nets_of)) > 1
    }
    for name, found in groups.items():
        found.sort(key=lambda ids: not any((name, one) in built for one in ids))
    for one in itertools.islice(itertools.product(*groups.values()), MOST_WAYS if groups else 0):
        yield dict(zip(groups, one, strict=True))


def _groups(
    name: str,
    some: Sequence[Part],
    parts: Mapping[str, list[Part]],
    nets_of: Callable[[Mapping[str, list[Part]]], Sequence[UsualNet]],
) -> list[frozenset[str]]:
    """Return the ids of a list in groups that are wired alike, in the order of their first members.

    What fits no usual wiring is in none.
    """
    first = {need: of[0] for need, of in parts.items()}
    alone: dict[_Wired, list[Part]] = {}
    called: dict[str, _Wired] = {}
    for part in some if len(some) > 1 else ():
        if (nets := _nets(name, [part], first, nets_of)) is not None:
            alone.setdefault(_wired(nets, {**first, name: part}), []).append(part)
            called[part.id] = _wired(nets, {})
    found: list[list[Part]] = []
    for wired, group in alone.items():
        together = _nets(name, group, first, nets_of)
        if together is not None and _wired(together, {**first, name: group[0]}) == wired:
            found.append(group)
            continue
        # Their pins have other names: no one net can name them all.
        by_name: dict[_Wired, list[Part]] = {}
        for part in group:
            by_name.setdefault(called[part.id], []).append(part)
        found += by_name.values()
    found.sort(key=lambda group: some.index(group[0]))
    return [frozenset(part.id for part in group) for group in found]


def _nets(
    name: str,
    some: list[Part],
    first: Mapping[str, Part],
    nets_of: Callable[[Mapping[str, list[Part]]], Sequence[UsualNet]],
) -> Sequence[UsualNet] | None:
    """Return the usual nets with some parts for a need and the first for all others; None where none are."""
    try:
        return nets_of({**{need: [part] for need, part in first.items()}, name: some})
    except NotUsualError:
        return None


def _wired(nets: Sequence[UsualNet], parts: Mapping[str, Part]) -> _Wired:
    """Return what nets join, whatever they are called, and by what roles whatever pins are called."""
    return frozenset((net.role, frozenset(_end(ref, parts) for ref in net.joins)) for net in nets)


def _end(ref: str, parts: Mapping[str, Part]) -> str:
    owner, _, name = ref.rpartition(".")
    part = parts.get(owner)
    pins = pins_meant(part, name) if part is not None and not is_any(ref) else []
    return f"{owner}.{pins[0].role}" if pins and pins[0].role != "signal" else ref
