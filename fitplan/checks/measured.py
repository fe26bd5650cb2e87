"""Which figures are measured and which are typical, and what measured stops mean for the trip distance."""

from __future__ import annotations

from dataclasses import replace

from fitplan.checks.braking import beyond_mean, braking_of, fit_of, trip_distance
from fitplan.checks.ends import eyes_of
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Bank, CellPack, Controller, Load
from fitplan.model.found import Finding, Outcome, Table
from fitplan.model.measured import NOTHING_MEASURED, as_measured_id, free_length_of

SUBJECT = "measured"
CHANCES = (0.1, 0.03, 0.01, 0.003, 0.001)
SOURCE = "least squares of v·t + v²/(2a), and Student's t for one stop more (textbook)"


def check_measured(built: BuiltTrain) -> Outcome:
    """Tell what was measured and what is typical still; nothing where nothing was measured."""
    train = built.train
    if train.measured == NOTHING_MEASURED:
        return Outcome(SUBJECT, ())
    rows = [(one.what, one.value, "measured", one.date, one.typical) for one in train.measured.figures]
    known = {one.what for one in train.measured.figures}
    open_ = [(what, value, "typical", "", "") for what, value in _typical(built) if what not in known]
    tables = [
        Table(
            "Figures that were measured, and typical ones",
            ("of", "figure", "is", "on", "before"),
            (*rows, *open_),
            "measured figures are reckoned with in all of the plan; measure the others when they matter",
        )
    ]
    findings = [
        Finding(
            SUBJECT,
            "note",
            train.name,
            f"{len(rows)} figures are measured, {len(open_)} that matter are typical still",
            float(len(rows)),
            float(len(rows) + len(open_)),
            "figures",
            "nothing to do" if not open_ else f"measure next: {open_[0][0]}",
            "the train file's `measured`",
        )
    ]
    fit = fit_of(train)
    eyes = [(eye, braking_of(built, eye)) for eye in eyes_of(built) if eye.guards] if fit else []
    if fit is not None and eyes:
        speed, margin = train.running.speed, train.running.margin
        eye, braking = max(eyes, key=lambda one: trip_distance(speed, one[1]))
        trip = trip_distance(speed, braking)
        here = beyond_mean(train)
        table: list[tuple[str | float, ...]] = []
        for chance in sorted({*CHANCES, train.measured.chance}, reverse=True):
            closer_by = round(trip + beyond_mean(train, chance) - here, 1)
            table.append((f"1 in {1 / chance:.0f}", round(closer_by - margin, 1), closer_by))
        tables.append(
            Table(
                f"Trip distance of {eye.need} by the chance of a stop that goes too far",
                ("chance", "touches (mm)", f"comes closer than {margin:g} mm (mm)"),
                tuple(table),
                f"at {speed:.0f} mm/s; {len(train.measured.stops)} stops, spread {fit.spread_mm:.1f} mm with "
                f"{fit.freedom} degrees of freedom; chosen: 1 in {1 / train.measured.chance:.0f}",
            )
        )
        set_to = train.running.trip_distance or trip
        own = max(set_to - (trip - here) + margin, 0.0)
        touching = fit.chance_beyond(speed, fit.mean(speed) + own)
        closer = fit.chance_beyond(speed, fit.mean(speed) + own - margin)
        findings.append(
            Finding(
                SUBJECT,
                "note" if closer <= train.measured.chance * (1 + 1e-6) else "caution",
                eye.need,
                f"at a trip distance of {set_to:.0f} mm a stop comes closer than the margin with a chance of "
                f"{100 * closer:.2g} %, and touches with {100 * touching:.2g} %",
                round(100 * closer, 4),
                round(100 * train.measured.chance, 4),
                "%",
                f"nothing to do: the chosen chance asks for {trip:.0f} mm"
                if set_to >= trip
                else f"set the trip distance to {trip:.0f} mm",
                SOURCE,
            )
        )
    return Outcome(SUBJECT, tuple(findings), tuple(tables))


_RESTS_ON: dict[str, tuple[str, ...]] = {
    "stopping": ("speed", "deceleration", "command delay"),
    "curves": ("speed", "mass of"),
    "balance": ("mass of",),
    "support": ("mass of",),
    "supply": ("current of", "current from", "stall of"),
    "heat": ("current of", "current from"),
    "wire": ("free length", "current of", "current from", "length of wire"),
    "wiring": ("free length", "length of wire"),
    "places": ("outline of", "room of"),
    "view": ("outline of", "room of"),
    "access": ("outline of", "room of"),
}
"""The figures, by how their words begin, that the findings of a subject rest on, if they can be measured."""


def told_as_measured(outcomes: tuple[Outcome, ...], built: BuiltTrain) -> tuple[Outcome, ...]:
    """Return outcomes whose findings say which of the figures under them are measured, and which typical.

    Nothing is added where nothing was measured: all figures are typical, or as the train file says.
    """
    measured = built.train.measured
    if measured == NOTHING_MEASURED:
        return outcomes
    known = {one.what: one.date for one in measured.figures}
    open_ = [what for what, _ in _typical(built) if what not in known]

    def words(subject: str, where: str) -> str:
        kinds = _RESTS_ON.get(subject, ())
        names = where.split(", ")
        here = [one for one in built.placements if one.need in names]
        parts = {as_measured_id(one.part.id) for one in here}
        vehicles = {one.vehicle for one in here} | ({*names} & {one.name for one in built.train.vehicles})
        of_parts = ("outline of", "current of")

        def mine(what: str) -> bool:
            kind = next((kind for kind in kinds if what.startswith(kind)), "")
            if not kind:
                return False
            if kind == "room of":
                return not vehicles or any(what.startswith(f"room of {name} at") for name in vehicles)
            return kind not in of_parts or not parts or any(what == f"{kind} {part}" for part in parts)

        told = [f"{what} {date}" for what, date in known.items() if mine(what)]
        left = [what for what in open_ if mine(what)]
        found = [f"measured: {', '.join(told)}"] if told else []
        found += [f"typical: {', '.join(left[:3])}{' and others' if len(left) > 3 else ''}"] if left else []
        return "; ".join(found)

    def marked(one: Outcome) -> Outcome:
        return replace(
            one,
            findings=tuple(
                replace(finding, source=f"{finding.source}; {said}" if finding.source else said)
                if (said := words(finding.subject, finding.where))
                else finding
                for finding in one.findings
            ),
        )

    return tuple(map(marked, outcomes))


def _typical(built: BuiltTrain) -> list[tuple[str, str]]:
    """Return the figures that matter to a plan and are commonly measured, with what is reckoned."""
    running = built.train.running
    found = [
        ("speed", f"{running.speed:g} mm/s"),
        ("deceleration", f"{running.deceleration:g} mm/s²"),
        ("command delay", f"{running.command_delay_s:g} s"),
    ]
    found += [(f"mass of {one.name}", f"{one.vehicle.mass_g:g} g") for one in built.train.vehicles]
    found += [
        (free_length_of(one.ahead, one.behind), f"{one.free_mm:.0f} mm") for one in built.harness.crossings
    ]
    parts = {as_measured_id(one.part.id): one.part for one in built.placements}
    sources = [one for one in built.placements if one.part.figure(CellPack) or one.part.figure(Bank)]
    found += [(f"current from {one.need}", "what draws from it, added up") for one in sources]
    for name, part in parts.items():
        draws = part.figure(Load) or part.figure(Controller)
        if draws is not None and part.typical:
            found.append((f"current of {name}", f"{draws.current_ma:g} mA"))
        if part.typical:
            edges = " × ".join(f"{edge:g}" for edge in part.bounds.size)
            found.append((f"outline of {name}", f"{edges} mm"))
    return found
