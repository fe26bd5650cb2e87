"""Which nets cross from some rooms to others, at the least, where parts have a choice of them.

A part lies on one side, and with it an end of each net that it joins: what one net spares by that another
pays. The sides of all parts at which the wires that cross are thinnest together are a minimum cut (of a
hypergraph, Lawler 1973; from memory, not confirmed), so the nets across it are what crosses at the least.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from typing import Final

import networkx as nx

_HERE: Final = ("side", "here")
_THERE: Final = ("side", "there")


def least_crossing(
    nets: Sequence[tuple[float, Sequence[Hashable]]], sides: Mapping[Hashable, bool | None]
) -> tuple[int, ...]:
    """Return the numbers of the nets that have ends on both sides where these take the least room together.

    Parameters
    ----------
    nets
        Diameter in mm and ends of each; an end that has no side known lies on either.
    sides
        On which side an end lies; None: it may lie on either.
    """
    graph: nx.DiGraph[tuple[str, Hashable]] = nx.DiGraph()
    graph.add_nodes_from((_HERE, _THERE))
    for end, here in sides.items():
        if here is not None:
            one, other = (_HERE, ("end", end)) if here else (("end", end), _THERE)
            graph.add_edge(one, other)
    for number, (diameter, ends) in enumerate(nets):
        # Whole numbers: sums of round areas hang on no order.
        graph.add_edge(("in", number), ("out", number), capacity=round(1000 * diameter**2))
        for end in ends:
            graph.add_edge(("end", end), ("in", number))
            graph.add_edge(("out", number), ("end", end))
    _, (near, _) = nx.minimum_cut(graph, _HERE, _THERE)
    return tuple(n for n in range(len(nets)) if ("in", n) in near and ("out", n) not in near)
