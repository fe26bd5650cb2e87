"""What the wiring says of pins and splices: too few pins for the wires, splices that nobody can get at."""

from __future__ import annotations

from fitplan.checks.sources import PRACTICE
from fitplan.checks.wire_bends import SUBJECT
from fitplan.model.found import Finding
from fitplan.model.wired import Harness, Splice
from fitplan.model.wiring_facts import Shortage


def end_findings(harness: Harness) -> tuple[Finding, ...]:
    """Return a caution for each place with too few pins, and for each splice out of sight of all openings."""
    hidden = [splice for splice in harness.splices if splice.name in harness.facts.hidden_splices]
    return (*(_too_few(short) for short in harness.facts.shortages), *(_hidden(splice) for splice in hidden))


def _too_few(short: Shortage) -> Finding:
    if short.board:
        message = f"{short.wanted} wires of the net {short.net} want a pin of {short.owner}"
        remedy = "take a distribution board with more pins"
    else:
        message = f"{short.wanted} wires of the net {short.net} want to end at {short.owner}.{short.pin}"
        remedy = "put in a distribution board with a pin for each wire and join it in the net"
    return Finding(
        subject=SUBJECT,
        severity="caution",
        where=f"{short.owner}.{short.pin} in {short.vehicle}",
        message=f"{message}, which has room for {short.places}: the rest meet in a splice before it",
        figure=float(short.wanted),
        limit=float(short.places),
        unit="wires",
        remedy=f"{remedy}, or choose the style 'tree' for this net",
        source=PRACTICE,
    )


def _hidden(splice: Splice) -> Finding:
    x, y, z = splice.at
    return Finding(
        subject=SUBJECT,
        severity="caution",
        where=f"{splice.name} in {splice.vehicle} at {x:.1f}, {y:.1f}, {z:.1f} mm",
        message=(
            f"the splice {splice.name} of the net {splice.net} lies where no opening is straight "
            "ahead: it cannot be soldered, or mended, in its place"
        ),
        figure=0.0,
        limit=1.0,
        unit="openings ahead",
        remedy=(
            "solder it outside and lay it in with its wires before the parts above go in, or put "
            "a distribution board there"
        ),
        source=PRACTICE,
    )
