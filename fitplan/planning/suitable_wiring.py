"""Which of the usual wirings of a train lets parts be chosen that work together.

Of parts to choose from one speaks for all when nets are made as is usual. Where with these nets no choice
works, or each leaves a stop, though one would not with what is usual for others of the list, the train is
planned with those.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from fitplan.model.train import LeftAside, Train
from fitplan.planning.exchanges import exchanges
from fitplan.planning.suitability import NOT_WITH, Suitability

MOST_ASKED = 64
"""So many choices of a wiring are asked about."""


def suitably_wired(train: Train, others: Callable[[], Iterable[Train]]) -> Train:
    """Return a train or that of its other wirings of which some choice of parts works with the fewest stops.

    The train as it is where none has fewer; of others with as many the first. Of parts that are left aside
    for that it is told why.

    Parameters
    ----------
    others
        Gives the same train with fewer parts to choose from, and the nets that are usual for these.
    """
    if all(need.choice is None for need in train.needs):
        return train
    best = first = _asked(train)
    tried = [first]
    for other in others() if first.stops else ():
        tried.append(_asked(other))
        if tried[-1].stops < best.stops:
            best = tried[-1]
        if not best.stops:
            break
    return replace(best.train, left_aside=_told(best, tried))


@dataclass(frozen=True)
class _Asked:
    """A wiring: how many stops stand with the best of the choices that work, and what stands against it.

    The number is infinite where none works; then the reason is that of the first choice.
    """

    train: Train
    stops: float
    against: str


def _asked(train: Train) -> _Asked:
    suitability = Suitability(train)
    built = {(part.need, part.part) for part in train.as_built.parts}
    ways = {
        need.name: sorted(need.candidates, key=lambda part: (need.name, part.id) not in built)
        for need in train.needs
    }
    first = {name: parts[0] for name, parts in ways.items()}
    others = exchanges({name: parts[1:] for name, parts in ways.items()}, MOST_ASKED - 1)
    fewest, against = math.inf, str(suitability.why_not(first)).partition(NOT_WITH)[0]
    for some in itertools.chain(({},), others):
        chosen = {**first, **some}
        if not suitability.why_not(chosen):
            stops = suitability.stopped_by(chosen)
            if len(stops) < fewest:
                fewest = len(stops)
                against = f"{stops[0].where}: {stops[0].message}" if stops else ""
            if not fewest:
                break
    return _Asked(train, fewest, against)


def _told(best: _Asked, tried: Sequence[_Asked]) -> tuple[LeftAside, ...]:
    """Return what the best wiring leaves aside, parted by what stood against the first tried with it."""
    found: dict[tuple[str, str], list[str]] = {}
    for aside in best.train.left_aside:
        for part in aside.parts:
            held = (one for one in tried if one is not best and _chooses_from(one.train, aside.need, part))
            why = next((one.against for one in held if one.against), "")
            found.setdefault((aside.need, why), []).append(part)
    return tuple(LeftAside(need, tuple(parts), why) for (need, why), parts in found.items())


def _chooses_from(train: Train, need: str, part_id: str) -> bool:
    return any(part.id == part_id for part in train.need(need).candidates)
