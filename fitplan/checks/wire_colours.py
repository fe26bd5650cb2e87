"""Whether colours tell the wires apart, and whether the spools hold enough of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from fitplan.checks.sources import PRACTICE
from fitplan.checks.wire_bends import SUBJECT
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding


def colour_findings(built: BuiltTrain) -> Iterator[Finding]:
    """Tell which nets that meet look alike, and which spools are too short."""
    roles = {net.name: net.role for net in built.train.nets}
    alike: dict[str, set[str]] = defaultdict(set)
    for one, other, colour in built.harness.facts.alike:
        alike[colour] |= {one, other}
    for colour, nets in sorted(alike.items()):
        numbers = [wire.number for wire in built.harness.wires if wire.net in nets]
        power = any(roles.get(net) != "signal" for net in nets)
        yield Finding(
            subject=SUBJECT,
            severity="caution" if power else "note",
            where=f"{colour}: {', '.join(sorted(nets))}",
            message="these nets meet and have one colour, as no more colours are at hand",
            figure=float(len(nets)),
            limit=1.0,
            unit="nets of one colour",
            remedy=(
                f"put numbered sleeves on both ends of wires {', '.join(map(str, numbers))}, or add colours "
                "to 'spools' of 'wiring'"
            ),
            source=PRACTICE,
        )
    taken: dict[str, float] = defaultdict(float)
    for wire in built.harness.wires:
        taken[wire.colour] += wire.cut_mm / 1000
    owned: dict[str, float] = defaultdict(float)
    for spool in built.train.wiring.spools:
        owned[spool.colour] += spool.metres
    for colour, metres in sorted(owned.items()):
        if taken[colour] > metres:
            yield Finding(
                subject=SUBJECT,
                severity="caution",
                where=f"spool {colour}",
                message=f"the harness takes more wire of the colour {colour} than there is",
                figure=round(taken[colour], 2),
                limit=round(metres, 2),
                unit="m",
                remedy="buy more of it, or name further colours in 'spools' of 'wiring'",
                source="cut lengths of the harness",
            )
