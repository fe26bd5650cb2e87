"""Several controllers in one train: which of them each part is wired to, as far as the files tell.

A part belongs to the controller that a written signal net joins it with; else to that in its own vehicle,
where each controller has a vehicle of its own. What has no signal of its own (cells, fuses, switches,
regulators) serves all, or the one in whose vehicle it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fitplan.files.usual_owners import NotUsualError, Owner
from fitplan.model.nets import Net


@dataclass(frozen=True)
class Board:
    """A controller, and the parts that are wired to it."""

    brain: Owner
    owners: tuple[Owner, ...]


def boards_of(
    owners: Sequence[Owner],
    brains: Sequence[Owner],
    written: Sequence[Net],
    homes: Mapping[str, frozenset[str]],
    *,
    all_told: bool,
) -> tuple[Board, ...]:
    """Return the controllers in the order of the needs, each with what is wired to it.

    Parameters
    ----------
    homes
        The vehicles that each need may go into.
    all_told
        Whether parts without a signal must be told apart, too: with a supply for each controller.

    Raises
    ------
    NotUsualError
        It is not told which controller a part is wired to.
    """
    names = {brain.name for brain in brains}
    where = {brain.name: homes.get(brain.name, frozenset()) for brain in brains}
    alone = {
        min(there): name
        for name, there in where.items()
        if len(there) == 1 and list(where.values()).count(there) == 1
    }
    mine: dict[str, list[Owner]] = {brain.name: [] for brain in brains}
    untold: list[str] = []
    for owner in owners:
        if owner.name in names:
            continue
        own = _joined(owner, names, written)
        if own is None:
            there = homes.get(owner.name, frozenset())
            own = alone.get(min(there)) if len(there) == 1 else None
        if own is not None:
            mine[own].append(owner)
        elif all_told or any(pin.role == "signal" and not pin.optional for pin in owner.part.pins):
            untold.append(owner.name)
    if untold:
        told = sorted(f"{name} in {vehicle}" for vehicle, name in alone.items())
        apart = len(told) == len(brains)
        raise NotUsualError(
            f"{len(brains)} controllers ({', '.join(names_of(brains))}), and nothing that tells which of them"
            f" {' and '.join(untold)} {'is' if len(untold) == 1 else 'are'} wired to",
            f"`in: [...]` with the vehicle of one of them at each ({', '.join(told)})"
            if apart
            else f"each controller in a vehicle of its own, by `in: [...]`, and the same at"
            f" {' and '.join(untold)}, or a signal net of each with its controller",
        )
    return tuple(Board(brain, tuple(mine[brain.name])) for brain in brains)


def names_of(owners: Sequence[Owner]) -> list[str]:
    """Return the names of some needs."""
    return [owner.name for owner in owners]


def _joined(owner: Owner, brains: set[str], written: Sequence[Net]) -> str | None:
    """Return the one controller that written signal nets join a part with; None: none, or several."""
    found = {
        ref.owner
        for net in written
        if net.role == "signal" and any(end.owner == owner.name for end in net.joins)
        for ref in net.joins
        if ref.owner in brains
    }
    return min(found) if len(found) == 1 else None
