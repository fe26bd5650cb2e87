"""Match what the nets want to what a controller's pins can do.

A maximum matching: no other leaves fewer wants without a pin.  Among those the cheapest: plain wants go to
plain pins, the console's pins stay free while others serve, and abilities that others may need are not
spent.  When some want has no pin, the smallest set of wants that clash is named: more wants than pins that
can serve any of them (Hall, J. London Math. Soc. 10 (1935)).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from fitplan.model.electrical import Controller
from fitplan.model.matching import all_served
from fitplan.model.part import Can, Part, Pin, PinCare
from fitplan.model.pins_used import PinUse
from fitplan.model.train import Train
from fitplan.pins.assignment import assign_rows
from fitplan.pins.timers import timers_in_use
from fitplan.pins.wants import PinRequest, controllers_of, signal_pins, wants_of

_SPENT: dict[Can, int] = {
    "input": 1, "output": 2, "analog": 10, "pwm": 20, "data": 40, "clock": 40, "receive": 0, "send": 0,
}  # fmt: skip
"""What it costs to spend an ability that was not wanted."""
_CONSOLE = 1_000
"""What it costs to use a pin of the serial console for something else."""
_BOOT = 300
"""What it costs to use a pin that decides how the board starts."""
_STEP = 1_000
"""Weight of the costs above the order of pins, which only breaks ties."""
_UNMATCHED_OPTIONAL = 100_000_000
_UNMATCHED = 10_000_000_000
_IMPOSSIBLE = 1_000_000_000_000
_MOST_KINDS = 12
"""Up to so many kinds of wants the smallest clash is searched for in all sets of kinds."""


@dataclass(frozen=True)
class PinMatch:
    """Which pin serves which net.

    Attributes
    ----------
    uses
        The pin map, in the order of the nets; pins that are kept free come last, with an empty net.
    unmatched
        Wants without a pin.
    clash
        The smallest set of wants that cannot all be served, and in ``clash_pins`` all the pins
        (``controller.pin``) that could serve any of them: always fewer.  Empty when every want has a pin.
    console
        Pins of the serial console (``controller.pin``) that had to be used for something else.
    """

    uses: tuple[PinUse, ...]
    unmatched: tuple[PinRequest, ...] = ()
    clash: tuple[PinRequest, ...] = ()
    clash_pins: tuple[str, ...] = ()
    console: tuple[str, ...] = ()

    @property
    def complete(self) -> bool:
        """True when every want has a pin."""
        return not self.unmatched

    def pin(self, controller: str, net: str) -> str:
        """Return the pin of a controller that serves a net; empty when none does."""
        return next((use.pin for use in self.uses if use.controller == controller and use.net == net), "")

    def pin_for(self, controller: str, want: PinRequest) -> str:
        """Return the pin of a controller that a want has; empty when it has none."""
        return want.pin or next((self.pin(controller, net) for net in want.nets), "")


def serves(pin: Pin, want: PinRequest) -> bool:
    """Return whether a pin can do all that is wanted, and is the one that the user fixed, if any.

    The reset pin serves nothing of itself, nor does a pin that decides how the board starts serve an input: a
    sensor would decide it.  What the user fixed stands, and is told.
    """
    if not want.abilities <= pin.can or (want.pin and want.pin != pin.name):
        return False
    return bool(want.pin) or not troubles(pin, want)


def troubles(pin: Pin, want: PinRequest) -> tuple[PinCare, ...]:
    """Return what speaks against a pin that can do what is wanted."""
    found: list[PinCare] = []
    if "reset" in pin.care:
        found.append("reset")
    if "boot" in pin.care and want.abilities & {"input", "analog", "data", "clock", "receive"}:
        found.append("boot")
    if "not with radio" in pin.care and "analog" in want.abilities:
        found.append("not with radio")
    if "no pull-up" in pin.care and want.pull_up:
        found.append("no pull-up")
    return tuple(found)


def _timer_free(pin: Pin, want: PinRequest, figures: Controller | None, carrier: str, tone: bool) -> bool:
    """Return whether a pin's timer is left to a want when carrier and tone take theirs."""
    if figures is None or not pin.timer or "pwm" not in want.abilities or want.pin:
        return True
    taken = figures.tone_timer if tone else ""
    if want.use == "carrier":
        return pin.timer == carrier and pin.timer not in (taken, figures.clock_timer)
    if want.use == "tone":
        return pin.timer != carrier
    return pin.timer not in (carrier, taken)


def match_pins(train: Train, chosen: Mapping[str, Part]) -> PinMatch:
    """Match the pins of every controller of a train; what is wired already keeps its pin where all have one.

    Parameters
    ----------
    chosen
        The part chosen for each need; a need that is missing takes its first candidate.
    """
    found = []
    for name, part in controllers_of(train, chosen).items():
        wants = wants_of(train, chosen, name)
        wired = {one.net: one.pin for one in train.as_built.pins if one.controller == name}
        found.append(_matched_as_wired(name, part, wants, wired))
    worst = min((one for one in found if one.clash), key=lambda one: len(one.clash), default=PinMatch(()))
    return PinMatch(
        tuple(use for one in found for use in one.uses),
        tuple(want for one in found for want in one.unmatched),
        worst.clash,
        worst.clash_pins,
        tuple(pin for one in found for pin in one.console),
    )


def _matched_as_wired(
    name: str, part: Part, wants: tuple[PinRequest, ...], wired: Mapping[str, str]
) -> PinMatch:
    """Match the pins of one controller; what is wired keeps its pin where all have one, and its timer."""
    kept = [_as_wired(want, part, wired) for want in wants]
    match = match_wants(name, part, kept)
    if kept == list(wants):
        return match
    if not match.complete:
        return match_wants(name, part, wants)
    clashing = _timer_clashes(name, part, wants, match)
    if not clashing:
        return match
    freed = [want if want.name in clashing else one for want, one in zip(wants, kept, strict=True)]
    for fewer in (freed, wants):
        other = match_wants(name, part, fewer)
        if other.complete and len(_timer_clashes(name, part, wants, other)) < len(clashing):
            return other
    return match


def _timer_clashes(name: str, part: Part, wants: Sequence[PinRequest], match: PinMatch) -> frozenset[str]:
    """Return the wants, none of them fixed by the user, that leave a timer to what sets it at another pin."""
    used = timers_in_use(part, ((want, match.pin_for(name, want)) for want in wants))
    return frozenset(want.name for one in used for want in one.makes_way if not want.pin)


def _as_wired(want: PinRequest, part: Part, wired: Mapping[str, str]) -> PinRequest:
    """Return a want that takes the pin which serves its net already, where the part has it and it can."""
    named = next((wired[net] for net in want.nets if net in wired), "")
    pin = next((pin for pin in signal_pins(part) if pin.name == named), None)
    if want.pin or pin is None or not serves(pin, want):
        return want
    return replace(want, pin=named)


def match_wants(controller: str, part: Part, wants: Sequence[PinRequest]) -> PinMatch:
    """Match the pins of one controller to what is wanted of them."""
    pins = signal_pins(part)
    figures = part.figure(Controller)
    console = set(figures.serial_pins) if figures is not None else set()
    if not console:
        console = {pin.name for pin in pins if pin.can & {"receive", "send"}}
    tone = any(want.use == "tone" for want in wants)
    carried = any(want.use == "carrier" for want in wants)
    timers = list(dict.fromkeys(pin.timer for pin in pins if pin.timer)) if carried else [""]
    fixed = {pin.timer for pin in pins for want in wants if want.use == "carrier" and want.pin == pin.name}
    timers = [timer for timer in timers if timer in fixed] or timers
    columns = _assign(pins, wants, figures, timers, tone, frozenset(), console)
    if figures is not None and figures.port_ma:
        columns = _spread(pins, wants, figures, timers, tone, console, columns)
    return _match_of(controller, pins, wants, columns, console)


def _spread(
    pins: Sequence[Pin],
    wants: Sequence[PinRequest],
    figures: Controller,
    timers: Sequence[str],
    tone: bool,
    console: set[str],
    columns: tuple[int, ...],
) -> tuple[int, ...]:
    """Return the matching with loads moved off ports that are asked for too much, as long as that helps."""
    barred: frozenset[tuple[int, str]] = frozenset()
    tried: set[tuple[int, str]] = set()
    while (moved := _too_much(pins, wants, columns, figures.port_ma, tried)) is not None:
        tried.add(moved)
        again = _assign(pins, wants, figures, timers, tone, barred | {moved}, console)
        served = sum(column < len(pins) for column in again) >= sum(column < len(pins) for column in columns)
        if served and _excess(pins, wants, again, figures) < _excess(pins, wants, columns, figures):
            columns, barred = again, barred | {moved}
    return columns


def _drawn(
    pins: Sequence[Pin], wants: Sequence[PinRequest], columns: Sequence[int]
) -> dict[str, list[tuple[float, int]]]:
    """Return what hangs on each port: currents (mA) with the rows of their wants."""
    drawn: dict[str, list[tuple[float, int]]] = {}
    for row, column in enumerate(columns):
        if column < len(pins) and pins[column].port and wants[row].current_ma:
            drawn.setdefault(pins[column].port, []).append((wants[row].current_ma, row))
    return drawn


def _excess(
    pins: Sequence[Pin], wants: Sequence[PinRequest], columns: Sequence[int], figures: Controller
) -> float:
    sums = (sum(current for current, _ in loads) for loads in _drawn(pins, wants, columns).values())
    return sum(max(0.0, together - figures.port_ma) for together in sums)


def _too_much(
    pins: Sequence[Pin],
    wants: Sequence[PinRequest],
    columns: Sequence[int],
    port_ma: float,
    tried: set[tuple[int, str]],
) -> tuple[int, str] | None:
    """Return a want to move off an overloaded port: the least that is enough, else the most."""
    for port, loads in _drawn(pins, wants, columns).items():
        excess = sum(current for current, _ in loads) - port_ma
        free = [one for one in loads if not wants[one[1]].pin and (one[1], port) not in tried]
        if excess > 0 and free:
            enough = [one for one in free if one[0] >= excess]
            return (min(enough) if enough else max(free))[1], port
    return None


def _assign(
    pins: Sequence[Pin],
    wants: Sequence[PinRequest],
    figures: Controller | None,
    timers: Sequence[str],
    tone: bool,
    barred: frozenset[tuple[int, str]],
    console: set[str],
) -> tuple[int, ...]:
    """Return the cheapest matching over all timers that the carrier may take: a column of each want.

    ``barred`` holds the rows of wants with the ports that they may not use.
    """
    tried: list[tuple[int, tuple[int, ...]]] = []
    for carrier in timers or [""]:
        costs = [
            [
                _cost(want, pin, number, console)
                if _timer_free(pin, want, figures, carrier, tone) and (row, pin.port) not in barred
                else _IMPOSSIBLE
                for number, pin in enumerate(pins)
            ]
            + [_UNMATCHED_OPTIONAL if want.optional else _UNMATCHED] * len(wants)
            for row, want in enumerate(wants)
        ]
        columns = assign_rows(costs)
        total = sum(costs[row][column] for row, column in enumerate(columns))
        tried.append((total, columns))
    return min(tried, key=lambda one: one[0])[1]


def _match_of(
    controller: str,
    pins: Sequence[Pin],
    wants: Sequence[PinRequest],
    given: Sequence[int],
    console: set[str],
) -> PinMatch:
    uses: list[PinUse] = []
    unmatched: list[PinRequest] = []
    taken_console: list[str] = []
    for want, column in zip(wants, given, strict=True):
        if column >= len(pins):
            unmatched.append(want)
            continue
        pin = pins[column]
        if pin.name in console and want.nets:
            taken_console.append(f"{controller}.{pin.name}")
        uses.extend(
            PinUse(controller, pin.name, net, ", ".join(want.serves), want.doing, pin.in_program)
            for net in want.nets or ("",)
        )
    clash, clash_pins = find_clash(pins, wants) if unmatched else ((), ())
    if unmatched and not clash:
        # Each could have a pin, but not with the timers that carrier and tone take.
        clash = tuple(want for want in wants if "pwm" in want.abilities)
        able = [pin.name for pin in pins if any(serves(pin, want) for want in clash)]
        clash_pins = tuple(able[: len(clash) - 1])
    return PinMatch(
        tuple(uses),
        tuple(unmatched),
        clash,
        tuple(f"{controller}.{pin}" for pin in clash_pins),
        tuple(taken_console),
    )


def _cost(want: PinRequest, pin: Pin, number: int, console: set[str]) -> int:
    if not serves(pin, want):
        return _IMPOSSIBLE
    spent = _BOOT if "boot" in pin.care else 0
    spent += sum(_SPENT[can] for can in pin.can - want.abilities)
    if pin.name in console:
        spent += _CONSOLE
    return spent * _STEP + number


def find_clash(
    pins: Sequence[Pin], wants: Sequence[PinRequest]
) -> tuple[tuple[PinRequest, ...], tuple[str, ...]]:
    """Return the smallest set of wants that cannot all have a pin, and the pins that could serve any.

    Wants of one kind (the same pins can serve them) count together, so all sets of kinds can be tried; with
    more than 12 kinds the set is smallest only in that leaving any want out resolves it.  Both are empty
    when all wants can have a pin.
    """
    kinds: dict[frozenset[str], list[PinRequest]] = {}
    for want in wants:
        able = frozenset(pin.name for pin in pins if serves(pin, want))
        kinds.setdefault(able, []).append(want)
    if len(kinds) > _MOST_KINDS:
        return _shrink_clash(pins, wants)
    best: tuple[tuple[PinRequest, ...], tuple[str, ...]] = ((), ())
    for size in range(1, len(kinds) + 1):
        for chosen in combinations(kinds, size):
            able = frozenset().union(*chosen)
            count = sum(len(kinds[kind]) for kind in chosen)
            if count <= len(able) or (best[0] and len(able) + 1 >= len(best[0])):
                continue
            every = [want for want in wants if any(want in kinds[kind] for kind in chosen)]
            best = (
                _take(every, kinds, chosen, len(able) + 1),
                tuple(pin.name for pin in pins if pin.name in able),
            )
    return best


def _take(
    every: Sequence[PinRequest],
    kinds: Mapping[frozenset[str], list[PinRequest]],
    chosen: Sequence[frozenset[str]],
    count: int,
) -> tuple[PinRequest, ...]:
    """Return ``count`` wants, at least one of each kind."""
    firsts = [kinds[kind][0] for kind in chosen]
    rest = [want for want in every if not any(want is first for first in firsts)]
    taken = [*firsts, *rest][:count]
    return tuple(want for want in every if any(want is one for one in taken))


def _shrink_clash(
    pins: Sequence[Pin], wants: Sequence[PinRequest]
) -> tuple[tuple[PinRequest, ...], tuple[str, ...]]:
    """Return a clash from which no want can be left out, by leaving out one after the other."""
    if _all_served(pins, wants):
        return ((), ())
    kept = list(wants)
    for want in list(wants):
        trial = [other for other in kept if other is not want]
        if not _all_served(pins, trial):
            kept = trial
    able = tuple(pin.name for pin in pins if any(serves(pin, want) for want in kept))
    return tuple(kept), able


def _all_served(pins: Sequence[Pin], wants: Sequence[PinRequest]) -> bool:
    """Return whether every want can have a pin of its own."""
    return all_served([[i for i, pin in enumerate(pins) if serves(pin, want)] for want in wants])
