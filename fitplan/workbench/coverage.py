"""Every single fault planted into the network, and which of them the readings without cells tell."""

from __future__ import annotations

from collections.abc import Sequence

from fitplan.model.meter import SHORT_OHM, MeterCoverage, MeterTest, Probe
from fitplan.workbench.copper import Bond, Copper, Node, Ohmmeter
from fitplan.workbench.neighbours import Neighbours


def node_at(probe: Probe) -> Node:
    """Return the node that a lead touches."""
    return (probe.kind, probe.owner, probe.pin, probe.vehicle)


def tells(tests: Sequence[MeterTest], bonds: Sequence[Bond]) -> bool:
    """Return whether a reading is wrong whatever lies in the parts; ``bonds`` are as low as they can be.

    What must be joined and reads too much even so is told; what must be apart is told where a bridge is so
    low that no part can raise the reading.
    """
    meter = Ohmmeter(bonds)
    for test in tests:
        for one, other in test.pairs:
            ohm = meter.ohm(node_at(one), node_at(other))
            if test.high is not None and ohm > test.high:
                return True
            if test.high is None and ohm + SHORT_OHM < test.low and ohm <= SHORT_OHM:
                return True
    return False


def coverage_of(
    copper: Copper, neighbours: Sequence[Neighbours], tests: Sequence[MeterTest]
) -> MeterCoverage:
    """Return how many single opens, shorts and swaps the readings with the couplings apart tell."""
    joined = [test for test in tests if test.stage == "continuity"]
    apart = [test for test in tests if test.stage in ("supply to ground", "neighbours")]
    sound = Ohmmeter(copper.bonds(wire_ohm=False, parts=False))
    bare = copper.bonds(wire_ohm=False)
    untold: list[str] = []
    opens = [one.wire.number for one in copper.conductors]
    opens_told = 0
    for number in opens:
        if tells(joined, copper.bonds(without=number)):
            opens_told += 1
        else:
            untold.append(f"wire {number} open: a part or another wire joins its ends all the same")
    wired = copper.wired
    shorts = shorts_told = swaps = swaps_told = 0
    for entry in neighbours:
        if sound.piece(entry.one) == sound.piece(entry.other):
            continue
        shorts += 1
        if _told_apart(apart, [*bare, (entry.one, entry.other, 0.0)], Ohmmeter(bare)):
            shorts_told += 1
        else:
            untold.append(f"{entry.words} bridged: what lies between them reads no higher; look at them")
        if entry.even or entry.one not in wired or entry.other not in wired:
            continue
        swaps += 1
        if tells(joined, copper.swapped(entry.one, entry.other).bonds()):
            swaps_told += 1
        else:
            untold.append(f"{entry.words} exchanged")
    return MeterCoverage(len(opens), opens_told, shorts, shorts_told, swaps, swaps_told, tuple(untold))


def _told_apart(tests: Sequence[MeterTest], bridged: Sequence[Bond], sound: Ohmmeter) -> bool:
    """Return whether a row's two places have become one piece of copper, which they were not before."""
    meter = Ohmmeter(bridged)
    for test in tests:
        for one, other in test.pairs:
            a, b = node_at(one), node_at(other)
            if meter.piece(a) == meter.piece(b) and sound.piece(a) != sound.piece(b):
                return True
    return False
