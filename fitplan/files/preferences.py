"""The preferences of a train file, and what they refer to."""

from __future__ import annotations

from fitplan.files.document import Text
from fitplan.files.look_up import Reading, tell_unknown
from fitplan.files.train_file import TrainFile
from fitplan.model.needed import Preference


def preferences_of(entry: TrainFile, reading: Reading) -> tuple[Preference, ...]:
    """Return the preferences in their order; what they name and is not there goes to the mistakes."""
    needs = [str(need.name) for need in entry.needs]
    bodies = {name: vehicle for name, vehicle in reading.vehicles.items() if vehicle is not None}
    built = [f"{name}/{item.name}" for name, vehicle in bodies.items() for item in vehicle.built_in]
    lids = [opening.name for vehicle in bodies.values() for opening in vehicle.openings]
    found = []
    for item in entry.preferences:
        if item.of not in needs:
            tell_unknown("need", item.of, needs, reading)
        kind, other = item.said
        what, known = "need or built-in thing", [*needs, *built]
        if kind == "reachable from":
            what, known = "opening", lids
        if isinstance(other, Text) and other not in known and len(bodies) == len(reading.vehicles):
            tell_unknown(what, other, known, reading)
        found.append(Preference(str(item.of), kind, str(other or "")))
    return tuple(found)
