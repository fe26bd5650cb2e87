"""What the usual wiring reads: needs with their parts, nets as they would be written, and those that are."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fitplan.files.choice import pins_meant
from fitplan.model.electrical import Bank, CellPack, Charger, Regulator
from fitplan.model.nets import Net, NetRole
from fitplan.model.part import Part, Pin, PinRole

_TOLD_APART: frozenset[PinRole] = frozenset({"signal", "plus", "supply"})
"""Roles of which one pin is not as good as another."""
_GIVE = (CellPack, Bank, Regulator, Charger)


class NotUsualError(ValueError):
    """The usual wiring does not follow from these parts; the message says why, ``expected`` what would do."""

    def __init__(self, found: str, expected: str = "exactly one") -> None:
        super().__init__(found)
        self.expected = expected


@dataclass(frozen=True)
class UsualNet:
    """A net as it would be written: its pins as ``owner.pin``, and the id of the lead that makes it.

    Attributes
    ----------
    meets
        Those of its pins by which it is known again, the first before the others: where one stands in a net
        that is written, that is this net, and the pins that are not written yet join it.
    written
        Whether a net of this name is written, and these are pins more of it.
    """

    name: str
    role: NetRole
    joins: tuple[str, ...]
    lead: str = ""
    meets: tuple[str, ...] = ()
    written: bool = False


@dataclass(frozen=True)
class Owner:
    """A need with the parts that may serve it; the first speaks for all."""

    name: str
    parts: tuple[Part, ...]

    @property
    def part(self) -> Part:
        """The part that speaks for all."""
        return self.parts[0]

    def ref(self, pin: Pin) -> str:
        """Return how a net names a pin: by its name, or by its role where several parts may serve.

        Where a role is that of several pins that are no one piece of copper, such as the inputs of a motor
        driver or the two ends of a switch, it tells none of them: all parts must have the pin by its name.

        Raises
        ------
        NotUsualError
            Some part has no pin of this name, and its role tells none.
        """
        if len(self.parts) == 1:
            return f"{self.name}.{pin.name}"
        if pin.role not in _TOLD_APART or all(
            sum(own.role == pin.role for own in part.pins) == 1 for part in self.parts
        ):
            return f"{self.name}.{pin.role}"
        other = next((part for part in self.parts if pin.name not in {own.name for own in part.pins}), None)
        if other is not None:
            found = f"{self.name}, of which {self.part.id} has a pin {pin.name} and {other.id} has none"
            raise NotUsualError(found, "parts whose pins have the same names")
        return f"{self.name}.{pin.name}"

    def first(self, *roles: PinRole) -> Pin | None:
        """Return the first pin of the first of these roles that there is."""
        return next((pin for role in roles for pin in self.part.pins if pin.role == role), None)


class WrittenNets:
    """The nets that are written, asked by the pins that they join."""

    def __init__(self, nets: Sequence[Net], owners: Iterable[Owner]) -> None:
        by_name = {owner.name: owner for owner in owners}
        self._net_of: dict[str, Net] = {}
        self._giving = {
            f"{owner.name}.{word}"
            for owner in by_name.values()
            if any(owner.part.figure(kind) is not None for kind in _GIVE)
            for pin in owner.part.pins
            if pin.role == "plus"
            for word in (pin.name, pin.role)
        }
        self.names = {net.name for net in nets}
        for net in nets:
            for ref in net.joins:
                if ref.pin == "*":  # some pin: it stands in a net of its own each time
                    continue
                self._net_of.setdefault(f"{ref.owner}.{ref.pin}", net)
                owner = by_name.get(ref.owner)
                for pin in pins_meant(owner.part, ref.pin) if owner is not None else ():
                    self._net_of.setdefault(f"{ref.owner}.{pin.name}", net)
                    if pin.role != "signal":
                        self._net_of.setdefault(f"{ref.owner}.{pin.role}", net)

    def of(self, ref: str) -> Net | None:
        """Return the written net that joins a pin."""
        return self._net_of.get(ref)

    def together(self, one: str, other: str) -> bool:
        """Return whether one written net joins both pins."""
        net = self.of(one)
        return net is not None and net is self.of(other)

    def beside(self, net: UsualNet) -> UsualNet | None:
        """Return what of a usual net is not written: as pins more of a written net, or as a net of its own.

        What gives volts joins no written net that has them already. A lead goes from socket to socket or not
        at all.
        """
        left = tuple(ref for ref in net.joins if self.of(ref) is None)
        known = [own for ref in net.meets if (own := self.of(ref)) is not None]
        own = next((own for own in known if own.role == net.role and not own.lead), None)
        if own is not None and not net.lead:
            fed = any(self.of(giving) is own for giving in self._giving)
            owners = {ref.owner for ref in own.joins}
            left = tuple(
                ref
                for ref in left
                if not (fed and ref in self._giving)
                and not (is_any(ref) and ref.rpartition(".")[0] in owners)
            )
            return UsualNet(own.name, net.role, left, written=True) if left else None
        if len(left) < 2 or all(is_any(ref) for ref in left) or (net.lead and left != net.joins):
            return None
        name, count = net.name, 1
        while name in self.names:
            count += 1
            name = f"{net.name} {count}"
        return UsualNet(name, net.role, left, net.lead)


def any_pin(owner: Owner) -> str:
    """Return how a net names any signal pin of an owner."""
    return f"{owner.name}.*"


def is_any(ref: str) -> bool:
    """Return whether a net's end is any signal pin."""
    return ref.endswith(".*")
