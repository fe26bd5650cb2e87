"""Supply trees read from the nets of role supply and the parts' figures.

Everything is a tree that hangs from a source: a rail is a net with what it feeds; between rails lie links (a
switch, a fuse, a regulator, a controller with its own regulator).
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field, replace

from fitplan.circuit.net_ends import ResolvedEnd, battery_part, ends_of, parts_of
from fitplan.circuit.ratings import APART_V, RAIL_V, has_supply_pin, is_logic_pin, only_gives
from fitplan.circuit.supply_tree import Link, LinkKind, Rail, RailLoad, Supply, SupplyTree, behind_socket
from fitplan.model.electrical import (
    Bank,
    CellPack,
    Charger,
    Connector,
    Controller,
    Fuse,
    Load,
    MotorDriver,
    Regulator,
    Switch,
)
from fitplan.model.part import FEED_ROLES, Part, PinRole
from fitplan.model.train import Train
from fitplan.model.vehicle import BuiltIn

_OUTPUTS: frozenset[PinRole] = frozenset({"plus"})
_SECOND_DROPOUT_V = 0.3
"""Dropout of the second regulator on a board, from 5 V to 3.3 V: typical, from memory."""


def build_supply(train: Train, chosen: Mapping[str, Part]) -> Supply:
    """Return the supply trees of a train with these parts."""
    return _SupplyBuilder(train, chosen).build()


@dataclass
class _Branch:
    """A rail that is still being read, and its links: kind, owner, part, what is below, regulator."""

    net: str = ""
    fed: list[RailLoad] = field(default_factory=list)
    links: list[tuple[LinkKind, str, Part, _Branch, Regulator | None]] = field(default_factory=list)

    def rail(self) -> Rail:
        """Return it with all below it as it stands."""
        links = (Link(kind, owner, part, below.rail(), by) for kind, owner, part, below, by in self.links)
        return Rail(self.net, tuple(self.fed), tuple(links))


class _SupplyBuilder:
    """Walks from every source along the supply nets; each net and each link is visited once."""

    def __init__(self, train: Train, chosen: Mapping[str, Part]) -> None:
        self.train = train
        self.parts = parts_of(train, chosen)
        self.ends: dict[str, tuple[ResolvedEnd, ...]] = {
            net.name: ends_of(train, chosen, net) for net in train.nets if net.role == "supply"
        }
        self.signal_ends: dict[str, tuple[ResolvedEnd, ...]] = {
            net.name: ends_of(train, chosen, net) for net in train.nets if net.role == "signal"
        }
        self.seen_nets: set[str] = set()
        self.seen_owners: set[str] = set()
        self.seen_logic: set[str] = set()
        self.unlike: list[tuple[str, ...]] = []
        self.between: dict[str, str] = {}

    def build(self) -> Supply:
        trees: list[SupplyTree] = []
        under = self._in_series()
        for owner, part in self.parts.items():
            source = part.figure(CellPack) or part.figure(Bank)
            if source is None or any(owner in lower for lower in under.values()):
                continue
            below = under.get(owner, ())
            self.seen_owners.update((owner, *below))
            root = _Branch()
            for net in self._nets_at(owner, ("plus", "supply", "5v")):
                root = self._rail(net, root, owner)
            between = tuple(self.between[upper] for upper in (owner, *below)[:-1])
            together = self._together(owner, below) or source
            trees.append(SupplyTree(owner, part, together, root.rail(), below, between))
        for owner, built_in in self._batteries():
            assert built_in.cells is not None
            self.seen_owners.add(owner)
            root = _Branch()
            for net in self._nets_at(owner, ("plus", "supply")):
                root = self._rail(net, root, owner)
            if root.net:
                trees.append(SupplyTree(owner, battery_part(built_in), built_in.cells, root.rail()))
        fed = {entry.owner for tree in trees for entry in tree.root.everything()}
        wanting = [
            name
            for name, part in self.parts.items()
            if (part.figure(Load) or part.figure(Controller) or part.figure(MotorDriver)) and name not in fed
        ]
        return Supply(tuple(trees), tuple(wanting), tuple(self.unlike))

    def _batteries(self) -> Iterator[tuple[str, BuiltIn]]:
        """Yield what is built in and holds cells, as ``vehicle/name``."""
        for entry in self.train.vehicles:
            for item in entry.vehicle.built_in:
                if item.cells is not None:
                    yield f"{entry.name}/{item.name}", item

    def _in_series(self) -> dict[str, tuple[str, ...]]:
        """Return for the uppermost of cells in series those below it, downwards."""
        below: dict[str, str] = {}
        for net, ends in self.ends.items():
            minus = [end.owner for end in ends if _is_pack(end) and any(p.role == "ground" for p in end.pins)]
            plus = [end.owner for end in ends if _is_pack(end) and any(p.role != "ground" for p in end.pins)]
            if len(minus) == len(plus) == 1 and minus != plus:
                below[minus[0]] = plus[0]
                self.between[minus[0]] = net
        found: dict[str, tuple[str, ...]] = {}
        for top in below:
            if top in below.values():
                continue
            chain = [top]
            while chain[-1] in below and below[chain[-1]] not in chain:
                chain.append(below[chain[-1]])
            found[top] = tuple(chain[1:])
        return found

    def _together(self, owner: str, below: tuple[str, ...]) -> CellPack | None:
        """Return the figures of cells in series; None when there are none, or unlike ones."""
        packs = [self.parts[name].figure(CellPack) for name in (owner, *below)]
        first = packs[0]
        if first is None or len(packs) < 2:
            return None
        kinds = {
            (pack.chemistry, pack.cell_size, pack.capacity_mah, pack.cells_per_unit)
            for pack in packs
            if pack is not None
        }
        if None in packs or len(kinds) > 1:
            self.unlike.append((owner, *below))
            return None
        known = [pack for pack in packs if pack is not None]
        return replace(
            first,
            cells=sum(pack.cells for pack in known),
            max_ma=min(pack.max_ma for pack in known),
            protected=all(pack.protected for pack in known),
        )

    def _nets_at(self, owner: str, roles: Collection[PinRole]) -> list[str]:
        return [
            net
            for net, ends in self.ends.items()
            if any(end.owner == owner and any(pin.role in roles for pin in end.pins) for end in ends)
        ]

    def _rail(self, net: str, rail: _Branch, giver: str) -> _Branch:
        """Return the rail of a net, entered from its giver; a second net of one giver joins the first."""
        if net in self.seen_nets:
            return rail  # something else gives onto it: that is told of its node
        self.seen_nets.add(net)
        if rail.net:
            # A source with several nets at its plus pin: they are one rail electrically.
            below = self._fill(_Branch(net), net, giver)
            rail.links.append(("through", giver, self.parts[giver], below, None))
            return rail
        rail.net = net
        return self._fill(rail, net, giver)

    def _fill(self, rail: _Branch, net: str, giver: str) -> _Branch:
        # What draws from this very rail comes before what only passes current on to rails below it.
        for end in sorted(self.ends[net], key=lambda one: one.part is not None and not _only_draws(one.part)):
            if end.owner == giver or (end.part is not None and not end.pins and not end.wild):
                continue  # nothing hangs on a pin that the part does not have
            if end.built_in is not None:
                peak = max(end.built_in.current_ma, end.built_in.stall_ma)
                if peak > 0 and end.owner not in self.seen_owners:
                    self.seen_owners.add(end.owner)
                    back, back_net = self._way_back(end.owner, net)
                    average = end.built_in.current_ma
                    rail.fed.append(
                        RailLoad(
                            end.owner, average, peak, 0.0, 0.0, "", back, back_net, end.built_in.stall_ma > 0
                        )
                    )
            elif end.part is not None and end.owner in self.parts:
                self._attach(rail, net, end, end.part)
        return rail

    def _way_back(self, owner: str, fed_by: str) -> tuple[str, str]:
        """Return through whose ground something built in gives its current back, and by which net."""
        for net, ends in self.ends.items():
            if net == fed_by or not any(end.owner == owner for end in ends):
                continue
            self.seen_nets.add(net)
            other = next((end.owner for end in ends if end.part is not None), "")
            if other:
                return other, net
        return "", ""

    def _attach(self, rail: _Branch, net: str, end: ResolvedEnd, part: Part) -> None:
        owner = end.owner
        if part.figure(MotorDriver) is not None and _is_logic(end, part):
            self._logic(rail, owner, part)
            if all(is_logic_pin(part, pin) for pin in end.pins):
                return
        if owner in self.seen_owners:
            return
        if end.pins and all(pin.role == "signal" for pin in end.pins) and has_supply_pin(part):
            return  # a signal on a supply net, such as a trigger held high, feeds nothing
        controller, regulator = part.figure(Controller), part.figure(Regulator)
        if part.figure(CellPack) or part.figure(Bank):
            return  # a second source: its own tree finds the net taken
        if (regulator is not None or part.figure(MotorDriver) is not None) and _is_output(end):
            return  # it gives onto a rail that something else gives onto: that is told of its node
        if controller and end.pins and all(only_gives(controller, pin.role) for pin in end.pins):
            return
        self.seen_owners.add(owner)
        if controller is not None:
            self._controller(rail, net, owner, part, controller, end)
        elif regulator is not None:
            below = self._below(owner, _OUTPUTS)
            rail.links.append(("regulator", owner, part, below, regulator))
        elif (driver := part.figure(MotorDriver)) is not None:
            rail.fed.append(RailLoad(owner, 0.0, 0.0, driver.min_v, driver.max_v))
            own = [end for ends in self.ends.values() for end in ends if end.owner == owner]
            if not any(_is_logic(one, part) for one in own):
                self._logic(rail, owner, part)
            self._pass_through(rail, owner, part, _OUTPUTS)
        elif (load := part.figure(Load)) is not None:
            rail.fed.append(self._fed(owner, load))
            if part.figure(Charger) is None and not _passes_on(part):
                return
            self._pass_through(rail, owner, part)
        elif _passes_on(part):
            self._pass_through(rail, owner, part)

    def _logic(self, rail: _Branch, owner: str, part: Part) -> None:
        """Feed the logic of a motor driver, by its own pin or by that of the motors."""
        logic = part.figure(Load)
        if logic is not None and owner not in self.seen_logic:
            self.seen_logic.add(owner)
            rail.fed.append(self._fed(owner, logic))

    def _pass_through(
        self, rail: _Branch, owner: str, part: Part, roles: Collection[PinRole] = FEED_ROLES
    ) -> None:
        below = self._below(owner, roles)
        if below.net:
            rail.links.append(("through", owner, part, below, None))

    def _below(self, owner: str, roles: Collection[PinRole]) -> _Branch:
        """Return the rail that a link gives current to: what nets at pins of these roles are still unread."""
        rail = _Branch()
        for net in self._nets_at(owner, roles):
            rail = self._rail(net, rail, owner)
        return rail

    def _controller(
        self, rail: _Branch, net: str, owner: str, part: Part, controller: Controller, end: ResolvedEnd
    ) -> None:
        entered: PinRole = end.pins[0].role if end.pins else "raw"
        regulator = controller.regulator
        if regulator is not None and RAIL_V.get(entered, float("inf")) < regulator.out_v + APART_V:
            regulator = None  # fed behind its regulator
        if end.pins and end.pins[0].socket and regulator is None and controller.usb_ma > 0:
            regulator = behind_socket(controller)
        inner = regulator.out_v if regulator is not None else RAIL_V.get(entered, controller.logic_v)
        own = RailLoad(
            owner,
            controller.current_ma * self._duty(owner),
            max(controller.peak_ma, controller.current_ma),
            controller.brown_out_v,
            at_times=self._duty(owner) < 1,
        )
        inside = _Branch("", [own, *self._on_signal_pins(owner)])
        for role, volts in RAIL_V.items():
            for other in self._nets_at(owner, (role,)):
                if other == net:
                    continue
                second = None
                if volts < inner - APART_V:
                    most = controller.low_rail_ma or controller.out_ma
                    second = Regulator("linear", volts, volts, inner, most, dropout_v=_SECOND_DROPOUT_V)
                kind: LinkKind = "regulator" if second is not None else "through"
                inside.links.append((kind, owner, part, self._rail(other, _Branch(), owner), second))
        rail.links.append(("controller", owner, part, inside, regulator))

    def _on_signal_pins(self, owner: str) -> list[RailLoad]:
        """Return the loads that a controller's signal pins feed: lamps and emitters with no supply pin."""
        found: list[RailLoad] = []
        for net, ends in self.signal_ends.items():
            if not any(end.owner == owner for end in ends):
                continue
            for end in ends:
                part = end.part
                if end.owner == owner or part is None or end.owner in self.seen_owners:
                    continue
                load = part.figure(Load)
                if load is None or has_supply_pin(part):
                    continue
                if not any(pin.wants & {"output", "pwm"} for pin in end.pins):
                    continue
                self.seen_owners.add(end.owner)
                fed = self._fed(end.owner, load)
                found.append(replace(fed, signal=net, at_times=True))
        return found

    def _fed(self, owner: str, load: Load) -> RailLoad:
        duty = self._duty(owner)
        most = max(load.peak_ma, load.current_ma)
        return RailLoad(owner, load.current_ma * duty, most, load.min_v, load.max_v, at_times=duty < 1)

    def _duty(self, owner: str) -> float:
        return self.train.need(owner).duty


def _is_pack(end: ResolvedEnd) -> bool:
    return end.part is not None and end.part.figure(CellPack) is not None


def _only_draws(part: Part) -> bool:
    """Return whether a part is a load and nothing else in the supply line."""
    gives = any(part.figure(kind) is not None for kind in (Controller, Regulator, MotorDriver))
    return part.figure(Load) is not None and not gives and not _passes_on(part)


def _passes_on(part: Part) -> bool:
    """Return whether a part only passes current on: a switch, a fuse, a charger, a connector, a junction."""
    if any(part.figure(kind) is not None for kind in (Switch, Fuse, Charger, Connector)):
        return True
    return not part.electrical and sum(pin.role in FEED_ROLES for pin in part.pins) >= 2


def _is_output(end: ResolvedEnd) -> bool:
    """Return whether a net ends at an output of a regulator or driver."""
    return bool(end.pins) and all(pin.role == "plus" for pin in end.pins)


def _is_logic(end: ResolvedEnd, part: Part) -> bool:
    """Return whether a net ends at a driver's logic supply."""
    return any(is_logic_pin(part, pin) for pin in end.pins)
