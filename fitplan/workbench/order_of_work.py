"""The whole order of work: the table, vehicle by vehicle, the meter, the lids, the first run."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from copy import copy
from dataclasses import replace

from fitplan.model.built import BuiltTrain
from fitplan.model.meter import MeterPlan
from fitplan.model.ways_in import AssemblyStep
from fitplan.model.work import WorkPlan
from fitplan.packing.access.disassembly import Disassembly, Filling
from fitplan.workbench.leading import leading
from fitplan.workbench.led_steps import with_leading
from fitplan.workbench.work_search import VehicleOrder, WorkSearch, renumbered
from fitplan.workbench.work_steps import WorkSteps, plugged_last


class OrderOfWork:
    """The orders in which all vehicles are filled; `plan` makes the steps of them."""

    def __init__(
        self,
        built: BuiltTrain,
        assembly: Sequence[AssemblyStep],
        filled: Filling = Disassembly,
        late: Callable[[], bool] = lambda: False,
    ) -> None:
        self.built = built
        self._plugged_last = frozenset(plugged_last(built))
        self._searches: dict[str, WorkSearch] = {}
        self.orders: dict[str, VehicleOrder] = {}
        for entry in built.train.vehicles:
            steps = [step for step in assembly if step.vehicle == entry.name]
            search = WorkSearch(built, entry.name, steps, self._plugged_last, filled, late)
            if steps or search.loom.strands or built.taken_out(entry.name):
                self._searches[entry.name] = search
                self.orders[entry.name] = search.find()

    def with_wires_of(self, built: BuiltTrain) -> OrderOfWork:
        """Return the order for the same places with wires of other lengths."""
        other = copy(self)
        other.built = built
        other._searches = {name: search.with_wires_of(built) for name, search in self._searches.items()}
        other.orders = {name: search.find() for name, search in other._searches.items()}
        return other

    @property
    def assembly(self) -> tuple[AssemblyStep, ...]:
        """The steps of assembly in the order that is followed, numbered through."""
        return tuple(entry.step for order in self._numbered() for entry in order.entries)

    @property
    def short(self) -> tuple[tuple[int, float], ...]:
        """What wires lack for their part to hang on them beside its vehicle: (wire, mm)."""
        most: dict[int, float] = {}
        for order in self.orders.values():
            for entry in order.entries:
                for wire, lack in entry.joints.short:
                    most[wire] = max(most.get(wire, 0.0), lack)
        return tuple(sorted(most.items()))

    def _numbered(self) -> list[VehicleOrder]:
        found, first = [], 1
        for order in self.orders.values():
            found.append(replace(order, entries=renumbered(order.entries, first)))
            first += len(order.entries)
        return found

    def plan(self, meter: MeterPlan) -> WorkPlan:
        """Return all steps."""
        orders = self._numbered()
        led = {order.vehicle: leading(self.built, self._searches[order.vehicle], order) for order in orders}
        plain = list(WorkSteps(self.built, orders, self._searches, self._plugged_last, meter, led).all())
        steps = with_leading(plain, self._searches, led)
        numbered = tuple(replace(step, number=number) for number, step in enumerate(steps, 1))
        iron = sum(
            len(step.ends)
            for step in numbered
            if step.act in ("join", "splice") and step.spot == "inside" and step.joint == "solder"
        )
        blocked = tuple(text for one in led.values() for text in one.blocked.values())
        return WorkPlan(
            numbered, len(self.short), iron, all(order.proved for order in orders), self.short, blocked
        )
