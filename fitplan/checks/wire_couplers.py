"""Which keyed connector pairs of the catalogue serve at each coupling, and the order of their cavities."""

from __future__ import annotations

from collections.abc import Iterable

from fitplan.checks.sources import PRACTICE
from fitplan.checks.wire_bends import SUBJECT
from fitplan.model.electrical import Connector
from fitplan.model.found import Finding, Table
from fitplan.model.part import Part
from fitplan.model.train import Train
from fitplan.model.wired import Crossing, Harness, Wire


def keyed_pairs(parts: Iterable[Part], wires: Iterable[Wire]) -> list[Part]:
    """Return the keyed pairs that have a cavity for each wire, take its gauge and carry its current.

    The one with the fewest cavities comes first; of equals the smaller one.
    """
    passing = list(wires)
    found: list[tuple[int, float, str, Part]] = []
    for part in parts:
        figures = part.figure(Connector)
        if figures is None or not figures.keyed or figures.cavities < len(passing):
            continue
        if all(
            figures.awg_min <= wire.awg <= figures.awg_max and wire.current_ma <= figures.max_ma
            for wire in passing
        ):
            x, y, z = part.bounds.size
            found.append((figures.cavities, x * y * z, part.id, part))
    return [part for *_, part in sorted(found, key=lambda entry: entry[:3])]


def coupler_outcome(train: Train, harness: Harness) -> tuple[tuple[Finding, ...], Table | None]:
    """Return a note for each coupling without a keyed pair that takes all wires, and the table of all."""
    if not harness.crossings:
        return (), None
    by_number = {wire.number: wire for wire in harness.wires}
    findings = []
    rows: list[tuple[str | float, ...]] = []
    for crossing in harness.crossings:
        wires = [by_number[number] for number in crossing.joined]
        fitting = keyed_pairs(train.catalogue.values(), wires)
        used = train.catalogue.get(crossing.connector)
        figures = used.figure(Connector) if used is not None else None
        serves = used is not None and any(part.id == used.id for part in fitting)
        if not serves:
            findings.append(_propose(crossing, figures, fitting))
        in_use = "none: wires run through" if used is None else used.name
        proposed = (
            "as in use" if serves else "; ".join(part.id for part in fitting[:2]) or "none: use two pairs"
        )
        keyed = "" if figures is None else "yes" if figures.keyed else "no"
        rows.append(
            (
                f"{crossing.name}, {crossing.ahead} – {crossing.behind}",
                float(len(wires)),
                in_use,
                keyed,
                proposed,
                ", ".join(crossing.pin_order),
            )
        )
    return tuple(findings), Table(
        title="Connectors at the couplings",
        columns=("coupling", "conductors", "in use", "keyed", "keyed pair that serves", "order of cavities"),
        rows=tuple(rows),
        note=(
            "Ground has the first cavity, supply comes next, signals last, in every connector alike. "
            "Uncouple with the supply switched off: plugs part before hooks do, and never under load."
        ),
    )


def _propose(crossing: Crossing, figures: Connector | None, fitting: list[Part]) -> Finding:
    where = f"{crossing.ahead} to {crossing.behind}"
    if figures is None:
        message = (
            f"{crossing.conductors} wires run through the coupling: to uncouple the vehicles they must be "
            "cut or unsoldered"
        )
    elif not figures.keyed:
        message = "the pair at this coupling goes together either way round"
    else:
        message = (
            f"the pair at this coupling does not take all {crossing.conductors} wires, by number, gauge or "
            "current"
        )
    if fitting:
        figures_of = fitting[0].figure(Connector)
        cavities = figures_of.cavities if figures_of is not None else 0
        remedy = (
            f"set 'coupling connector: {fitting[0].id}' in 'wiring' ({fitting[0].name}): it goes together "
            f"one way only and has {cavities} cavities"
        )
    else:
        remedy = "no keyed pair takes all: use two different ones, so that they cannot be mixed up"
    return Finding(
        subject=SUBJECT,
        severity="note",
        where=where,
        message=message,
        figure=0.0 if figures is None or not figures.keyed else float(figures.cavities),
        limit=1.0 if figures is None or not figures.keyed else float(crossing.conductors),
        unit="keyed pairs" if figures is None or not figures.keyed else "cavities",
        remedy=remedy,
        source=PRACTICE,
    )
