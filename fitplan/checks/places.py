"""Parts without a place: one finding each, with all that follows from it."""

from __future__ import annotations

import re
from collections.abc import Sequence

from fitplan.model.plan import BuiltTrain, Finding, Outcome

SUBJECT = "places"


def check_places(built: BuiltTrain, unplaced: Sequence[tuple[str, str]] = ()) -> Outcome:
    """Tell every need that found no place, why, and which nets go without it.

    Parameters
    ----------
    unplaced
        (need, why); a need that is not among them is told without a reason.
    """
    why = dict(unplaced)
    findings = []
    for need in built.train.needs:
        if built.placement(need.name) is not None:
            continue
        nets = [net.name for net in built.train.nets if any(ref.owner == need.name for ref in net.joins)]
        reason = f": {why[need.name]}" if why.get(need.name) else ""
        without = f"; {_listed(nets)} {'go' if len(nets) > 1 else 'goes'} without it" if nets else ""
        findings.append(
            Finding(
                SUBJECT,
                "stop",
                need.name,
                f"{need.name} has no place{reason}{without}",
                0.0,
                1.0,
                "places",
                "allow a smaller part or another vehicle, or let bricks come out",
                "the search for places",
            )
        )
    return Outcome(SUBJECT, tuple(findings))


def folded(outcomes: Sequence[Outcome], built: BuiltTrain) -> tuple[Outcome, ...]:
    """Return outcomes without findings about nothing but parts that have no place: those follow from that."""
    lost = {need.name for need in built.train.needs if built.placement(need.name) is None}
    if not lost:
        return tuple(outcomes)
    return tuple(
        Outcome(
            one.subject,
            tuple(found for found in one.findings if one.subject == SUBJECT or not _owners(found) <= lost),
            one.tables,
            one.plots,
        )
        for one in outcomes
    )


def _owners(finding: Finding) -> set[str]:
    """Return whom a finding is about: needs, pins as ``need.pin``, vehicles, nets."""
    named = re.split(r", | and ", finding.where)
    return {name.partition(".")[0] for name in named}


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
