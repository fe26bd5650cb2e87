"""Segments joined end to end: what is cut as one wire."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from fitplan.routing.map.topology import Node, Portal
from fitplan.routing.negotiation.layout import CouplingPorts, LaidSegment, Layout


@dataclass(frozen=True)
class PassedSegment:
    """A laid segment as a wire passes it: forwards, or from its end to its start."""

    laid: LaidSegment
    forwards: bool

    @property
    def first(self) -> Node:
        """Where the wire enters the segment."""
        return self.laid.segment.start if self.forwards else self.laid.segment.end

    @property
    def last(self) -> Node:
        """Where the wire leaves the segment."""
        return self.laid.segment.end if self.forwards else self.laid.segment.start


def in_running_order(chain: tuple[PassedSegment, ...], vehicles: Sequence[str]) -> tuple[PassedSegment, ...]:
    """Return a wire that runs through several vehicles from the leading one backwards.

    Vehicles are wired from the front of the train on: so a wire always ends in one that is wired later.
    """
    first, last = (vehicles.index(link.laid.segment.vehicle) for link in (chain[0], chain[-1]))
    if first <= last:
        return chain
    return tuple(PassedSegment(link.laid, not link.forwards) for link in reversed(chain))


def chains_of(layout: Layout, cut: Callable[[CouplingPorts, str], bool]) -> list[tuple[PassedSegment, ...]]:
    """Return the wires as chains of segments, in the order in which the nets were laid.

    Parameters
    ----------
    cut
        Whether a connector parts the wires of a net at a coupling.
    """
    at: dict[Portal, list[LaidSegment]] = defaultdict(list)
    for laid in layout.laid:
        for node in (laid.segment.start, laid.segment.end):
            if isinstance(node, Portal) and not cut(layout.couplings[node], laid.segment.net):
                at[node].append(laid)
    done: set[int] = set()
    found: list[tuple[PassedSegment, ...]] = []
    for laid in layout.laid:
        if id(laid) in done:
            continue
        chain = [PassedSegment(laid, True)]
        done.add(id(laid))
        _extend(chain, at, done)
        # And backwards from the first segment: turn the chain round, go on, and turn it back.
        chain = [PassedSegment(link.laid, not link.forwards) for link in reversed(chain)]
        _extend(chain, at, done)
        chain = [PassedSegment(link.laid, not link.forwards) for link in reversed(chain)]
        found.append(tuple(chain))
    return found


def _extend(chain: list[PassedSegment], at: dict[Portal, list[LaidSegment]], done: set[int]) -> None:
    while isinstance(node := chain[-1].last, Portal):
        onwards = [laid for laid in at.get(node, ()) if id(laid) not in done]
        if not onwards:
            return
        laid = onwards[0]
        done.add(id(laid))
        chain.append(PassedSegment(laid, laid.segment.start == node))
