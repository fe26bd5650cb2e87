"""Parts of the catalogue that would go in where one of their family finds no place.

Each is asked by the same question as the part that was left out, beside all that lies in the vehicle, and
whether it works there with the others (`Suitability`). The largest is asked first: it is the most alike.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence

from fitplan.model.electrical import Lead
from fitplan.model.forms import PLUGGED, stem_of
from fitplan.model.needed import Need
from fitplan.model.part import Part
from fitplan.model.placed import Placement
from fitplan.model.plugged import plugged
from fitplan.model.solids import bounds_of
from fitplan.model.train import Train
from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.fit_table import may_go
from fitplan.planning.run_state import PlanningRun
from fitplan.planning.suitability import Suitability

MOST_ASKED = 8
"""So many parts of a family are asked about."""
MOST_NAMED = 2


def others_of_its_family(
    need: Need, run: PlanningRun, suitability: Suitability, placed: Sequence[Placement]
) -> tuple[tuple[Part, str], ...]:
    """Return parts that would go in, each with the vehicle in which it surely does."""
    there = {place.need: place.part for place in placed}
    found: list[tuple[Part, str]] = []
    for part in itertools.islice(_alike(need, run, suitability, there), MOST_ASKED):
        if stem_of(part.id) in {stem_of(one.id) for one, _ in found}:
            continue  # the same in another form
        for entry in run.train.vehicles:
            if not may_go(need, entry.name) or run.over("what else would fit"):
                continue
            beside = tuple(
                Wanted(run.train.need(place.need), place.part)
                for place in placed
                if place.vehicle == entry.name
            )
            if run.pack(entry.name, (Wanted(need, part), *beside)).holds:
                found.append((part, entry.name))
                break
        if len(found) == MOST_NAMED:
            break
    return tuple(found)


def _alike(
    need: Need, run: PlanningRun, suitability: Suitability, there: Mapping[str, Part]
) -> Iterator[Part]:
    """Yield parts of the catalogue that could take a need's place on its nets, the largest first."""
    families = {part.family for part in need.candidates}
    asked = {part.id.removesuffix(PLUGGED) for part in need.candidates}
    pins = {
        ref.pin for net in run.train.nets for ref in net.joins if ref.owner == need.name and ref.pin != "*"
    }
    looks = need.candidates[0].mount.looks
    alike = [
        part
        for part in run.train.catalogue.values()
        if part.family in families and part.id.removesuffix(PLUGGED) not in asked
        if pins <= {pin.name for pin in part.pins} and part.mount.looks == looks
    ]
    for part in sorted(alike, key=lambda one: (-math.prod(bounds_of(one.envelope).size), one.id)):
        wired = _with_leads(need, part, run.train)
        if wired is not None and not suitability.why_not({**there, need.name: wired}):
            yield wired


def _with_leads(need: Need, part: Part, train: Train) -> Part | None:
    """Return a part with the leads of its nets plugged in; None where it has no socket for one of them."""
    if part.id.endswith(PLUGGED):
        return None
    for net in train.nets:
        ref = next((one for one in net.joins if one.owner == need.name), None) if net.lead else None
        if ref is None:
            continue
        pin = next((one for one in part.pins if one.name == ref.pin), None)
        lead = train.catalogue[net.lead]
        figures = lead.figure(Lead)
        if pin is None or figures is None or pin.socket not in (figures.first, figures.second):
            return None
        try:
            part = plugged(part, pin, lead, second=pin.socket != figures.first)
        except ValueError:
            return None
    return part


def words_for(found: Sequence[tuple[Part, str]]) -> str:
    """Return a clause that names parts, each with where it would go in; empty without any."""
    named = [
        f"{' and '.join(part.id.removesuffix(PLUGGED) for part, there in found if there == vehicle)}"
        f" would go into the {vehicle}"
        for vehicle in dict.fromkeys(there for _, there in found)
    ]
    return f"; of its family {', '.join(named)}" if named else ""
