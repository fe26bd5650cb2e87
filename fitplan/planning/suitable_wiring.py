"""Which of the usual wirings of a train lets parts be chosen that work together.

Of parts to choose from one speaks for all when nets are made as is usual. Where with these nets no choice
works, or each leaves a stop, though one would not with what is usual for others of the list, the train is
planned with those.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable

from fitplan.model.train import Train
from fitplan.planning.exchanges import exchanges
from fitplan.planning.suitability import Suitability

MOST_ASKED = 64
"""So many choices of a wiring are asked about."""


def suitably_wired(train: Train, others: Callable[[], Iterable[Train]]) -> Train:
    """Return a train or that of its other wirings of which some choice of parts works with the fewest stops.

    The train as it is where none has fewer; of others with as many the first.

    Parameters
    ----------
    others
        Gives the same train with fewer parts to choose from, and the nets that are usual for these.
    """
    if all(need.choice is None for need in train.needs) or not (fewest := _fewest_stops(train)):
        return train
    best = train
    for other in others():
        if (stops := _fewest_stops(other)) < fewest:
            best, fewest = other, stops
        if not fewest:
            break
    return best


def _fewest_stops(train: Train) -> float:
    """Return how many stops stand with the best of the choices that work; infinite where none does."""
    suitability = Suitability(train)
    built = {(part.need, part.part) for part in train.as_built.parts}
    ways = {
        need.name: sorted(need.candidates, key=lambda part: (need.name, part.id) not in built)
        for need in train.needs
    }
    first = {name: parts[0] for name, parts in ways.items()}
    others = exchanges({name: parts[1:] for name, parts in ways.items()}, MOST_ASKED - 1)
    fewest = math.inf
    for some in itertools.chain(({},), others):
        chosen = {**first, **some}
        if not suitability.why_not(chosen):
            fewest = min(fewest, suitability.stops(chosen))
        if not fewest:
            break
    return fewest
