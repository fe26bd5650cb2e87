"""Other parts of lists for those that are chosen: one for one, then two for two."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence

from fitplan.model.part import Part

MOST_OTHERS = 64
"""So many sets are asked about for one that does not work."""
MOST_TOGETHER = 2
"""So many parts are taken for others at the same time."""


def exchanges(ways: Mapping[str, Sequence[Part]], most: int = MOST_OTHERS) -> Iterator[dict[str, Part]]:
    """Yield other parts for some needs, those of fewer needs first, then of what stands first.

    Parameters
    ----------
    ways
        The other parts that may serve each need.
    most
        So many at the most.
    """
    return itertools.islice(_exchanges(ways), most)


def _exchanges(ways: Mapping[str, Sequence[Part]]) -> Iterator[dict[str, Part]]:
    for count in range(1, MOST_TOGETHER + 1):
        for needs in itertools.combinations(ways, count):
            for parts in itertools.product(*(ways[need] for need in needs)):
                yield dict(zip(needs, parts, strict=True))
