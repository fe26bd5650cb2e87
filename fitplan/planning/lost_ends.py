"""What a change to a built train leaves unreached that was reached when it was built."""

from __future__ import annotations

import networkx as nx

from fitplan.model.as_built import AsBuilt
from fitplan.model.nets import Net
from fitplan.model.plan import Plan
from fitplan.model.wired import Unreached


def lost_ends(plan: Plan) -> tuple[Unreached, ...]:
    """Return what is not reached, but for nets that were in pieces when the train was built.

    Of these counts what is new. Among plans none of which is complete nobody undoes wires for the rest.
    """
    unreached = plan.built.harness.unreached
    if not unreached:
        return ()
    train, before = plan.built.train, plan.built.train.as_built
    there = {one.need for one in before.parts}
    new = {need.name for need in train.needs} - there
    broken = {net.name for net in train.nets if _is_in_pieces(net, before, new)}
    return tuple(one for one in unreached if one.net not in broken or one.owner in new)


def _is_in_pieces(net: Net, before: AsBuilt, new: set[str]) -> bool:
    """Return whether the wires of a net did not join all that is built of its ends."""
    ends = {ref.owner for ref in net.joins} - new
    wires = [wire for wire in before.wires if wire.net == net.name]
    if not before.parts or len(ends) < 2:
        return False
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(ends)
    # Pins of one part on one net are joined in it.
    graph.add_edges_from((wire.start.owner, wire.end.owner) for wire in wires)
    pieces = [piece & ends for piece in nx.connected_components(graph)]
    return sum(bool(piece) for piece in pieces) > 1
