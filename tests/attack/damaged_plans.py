"""Damages to written plans, one at a time, of every kind that a careless or a cunning hand may do.

A damage takes the JSON of a plan, changes one thing so that the plan is no longer true, and says whether it
found something to change. The figures that a plan may hold are not a damage: each changes what somebody would
cut, solder, print or believe.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

Json = Any
Change = Callable[[Json], bool]


@dataclass(frozen=True)
class Damage:
    """A damage: its kind, what is done, and the function that does it to a document in place.

    ``trusted``: no checker can tell without solving the whole again; it must stand among what is trusted.
    """

    kind: str
    name: str
    change: Change
    trusted: bool = False


DAMAGES: list[Damage] = []


def damage(kind: str, name: str, trusted: bool = False) -> Callable[[Change], Change]:
    """Put a function on the list."""

    def put(change: Change) -> Change:
        DAMAGES.append(Damage(kind, name, change, trusted))
        return change

    return put


def each(
    kind: str, rows: Sequence[tuple[str, Callable[[Json], Json | None]]], where: str, pick: int = 0
) -> None:
    """Put one damage on the list for each (what, change): it is done to an object that a path leads to.

    ``change`` is given the object; it changes it in place and returns None, or returns False to say that
    there is nothing to change.
    """
    for what, change in rows:

        def apply(document: Json, change: Callable[[Json], Json | None] = change) -> bool:
            found = list(objects(document, where))
            for one in found[pick:] + found[:pick]:
                before = json.dumps(one, sort_keys=True)
                if change(one) is not False and json.dumps(one, sort_keys=True) != before:
                    return True
            return False

        DAMAGES.append(Damage(kind, f"{where}: {what}", apply))


def objects(document: Json, where: str) -> Iterator[Json]:
    """Yield the objects that a path leads to: names with dots, ``*`` for every item of a list."""
    found = [document["plan"]]
    for step in where.split("."):
        if step == "*":
            found = [item for one in found for item in one]
        else:
            found = [one[step] for one in found if one.get(step) is not None]
    yield from found


def applied(document: Json, entry: Damage) -> Json | None:
    """Return a damaged copy of a document, or None where there is nothing to damage in this way."""
    broken = copy.deepcopy(document)
    return broken if entry.change(broken) else None


# -- changes that serve many fields ------------------------------------------------------------------------


def times(key: str, factor: float) -> Callable[[Json], Json | None]:
    def change(one: Json) -> Json | None:
        if not one[key]:
            return False
        one[key] *= factor
        return None

    return change


def plus(key: str, by: float) -> Callable[[Json], Json | None]:
    def change(one: Json) -> Json | None:
        one[key] += by
        return None

    return change


def to(key: str, value: Json) -> Callable[[Json], Json | None]:
    def change(one: Json) -> Json | None:
        one[key] = value
        return None

    return change


def flip(key: str) -> Callable[[Json], Json | None]:
    def change(one: Json) -> Json | None:
        one[key] = not one[key]
        return None

    return change


def shift(key: str, axis: int, by: float) -> Callable[[Json], Json | None]:
    def change(one: Json) -> Json | None:
        one[key][axis] += by
        return None

    return change


def drop(key: str, at: int = 0) -> Callable[[Json], Json | None]:
    def change(one: Json) -> Json | None:
        if not one[key]:
            return False
        del one[key][at]
        return None

    return change


def swap(key: str, a: int = 0, b: int = 1) -> Callable[[Json], Json | None]:
    def change(one: Json) -> Json | None:
        row = one[key]
        if len(row) <= max(a, b):
            return False
        row[a], row[b] = row[b], row[a]
        return None

    return change


def wires(document: Json) -> list[Json]:
    return list(objects(document, "built.harness.wires.*"))


def findings(document: Json, severity: str = "") -> Iterator[tuple[Json, int]]:
    """Yield (list of findings, index) of all findings of a severity."""
    for outcome in objects(document, "outcomes.*"):
        for index, finding in enumerate(outcome["findings"]):
            if not severity or finding["severity"] == severity:
                yield outcome["findings"], index


# -- couplings ---------------------------------------------------------------------------------------------

CROSSINGS = "built.harness.crossings.*"
each(
    "coupling",
    [
        ("free length 2 mm shorter", plus("free_mm", -2.0)),
        ("free length as on straight track", lambda one: one.update(free_mm=one["straight_mm"] + 1)),
        ("free length half as long again", times("free_mm", 1.5)),
        ("free length twice as long", times("free_mm", 2.0)),
        ("straight length 3 mm longer", plus("straight_mm", 3.0)),
        ("straight length 3 mm shorter", plus("straight_mm", -3.0)),
        ("hangs 5 mm higher than it does", plus("sag_above_rail_mm", 5.0)),
        ("hangs 5 mm lower than it does", plus("sag_above_rail_mm", -5.0)),
        ("clip the other way", flip("clip")),
        ("bundle half as thick", times("diameter_mm", 0.5)),
        ("bundle three times as thick", times("diameter_mm", 3.0)),
        ("two cavities swapped in the order", swap("pin_order")),
        ("last cavity dropped from the order", drop("pin_order", -1)),
        ("a cavity named for another net", lambda one: one["pin_order"].__setitem__(0, "1 nothing")),
        ("two wires swapped", swap("wires")),
        ("a wire dropped", drop("wires")),
        ("a wire counted twice", lambda one: one["wires"].append(one["wires"][0])),
        ("no connector", to("connector", "")),
        ("another connector", to("connector", "connector-of-nobody")),
        ("governed by straight track", to("governing", "straight level track")),
        ("another port ahead", to("port_ahead", "no such hole")),
        ("vehicles swapped", lambda one: one.update(ahead=one["behind"], behind=one["ahead"])),
    ],
    CROSSINGS,
)
each("coupling", [("second coupling 2 mm shorter", plus("free_mm", -2.0))], CROSSINGS, pick=1)
each("coupling", [("coupling dropped", drop("crossings"))], "built.harness")

# -- wires -------------------------------------------------------------------------------------------------

WIRES = "built.harness.wires.*"


def _allowance(what: str, by: float) -> Callable[[Json], Json | None]:
    def change(one: Json) -> Json | None:
        for row in one["allowances"]:
            if row[0] == what:
                row[1] = max(row[1] + by, 0.0)
                one["cut_mm"] += 5 * round(by / 5)
                return None
        return False

    return change


def _no_allowance(what: str) -> Callable[[Json], Json | None]:
    def change(one: Json) -> Json | None:
        kept = [row for row in one["allowances"] if row[0] != what]
        if len(kept) == len(one["allowances"]):
            return False
        one["allowances"] = kept
        return None

    return change


def _bend_out(one: Json) -> Json | None:
    """A point in the middle of a way moved 3 mm aside, the length made to match."""
    leg = max(one["legs"], key=lambda leg: len(leg["points"]))
    if len(leg["points"]) < 4:
        return False
    leg["points"][len(leg["points"]) // 2][2] -= 6.0
    return None


each(
    "wire",
    [
        ("cut 10 mm shorter", plus("cut_mm", -10.0)),
        ("cut 5 mm shorter", plus("cut_mm", -5.0)),
        ("cut 100 mm longer", plus("cut_mm", 100.0)),
        ("cut to a length between two steps", plus("cut_mm", 1.3)),
        ("bare length 2 mm more", plus("bare_mm", 2.0)),
        ("bare length 2 mm less", plus("bare_mm", -2.0)),
        ("no allowance for what is not taut", _no_allowance("not taut")),
        ("no allowance for bends", _no_allowance("bends")),
        ("no allowance for stripping", _no_allowance("stripping")),
        ("no service loop", _no_allowance("service loop")),
        ("no slack at couplings", _no_allowance("slack at couplings")),
        ("nothing for curves at couplings", _no_allowance("curves at couplings")),
        ("5 mm less for stripping, cut to match", _allowance("stripping", -5.0)),
        ("25 mm less for the service loop, cut to match", _allowance("service loop", -25.0)),
        ("2 mm less slack at couplings", _allowance("slack at couplings", -2.0)),
        ("an allowance below nothing", lambda one: one["allowances"].append(["not taut", -4.0])),
        ("thinner by two gauges", plus("awg", 2)),
        ("thinner by ten gauges", plus("awg", 10)),
        ("thicker by one gauge", plus("awg", -1)),
        ("outer diameter half", times("outer_mm", 0.5)),
        ("outer diameter twice", times("outer_mm", 2.0)),
        ("a colour that is none", to("colour", "XX")),
        ("the colour of protective earth", to("colour", "GNYE")),
        ("role of a signal", lambda one: one.update(role="signal") if one["role"] != "signal" else False),
        ("role of ground", lambda one: one.update(role="ground") if one["role"] != "ground" else False),
        ("current half", times("current_ma", 0.5)),
        ("current ten times", times("current_ma", 10.0)),
        ("current below nothing", times("current_ma", -1.0)),
        ("drop half", times("drop_v", 0.5)),
        ("drop twice", times("drop_v", 2.0)),
        ("no drop", to("drop_v", 0.0)),
        ("a point moved into something", _bend_out),
        ("a point dropped", lambda one: one["legs"][0]["points"].pop(1) and None),
        ("a leg dropped", lambda one: one["legs"].pop(0) and None),
        ("the net of another", to("net", "no such net")),
        ("another number", plus("number", 1)),
    ],
    WIRES,
)
each(
    "wire end",
    [
        ("stripped 1 mm", to("strip_mm", 1.0)),
        ("stripped 20 mm", to("strip_mm", 20.0)),
        ("moved 1 mm", shift("at", 0, 1.0)),
        ("moved 5 mm up", shift("at", 2, 5.0)),
        ("at another pin", lambda one: one.update(pin="nowhere") if one["kind"] == "pin" else False),
        ("in another cavity", lambda one: one.update(pin="9") if one["kind"] == "connector" else False),
        ("at another part", lambda one: one.update(owner="nobody") if one["kind"] == "pin" else False),
        ("a splice", lambda one: one.update(kind="splice", owner="S9") if one["kind"] == "pin" else False),
    ],
    WIRES + ".start",
)
each("wire end", [("stripped 2 mm less", plus("strip_mm", -2.0))], WIRES + ".end")


@damage("wire", "two wires swap their pins")
def _(document: Json) -> bool:
    rows = wires(document)
    for one in rows:
        for other in rows:
            if one["net"] != other["net"] and one["end"]["kind"] == other["end"]["kind"] == "pin":
                one["end"]["pin"], other["end"]["pin"] = other["end"]["pin"], one["end"]["pin"]
                if one["end"]["pin"] != other["end"]["pin"]:
                    return True
    return False


@damage("wire", "a wire dropped")
def _(document: Json) -> bool:
    rows = next(objects(document, "built.harness"))["wires"]
    return bool(rows) and rows.pop() is not None


@damage("wire", "a wire twice under a new number")
def _(document: Json) -> bool:
    rows = next(objects(document, "built.harness"))["wires"]
    rows.append({**copy.deepcopy(rows[0]), "number": 900})
    return True


@damage("wire", "two wires of one number")
def _(document: Json) -> bool:
    rows = wires(document)
    if len(rows) < 2:
        return False
    rows[1]["number"] = rows[0]["number"]
    return True


@damage("wire", "all wires of a net a gauge thinner, drops to match")
def _(document: Json) -> bool:
    supply = [wire for wire in wires(document) if wire["role"] != "signal"]
    for wire in supply:
        if wire["net"] == supply[0]["net"]:
            wire["awg"] += 2
            wire["drop_v"] *= 1.59
    return bool(supply)


@damage("wire", "all wires of a supply carry a tenth, drops to match")
def _(document: Json) -> bool:
    joins = {net["name"]: net for net in objects(document, "built.train.nets.*")}
    named = {item["need"]: item["part"] for item in objects(document, "built.placements.*")}
    for net, entry in joins.items():
        loads = 0.0
        for end in entry["joins"]:
            part = document["parts"].get(named.get(end["owner"], ""))
            feeds = part and [
                p for p in part["pins"] if p["role"] == "supply" and end["pin"] in (p["name"], "supply")
            ]
            for figures in part["electrical"] if feeds else ():
                loads += figures["current_ma"] if figures["is"] == "load" else 0.0
        mine = [wire for wire in wires(document) if wire["net"] == net]
        if loads and mine and entry["role"] == "supply":
            for wire in mine:
                wire["current_ma"] = loads * 0.1
                wire["drop_v"] = wire["drop_v"] * 0.1
            return True
    return False


@damage("colour", "one wire of a net in another colour")
def _(document: Json) -> bool:
    rows = wires(document)
    for one in rows:
        if sum(other["net"] == one["net"] for other in rows) > 1:
            one["colour"] = "SR"
            return True
    return False


@damage("colour", "two nets side by side in one colour")
def _(document: Json) -> bool:
    by_number = {wire["number"]: wire for wire in wires(document)}
    for stretch in objects(document, "built.harness.stretches.*"):
        nets = {by_number[n]["net"]: by_number[n]["colour"] for n in stretch["wires"]}
        if len(nets) > 1:
            (_, colour), (other, _) = list(nets.items())[:2]
            for wire in by_number.values():
                if wire["net"] == other:
                    wire["colour"] = colour
            return True
    return False


@damage("colour", "a supply in the colour of ground")
def _(document: Json) -> bool:
    grounds = [wire["colour"] for wire in wires(document) if wire["role"] == "ground"]
    supply = [wire for wire in wires(document) if wire["role"] == "supply"]
    if not grounds or not supply:
        return False
    for wire in wires(document):
        if wire["role"] == "supply":
            wire["colour"] = grounds[0]
    return True


# -- splices and stretches ---------------------------------------------------------------------------------

each(
    "stretch",
    [
        ("half as thick", times("diameter_mm", 0.5)),
        ("three times as thick", times("diameter_mm", 3.0)),
        ("5 mm longer", plus("length_mm", 5.0)),
        ("half as long", times("length_mm", 0.5)),
        ("a wire dropped where a port is passed", lambda one: drop("wires")(one) if one["port"] else False),
        ("a wire named twice", lambda one: one["wires"].append(one["wires"][0])),
        ("a wire that runs elsewhere", lambda one: one["wires"].append(999)),
        ("another port", to("port", "no such hole")),
        ("no port where one is passed", lambda one: one.update(port="") if one["port"] else False),
        ("80 mm up", lambda one: [spot.__setitem__(2, spot[2] + 80) for spot in one["points"]] and None),
        ("in another vehicle", to("vehicle", "nowhere")),
        ("no way", to("points", [])),
    ],
    "built.harness.stretches.*",
)
each("stretch", [("the name of another", to("name", "B2"))], "built.harness.stretches.*")
each(
    "splice",
    [
        ("moved 3 mm", shift("at", 1, 3.0)),
        ("a wire dropped", drop("wires")),
        ("of another net", to("net", "no such net")),
    ],
    "built.harness.splices.*",
)
each("splice", [("dropped", drop("splices"))], "built.harness")

# -- pins --------------------------------------------------------------------------------------------------

each(
    "pin map",
    [
        ("another pin", to("pin", "D99")),
        ("does something else", lambda one: one.update(does="analog" if one["does"] != "analog" else "pwm")),
        ("does any signal", lambda one: one.update(does="any signal") if one["net"] else False),
        ("does what no pin does", to("does", "sing")),
        ("serves another", lambda one: one.update(serves="nobody.IN") if one["net"] else False),
        ("serves nobody", lambda one: one.update(serves="") if one["net"] else False),
        ("on another net", to("net", "no such net")),
        ("kept free", lambda one: one.update(net="", serves="") if one["net"] else False),
        ("on another controller", to("controller", "nobody")),
    ],
    "built.pin_map.*",
)


@damage("pin map", "two rows swap their pins")
def _(document: Json) -> bool:
    placed = {row["need"] for row in objects(document, "built.placements.*")}
    rows = [row for row in objects(document, "built.pin_map.*") if row["net"] and row["controller"] in placed]
    if len(rows) < 2:
        return False
    rows[0]["pin"], rows[1]["pin"] = rows[1]["pin"], rows[0]["pin"]
    return True


@damage("pin map", "two rows swap their nets")
def _(document: Json) -> bool:
    placed = {row["need"] for row in objects(document, "built.placements.*")}
    rows = [row for row in objects(document, "built.pin_map.*") if row["net"] and row["controller"] in placed]
    if len(rows) < 2:
        return False
    rows[0]["net"], rows[1]["net"] = rows[1]["net"], rows[0]["net"]
    return True


@damage("pin map", "a row dropped")
def _(document: Json) -> bool:
    built = next(objects(document, "built"))
    kept = [row for row in built["pin_map"] if row["net"]]
    if not kept:
        return False
    built["pin_map"].remove(kept[-1])
    return True


@damage("pin map", "a pin that is kept free dropped")
def _(document: Json) -> bool:
    built = next(objects(document, "built"))
    kept = [row for row in built["pin_map"] if row["net"]]
    changed = len(kept) < len(built["pin_map"])
    built["pin_map"] = kept
    return changed


@damage("pin map", "a row twice")
def _(document: Json) -> bool:
    built = next(objects(document, "built"))
    rows = [row for row in built["pin_map"] if row["net"]]
    if not rows:
        return False
    built["pin_map"].append({**rows[0], "pin": rows[-1]["pin"]})
    return len(rows) > 1


# -- places ------------------------------------------------------------------------------------------------

each(
    "place",
    [
        (
            "moved 8 mm forwards",
            lambda one: one["place"]["offset"].__setitem__(0, one["place"]["offset"][0] + 8),
        ),
        (
            "moved 1.6 mm up",
            lambda one: one["place"]["offset"].__setitem__(2, one["place"]["offset"][2] + 1.6),
        ),
        ("moved 3 mm down", lambda one: one["place"]["offset"].__setitem__(2, one["place"]["offset"][2] - 3)),
        (
            "moved 30 mm aside",
            lambda one: one["place"]["offset"].__setitem__(1, one["place"]["offset"][1] + 30),
        ),
        (
            "turned over",
            lambda one: one["place"].update(pose="+x-y-z" if one["place"]["pose"] != "+x-y-z" else "+x+y+z"),
        ),
        ("in another vehicle", to("vehicle", "nowhere")),
        ("for another need", to("need", "nobody")),
    ],
    "built.placements.*",
)
each(
    "place",
    [
        (
            "the last one moved 3 mm up",
            lambda one: one["place"]["offset"].__setitem__(2, one["place"]["offset"][2] + 3),
        )
    ],
    "built.placements.*",
    pick=-1,
)


@damage("place", "another part of the plan in its stead")
def _(document: Json) -> bool:
    rows = list(objects(document, "built.placements.*"))
    others = [row["part"] for row in rows if row["part"] != rows[0]["part"]]
    if not others:
        return False
    rows[0]["part"] = others[0]
    return True


@damage("place", "a part dropped")
def _(document: Json) -> bool:
    built = next(objects(document, "built"))
    built["placements"].pop()
    return True


@damage("place", "a part placed twice")
def _(document: Json) -> bool:
    built = next(objects(document, "built"))
    built["placements"].append(copy.deepcopy(built["placements"][0]))
    return True


@damage("place", "carried by nothing under it")
def _(document: Json) -> bool:
    for row in objects(document, "built.placements.*"):
        if row["shelf"] is not None:
            row["shelf"] = None
            return True
    return False


each(
    "shelf",
    [
        (
            "a piece 2 mm lower",
            lambda one: one["pieces"][0]["box"]["high"].__setitem__(
                2, one["pieces"][0]["box"]["high"][2] - 2
            ),
        ),
        (
            "10 mm down",
            lambda one: (
                [
                    p["box"][end].__setitem__(2, p["box"][end][2] - 10)
                    for p in one["pieces"]
                    for end in ("low", "high")
                ]
                and None
            ),
        ),
    ],
    "built.placements.*.shelf",
)

# -- the order of assembly and what is exchanged -----------------------------------------------------------


@damage("assembly", "first and last step swapped")
def _(document: Json) -> bool:
    rows = document["plan"]["assembly"]
    if len(rows) < 2:
        return False
    rows[0], rows[-1] = rows[-1], rows[0]
    return True


@damage("assembly", "two numbers swapped")
def _(document: Json) -> bool:
    rows = document["plan"]["assembly"]
    if len(rows) < 2:
        return False
    rows[0]["number"], rows[1]["number"] = rows[1]["number"], rows[0]["number"]
    return True


@damage("assembly", "a step dropped")
def _(document: Json) -> bool:
    rows = document["plan"]["assembly"]
    return bool(rows) and rows.pop() is not None


@damage("assembly", "a step twice")
def _(document: Json) -> bool:
    rows = document["plan"]["assembly"]
    rows.append({**copy.deepcopy(rows[0]), "number": len(rows) + 1})
    return True


@damage("assembly", "blocked by something, and it is not")
def _(document: Json) -> bool:
    if document["plan"]["assembly_blocked"]:
        return False
    document["plan"]["assembly_blocked"] = ["the emitter blocks everything"]
    return True


each(
    "assembly",
    [
        ("through another opening", to("opening", "no such lid")),
        ("no moves", to("moves", [])),
        (
            "moves the other way",
            lambda one: one["moves"].__setitem__(
                0, ["+z" if one["moves"][0][0] != "+z" else "-z", one["moves"][0][1]]
            ),
        ),
        ("half as far", lambda one: [move.__setitem__(1, move[1] / 4) for move in one["moves"]] and None),
        ("another part", to("need", "nobody")),
        ("in another vehicle", to("vehicle", "nowhere")),
    ],
    "assembly.*",
)
each(
    "exchange",
    [
        (
            "said not to be reached",
            lambda one: one.update(reached=False, last=None) if one["reached"] else False,
        ),
        ("no way", lambda one: one.update(last=None) if one["last"] else False),
        ("everyday use the other way", flip("often")),
        ("cells the other way", flip("cells")),
        ("another access", to("access", "no such lever")),
        ("a brick that is none", lambda one: one["bricks"].append("no such brick")),
        ("another need", to("need", "nobody")),
    ],
    "built.exchanged.*",
)
each(
    "exchange",
    [
        ("through another opening", to("opening", "no such lid")),
        ("moves sideways", to("moves", [["+y", 200.0]])),
        (
            "a quarter as far",
            lambda one: [move.__setitem__(1, move[1] / 4) for move in one["moves"]] and None,
        ),
        ("with a part that is not there", lambda one: one["parts"].append("nobody")),
    ],
    "built.exchanged.*.last",
)
each("exchange", [("a row dropped", drop("exchanged"))], "built")
each(
    "exchange",
    [
        (
            "a row twice",
            lambda one: (
                one["exchanged"].append(copy.deepcopy(one["exchanged"][0])) if one["exchanged"] else False
            ),
        )
    ],
    "built",
)

# -- verdict, options, fit table, rebuilds --------------------------------------------------------


def _verdict(word: str) -> Change:
    def change(document: Json) -> bool:
        before = document["plan"]["verdict"]
        document["plan"]["verdict"] = word
        good = ("fits",), ("fits after a rebuild",), ("cannot fit", "not decided")
        return not any(before in group and word in group for group in good)

    return change


for _word in ("fits", "fits after a rebuild", "cannot fit", "not decided"):
    DAMAGES.append(Damage("verdict", f"verdict {_word}", _verdict(_word)))


@damage("verdict", "cannot fit made undecided, or the other way round", trusted=True)
def _(document: Json) -> bool:
    words = ["cannot fit", "not decided"]
    before = document["plan"]["verdict"]
    if before not in words:
        return False
    document["plan"]["verdict"] = words[1 - words.index(before)]
    return True


@damage("verdict", "a part is said to be left out that has a place")
def _(document: Json) -> bool:
    document["plan"]["unplaced"].append([next(objects(document, "built.placements.*"))["need"], "no room"])
    return True


@damage("verdict", "a part left out is left unsaid")
def _(document: Json) -> bool:
    rows = document["plan"]["unplaced"]
    return bool(rows) and rows.pop() is not None


@damage("verdict", "no reason for a part left out")
def _(document: Json) -> bool:
    for row in document["plan"]["unplaced"]:
        row[1] = ""
        return True
    return False


@damage("verdict", "another reason for a part left out", trusted=True)
def _(document: Json) -> bool:
    for row in document["plan"]["unplaced"]:
        row[1] = "crane wagon: 0.1 mm are missing"
        return True
    return False


each(
    "options",
    [
        ("scores 100 less", plus("score", -100.0)),
        ("scores 5 more", plus("score", 5.0)),
        ("one vehicle less", plus("vehicles_opened", -1)),
        ("one conductor more", plus("conductors_across", 1)),
        ("one unfused conductor more", plus("unfused_across", 1)),
        ("a place further down its list", plus("later_in_list", 1)),
        ("a wagon added", plus("wagons_added", 1)),
        ("bricks of 5 taken out", plus("bricks_removed", 5.0)),
        ("a metre more wire", plus("wire_mm", 1000.0)),
        ("10 g more off balance", plus("mass_off_balance_g", 10.0)),
        ("not the chosen one", to("chosen", False)),
        ("a part dropped", drop("parts")),
        ("a part elsewhere", lambda one: one["parts"][0].__setitem__(2, "nowhere")),
        ("another part", lambda one: one["parts"][0].__setitem__(1, "no-such-part")),
        ("parts shut in", plus("shut_in", 2)),
    ],
    "options.*",
)


@damage("options", "another one is the chosen one")
def _(document: Json) -> bool:
    rows = document["plan"]["options"]
    if len(rows) < 2:
        return False
    rows[0]["chosen"], rows[1]["chosen"] = False, True
    return True


@damage("options", "a runner-up that scores less, figures to match")
def _(document: Json) -> bool:
    rows = document["plan"]["options"]
    if len(rows) < 2:
        return False
    weight = document["plan"]["built"]["train"]["weights"]["vehicles_opened"]
    rows[1]["score"] -= weight
    rows[1]["vehicles_opened"] -= 1
    return True


@damage("options", "wire and score of the chosen one halved to match", trusted=True)
def _(document: Json) -> bool:
    for row in objects(document, "options.*"):
        if row["chosen"] and row["wire_mm"] > 200:
            half = row["wire_mm"] / 2
            row["wire_mm"] -= half
            row["score"] -= document["plan"]["built"]["train"]["weights"]["wire_metres"] * half / 1000
            return True
    return False


@damage("options", "the table emptied")
def _(document: Json) -> bool:
    document["plan"]["options"] = []
    return True


@damage("options", "a runner-up dropped", trusted=True)
def _(document: Json) -> bool:
    rows = document["plan"]["options"]
    return len(rows) > 1 and rows.pop() is not None


_SHOWN: Json = {
    "verdict": "fits",
    "missing_mm": 0.0,
    "axis": "",
    "pose": "",
    "reason": "",
    "proof": "placed in exact millimetres and checked by code that knows no solver",
    "remove": [],
    "cost": 0.0,
}

each(
    "fit table",
    [
        ("what is placed cannot fit", to("verdict", "cannot fit")),
        (
            "millimetres missing where it fits",
            lambda one: one.update(missing_mm=3.0, axis="length") if one["verdict"] == "fits" else False,
        ),
        (
            "a brick out where it fits",
            lambda one: one.update(remove=["no such brick"]) if one["verdict"] == "fits" else False,
        ),
        ("a cost where nothing comes out", plus("cost", 2.0)),
        ("no proof", to("proof", "")),
        ("another part", to("part_id", "no-such-part")),
        ("another vehicle", to("vehicle", "nowhere")),
        (
            "less missing than its reason says",
            lambda one: one.update(missing_mm=one["missing_mm"] / 2) if one["missing_mm"] > 0.2 else False,
        ),
        (
            "nothing missing, and a reason that says so",
            lambda one: one.update(missing_mm=0.0) if one["missing_mm"] else False,
        ),
        ("no reason", lambda one: one.update(reason="") if one["verdict"] == "cannot fit" else False),
        (
            "fits, with all that was missing",
            lambda one: one.update(verdict="fits") if one["verdict"] == "cannot fit" else False,
        ),
    ],
    "fit.*",
)


@damage("fit table", "a row twice")
def _(document: Json) -> bool:
    rows = document["plan"]["fit"]
    if rows:
        rows.append(copy.deepcopy(rows[0]))
    return bool(rows)


@damage("fit table", "a row dropped")
def _(document: Json) -> bool:
    rows = document["plan"]["fit"]
    return bool(rows) and rows.pop() is not None


@damage("fit table", "a proof that it cannot fit turned round, in every word")
def _(document: Json) -> bool:
    for row in document["plan"]["fit"]:
        if row["verdict"] == "cannot fit":
            row.update(_SHOWN)
            return True
    return False


@damage("fit table", "the same, with the places of another row")
def _(document: Json) -> bool:
    rows = document["plan"]["fit"]
    shown = [row for row in rows if row["verdict"] == "fits"]
    for row in rows:
        if row["verdict"] == "cannot fit" and shown:
            mine = shown[0]["need"]
            places = copy.deepcopy(shown[0]["places"])
            for place in places:
                if place["need"] == mine:
                    place.update(need=row["need"], part_id=row["part_id"])
            row.update(_SHOWN, places=places)
            return True
    return False


@damage("fit table", "what fits cannot, in every word")
def _(document: Json) -> bool:
    placed = [one["part"] for one in objects(document, "built.placements.*")]
    for row in document["plan"]["fit"]:
        if row["verdict"] == "fits" and row["part_id"] not in placed:
            row.update(
                verdict="cannot fit", reason="there is no room", proof="every pose was tried", places=[]
            )
            return True
    return False


@damage("fit table", "a place in the floor")
def _(document: Json) -> bool:
    for place in objects(document, "fit.*.places.*"):
        place["place"]["offset"][2] -= 8.0
        return True
    return False


@damage("fit table", "a place without what sits beside it")
def _(document: Json) -> bool:
    for row in document["plan"]["fit"]:
        if len(row["places"]) > 1:
            row["places"] = [one for one in row["places"] if one["need"] == row["need"]]
            return True
    return False


@damage("fit table", "a stack under a place dropped")
def _(document: Json) -> bool:
    for place in objects(document, "fit.*.places.*"):
        if place["shelf"] is not None:
            place["shelf"] = None
            return True
    return False


@damage("rebuild", "bricks said to come out")
def _(document: Json) -> bool:
    for entry in objects(document, "built.train.vehicles.*"):
        bricks = [item["name"] for item in entry["vehicle"]["removables"]]
        if bricks and not document["plan"]["built"]["rebuilds"]:
            row = {
                "vehicle": entry["name"],
                "remove": bricks[:1],
                "shelves": [],
                "cost": 0.0,
                "least": 0.0,
                "carried": "",
            }
            document["plan"]["built"]["rebuilds"] = [row]
            return True
    return False


each(
    "rebuild",
    [
        ("cheaper than its bricks", plus("cost", -1.0)),
        ("dearer than its bricks", plus("cost", 1.0)),
        ("a bound above its cost", plus("least", 50.0)),
        ("a bound below nothing", to("least", -1.0)),
        ("a brick that is none", lambda one: one["remove"].append("no such brick")),
        ("nothing comes out", to("remove", [])),
        ("of another vehicle", to("vehicle", "nowhere")),
        ("no pieces added", lambda one: one.update(shelves=[]) if one["shelves"] else False),
    ],
    "built.rebuilds.*",
)
each("rebuild", [("dropped", drop("rebuilds"))], "built")


@damage("unreached", "a net said to be unreached that is whole")
def _(document: Json) -> bool:
    for wire in wires(document):
        if wire["start"]["kind"] == "pin":
            row = {
                "net": wire["net"],
                "owner": wire["start"]["owner"],
                "pin": wire["start"]["pin"],
                "reason": "no way",
                "undecided": False,
            }
            next(objects(document, "built.harness"))["unreached"].append(row)
            return True
    return False


@damage("unreached", "a signal dropped and called unreached")
def _(document: Json) -> bool:
    harness = next(objects(document, "built.harness"))
    for wire in harness["wires"]:
        ends = {wire["start"]["kind"], wire["end"]["kind"]}
        alone = sum(other["net"] == wire["net"] for other in harness["wires"]) == 1
        if wire["role"] == "signal" and ends == {"pin"} and alone:
            harness["wires"].remove(wire)
            for stretch in harness["stretches"]:
                stretch["wires"] = [n for n in stretch["wires"] if n != wire["number"]]
            harness["stretches"] = [s for s in harness["stretches"] if s["wires"]]
            end = wire["start"]
            row = {
                "net": wire["net"],
                "owner": end["owner"],
                "pin": end["pin"],
                "reason": "no way",
                "undecided": False,
            }
            harness["unreached"].append(row)
            return True
    return False


@damage("unreached", "what no wire reaches is left unsaid")
def _(document: Json) -> bool:
    harness = next(objects(document, "built.harness"))
    changed = bool(harness["unreached"])
    harness["unreached"] = []
    return changed


@damage("unreached", "of a net that is none")
def _(document: Json) -> bool:
    harness = next(objects(document, "built.harness"))
    for row in harness["unreached"]:
        row["net"] = "no such net"
        return True
    return False


# -- findings ----------------------------------------------------------------------------------------------


def _finding(severity: str, change: Callable[[list[Json], int], None], pick: int = 0) -> Change:
    def apply(document: Json) -> bool:
        found = list(findings(document, severity))
        if len(found) <= pick:
            return False
        change(*found[pick])
        return True

    return apply


def _remove(rows: list[Json], index: int) -> None:
    del rows[index]


def _set(key: str, value: Json) -> Callable[[list[Json], int], None]:
    def change(rows: list[Json], index: int) -> None:
        rows[index][key] = value

    return change


def _half(rows: list[Json], index: int) -> None:
    rows[index]["figure"] = rows[index]["figure"] / 2 if rows[index]["figure"] else 1.0


for _severity in ("stop", "caution", "note"):
    for _pick in (0, 1, 2, 5):
        DAMAGES.append(
            Damage("finding", f"{_severity} {_pick + 1} deleted", _finding(_severity, _remove, _pick))
        )
    _softer = "note" if _severity != "note" else "stop"
    for _pick in (0, 3):
        DAMAGES.append(
            Damage(
                "finding",
                f"{_severity} {_pick + 1} made a {_softer}",
                _finding(_severity, _set("severity", _softer), _pick),
            )
        )
    for _what, _how in (
        ("figure halved", _half),
        ("limit raised", lambda rows, index: rows[index].update(limit=rows[index]["limit"] * 2 + 1)),
        ("message softened", _set("message", "all is well")),
        ("remedy gone", _set("remedy", "")),
        ("remedy that makes it worse", _set("remedy", "nothing needs to be done")),
        ("source gone", _set("source", "")),
        ("place moved", _set("where", "somewhere else")),
    ):
        DAMAGES.append(Damage("finding", f"{_severity}: {_what}", _finding(_severity, _how)))


@damage("finding", "a whole subject dropped")
def _(document: Json) -> bool:
    return document["plan"]["outcomes"].pop(3) is not None


@damage("finding", "all findings of a subject dropped")
def _(document: Json) -> bool:
    for outcome in objects(document, "outcomes.*"):
        if outcome["findings"]:
            outcome["findings"] = []
            return True
    return False


@damage("finding", "a subject twice")
def _(document: Json) -> bool:
    rows = document["plan"]["outcomes"]
    rows.append(copy.deepcopy(rows[0]))
    return True


@damage("finding", "a finding nobody made")
def _(document: Json) -> bool:
    for rows, index in findings(document):
        rows.append({**rows[index], "message": "invented"})
        return True
    return False


def _table(change: Callable[[Json], None], kind: str = "tables") -> Change:
    def apply(document: Json) -> bool:
        for outcome in objects(document, "outcomes.*"):
            for table in outcome[kind]:
                before = json.dumps(table)
                change(table)
                if json.dumps(table) != before:
                    return True
        return False

    return apply


def _number_in_row(table: Json) -> None:
    for row in table["rows"]:
        for place, cell in enumerate(row):
            if isinstance(cell, float) and cell:
                row[place] = cell * 2
                return


DAMAGES.append(Damage("table", "a figure of a table doubled", _table(_number_in_row)))
DAMAGES.append(
    Damage("table", "a row of a table dropped", _table(lambda table: table["rows"] and table["rows"].pop()))
)
DAMAGES.append(Damage("table", "a table renamed", _table(lambda table: table.update(title="Another"))))
DAMAGES.append(
    Damage(
        "table", "a curve of a plot shifted", _table(lambda plot: plot["curves"][0]["y"].reverse(), "plots")
    )
)


@damage("table", "a table dropped")
def _(document: Json) -> bool:
    for outcome in objects(document, "outcomes.*"):
        if outcome["tables"]:
            outcome["tables"].pop()
            return True
    return False


# -- what the files say ------------------------------------------------------------------------------------

TRAIN = "built.train"
each(
    "files",
    [
        ("sharpest curve gentler", lambda one: one["track"].update(radius=one["track"]["radius"] * 3)),
        (
            "no reverse curve",
            lambda one: one["track"].update(reverse_curve=not one["track"]["reverse_curve"]),
        ),
        ("half as fast", lambda one: one["running"].update(speed=one["running"]["speed"] / 2)),
        ("warmer", lambda one: one["running"].update(temperature_c=one["running"]["temperature_c"] + 20)),
        ("other weights", lambda one: one["weights"].update(wire_metres=one["weights"]["wire_metres"] + 100)),
        ("no service loops", lambda one: one["wiring"]["allowances"].update(service_loop=0.0)),
        ("no slack at couplings", lambda one: one["wiring"]["coupling_slack"].update(share=0.0, least=0.0)),
        ("a larger drop allowed", lambda one: one["wiring"].update(drop_limit_v=5.0)),
        ("another signal wire", lambda one: one["wiring"].update(signal_wire="wire-awg30")),
        ("another name", to("name", "another train")),
        ("a wagon may be added", flip("may_add_wagon")),
    ],
    TRAIN,
)
each(
    "files",
    [
        ("a net loses an end", drop("joins", -1)),
        ("a net ends elsewhere", lambda one: one["joins"][0].update(owner="nobody")),
        (
            "a net of another role",
            lambda one: one.update(role="signal" if one["role"] != "signal" else "ground"),
        ),
        ("another current", plus("current_ma", 50.0)),
        ("another style", lambda one: one.update(style="chain" if one["style"] != "chain" else "tree")),
    ],
    TRAIN + ".nets.*",
)
each(
    "files",
    [
        ("a need that may go elsewhere", to("vehicles", [])),
        ("a need seldom on", lambda one: one.update(duty=one["duty"] / 2)),
        ("a need that looks nowhere", to("looks", None)),
        ("a need with more parts to choose from", lambda one: one["candidates"].append(one["candidates"][0])),
    ],
    TRAIN + ".needs.*",
)
each(
    "files",
    [
        ("lighter", times("mass_g", 0.5)),
        ("taller", plus("top", 8.0)),
        ("a stud longer", plus("studs_long", 1)),
        ("a solid dropped", drop("body", -1)),
        (
            "a solid made free",
            lambda one: one["body"][0].update(state="free" if one["body"][0]["state"] != "free" else "fixed"),
        ),
        (
            "an opening that opens often",
            lambda one: (
                one["openings"][0].update(often=not one["openings"][0]["often"]) if one["openings"] else False
            ),
        ),
        (
            "a wider port",
            lambda one: (
                one["ports"][0]["box"]["high"].__setitem__(2, one["ports"][0]["box"]["high"][2] + 4)
                if one["ports"]
                else False
            ),
        ),
        (
            "a wider window",
            lambda one: (
                one["windows"][0]["box"]["high"].__setitem__(2, one["windows"][0]["box"]["high"][2] + 4)
                if one["windows"]
                else False
            ),
        ),
        (
            "axles closer",
            lambda one: (
                one["wheels"]["at"].__setitem__(0, one["wheels"]["at"][0] + 8)
                if one["wheels"]["at"]
                else False
            ),
        ),
        (
            "a longer coupling",
            lambda one: (
                one["couplings"][0].update(length=one["couplings"][0]["length"] + 6)
                if one["couplings"]
                else False
            ),
        ),
        (
            "a motor without current",
            lambda one: one["built_in"][0].update(stall_ma=0.0, current_ma=1.0) if one["built_in"] else False,
        ),
        (
            "smooth floors",
            lambda one: one.update(floor_finish="smooth" if one["floor_finish"] != "smooth" else "studded"),
        ),
    ],
    TRAIN + ".vehicles.*.vehicle",
)
each(
    "files",
    [("a vehicle turned round", flip("turned")), ("a vehicle renamed", to("name", "ghost"))],
    TRAIN + ".vehicles.*",
)


def _part(change: Callable[[Json], Json | None]) -> Change:
    def apply(document: Json) -> bool:
        for row in objects(document, "built.placements.*"):
            part = document["parts"][row["part"]]
            before = json.dumps(part)
            if change(part) is not False and json.dumps(part) != before:
                return True
        return False

    return apply


for _what, _how in (
    ("lighter", times("mass_g", 0.5)),
    (
        "a solid of its envelope dropped",
        lambda part: part["envelope"].pop() if len(part["envelope"]) > 1 else False,
    ),
    ("no clearances", lambda part: part.update(clearances=[]) if part["clearances"] else False),
    (
        "a pin moved",
        lambda part: (
            part["pins"][0]["at"].__setitem__(0, part["pins"][0]["at"][0] + 0.05) if part["pins"] else False
        ),
    ),
    (
        "a pin that can do everything",
        lambda part: part["pins"][0].update(can=["analog", "pwm"]) if part["pins"] else False,
    ),
    (
        "figures of less current",
        lambda part: (
            [f.update(current_ma=f["current_ma"] / 3) for f in part["electrical"] if "current_ma" in f]
            and None
        ),
    ),
    ("no cautions", lambda part: part.update(cautions=[]) if part["cautions"] else False),
    ("an outline that is measured", lambda part: part.update(typical=not part["typical"])),
    ("another name", lambda part: part.update(name="Another part")),
    ("a lower price", lambda part: part.update(price=part["price"] + 1.0)),
    (
        "need not be supported",
        lambda part: part["mount"].update(needs_support=not part["mount"]["needs_support"]),
    ),
    ("no access", lambda part: part.update(access=[]) if part["access"] else False),
):
    DAMAGES.append(Damage("files", f"part: {_what}", _part(_how)))


@damage("files", "another seed", trusted=True)
def _(document: Json) -> bool:
    document["plan"]["seed"] += 1
    return True


# -- figures that no model has -----------------------------------------------------------------------------

each(
    "measure",
    [
        ("a point 10 m away", lambda one: one["legs"][0]["points"].__setitem__(1, [10_000.0, 0.0, 30.0])),
        ("a point 1000 km away", lambda one: one["legs"][0]["points"].__setitem__(1, [1e9, 0.0, 30.0])),
        (
            "a point that is no number",
            lambda one: one["legs"][0]["points"].__setitem__(1, ["nan", 0.0, 30.0]),
        ),
        ("an endless point", lambda one: one["legs"][0]["points"].__setitem__(1, ["inf", 0.0, 30.0])),
        ("no points", lambda one: one["legs"][0].update(points=[])),
        ("a current that is no number", to("current_ma", "nan")),
    ],
    WIRES,
)
each(
    "measure",
    [
        ("a part 1000 km away", lambda one: one["place"]["offset"].__setitem__(0, 1e9)),
        ("a part 15 m away", lambda one: one["place"]["offset"].__setitem__(0, 15_000.0)),
    ],
    "built.placements.*",
)
each(
    "measure",
    [("a thousand million studs", to("studs_long", 10**9)), ("no studs", to("studs_long", 0))],
    TRAIN + ".vehicles.*.vehicle",
)
each("measure", [("a move of 1000 km", lambda one: one["moves"][0].__setitem__(1, 1e9))], "assembly.*")
each("measure", [("a free length of 1000 km", to("free_mm", 1e9))], CROSSINGS)
