"""Draws a train round a plan: parts in rows beside a strip for wires, and only then walls where nothing lies.

`draws` gives trains and where everything lies in the hidden plan; that it is one `oracle` shows, by
means that neither pack nor route.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from fitplan.files.train_track import LEAST_SHARE
from fitplan.model.needed import Need
from fitplan.model.operation import Running, Track
from fitplan.model.part import Part, Pin
from fitplan.model.solids import Box, Direction, Place, bounds_of
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import (
    BodySolid,
    BuiltIn,
    Coupling,
    Face,
    Opening,
    Port,
    Removable,
    State,
    Vehicle,
    Wheels,
    Window,
)
from fitplan.pins.matching import match_pins
from fitplan.units import PLATE, STUD, STUD_HEIGHT
from tests.hidden.circuits import LOOSE, OF_COACHES, Circuit, draw_circuit
from tests.hidden.flood import row_high
from tests.hidden.rows import ORIGIN, Lying, Piece, lying, piece_of, place_of

END = STUD
"""Thickness of end walls in mm."""
BASE = 5 * PLATE
FLOOR = BASE + PLATE
SIGNAL_MM, POWER_MM = 1.0, 1.6


@dataclass(frozen=True)
class Dial:
    """How hard trains are drawn: counts as (least, most), lengths in mm, chances from 0 to 1."""

    vehicles: tuple[int, int]
    parts: tuple[int, int]
    walls: tuple[float, ...]
    strip: float
    gap: tuple[float, float]
    slack: tuple[float, float]
    posts: int
    neck: float
    neck_high: float
    deck: float
    removable: float
    rebuilt: float
    turned: float
    studded: float
    port_room: float
    """So many times the cross-section that the wires need at the least."""
    homes: float
    """Chance that a need may go into one vehicle only."""
    loose: tuple[str, ...] = LOOSE
    """What circuits are filled up with."""


DIALS = (
    Dial(
        vehicles=(2, 2), parts=(6, 9), walls=(8.0,), strip=8.0, gap=(4, 8), slack=(0.1, 0.4), posts=2,
        neck=0.0, neck_high=0.0, deck=0.0, removable=0.0, rebuilt=0.0, turned=0.0, studded=0.0,
        port_room=3.0, homes=0.5,
    ),
    Dial(
        vehicles=(1, 3), parts=(6, 12), walls=(8.0, 1.5), strip=8.0, gap=(3, 6), slack=(0.1, 0.3), posts=2,
        neck=0.3, neck_high=12.0, deck=0.1, removable=0.3, rebuilt=0.1, turned=0.3, studded=0.5,
        port_room=2.0, homes=0.7,
    ),
    Dial(
        vehicles=(1, 5), parts=(9, 18), walls=(8.0, 1.5), strip=7.0, gap=(2.5, 4), slack=(0.03, 0.15),
        posts=3, neck=0.5, neck_high=9.6, deck=0.3, removable=0.4, rebuilt=0.2, turned=0.3, studded=0.5,
        port_room=1.5, homes=0.6,
    ),
    Dial(
        vehicles=(3, 12), parts=(14, 40), walls=(8.0, 1.5), strip=6.0, gap=(2, 3), slack=(0.0, 0.08), posts=4,
        neck=0.7, neck_high=8.0, deck=0.4, removable=0.5, rebuilt=0.3, turned=0.3, studded=0.5,
        port_room=1.2, homes=0.6,
    ),
)  # fmt: skip
"""0: boxes as they are drawn first; 1: the bundled examples; 2: one step harder; 3: long and tight."""


class NoRoomError(Exception):
    """This draw cannot be laid out: another is made."""


@dataclass(frozen=True)
class Hidden:
    """A train, and where everything lies in the plan that is hidden in it."""

    train: Train
    places: Mapping[str, tuple[str, Place]]
    """By need: vehicle and place."""
    removed: Mapping[str, frozenset[str]]
    """By vehicle: the bricks that come out."""
    open_train: Train | None = None
    """The train with what the hidden plan opens in its bodies clear already; None: it opens nothing."""
    price: float = 0.0
    """What that opening costs, on the scale of removable bricks."""
    through: Mapping[tuple[str, Direction], Mapping[str, Box]] = field(default_factory=dict)
    """By vehicle and end: the hole that each net takes there; ends that are not told have one port."""
    gates: Mapping[tuple[str, Direction], Mapping[str, Box]] = field(default_factory=dict)
    """The same of holes in an inner wall before that end."""


def draws(seed: int, difficulty: int, catalogue: Mapping[str, Part]) -> Iterator[Hidden]:
    """Yield trains; the same seed gives the same."""
    yield from _drawn(f"{difficulty} {seed}", DIALS[difficulty], catalogue, f"hidden {difficulty}.{seed}")


def long_draws(seed: int, vehicles: int, parts: int, catalogue: Mapping[str, Part]) -> Iterator[Hidden]:
    """Yield trains of lit coaches, no two alike, as hard as the bundled examples; one board serves all."""
    dial = replace(DIALS[1], vehicles=(vehicles, vehicles), parts=(parts, parts), loose=OF_COACHES)
    yield from _drawn(f"long {vehicles} {seed}", dial, catalogue, f"long {vehicles}.{seed}")


def _drawn(words: str, dial: Dial, catalogue: Mapping[str, Part], name: str) -> Iterator[Hidden]:
    for attempt in range(400):
        rng = random.Random(f"{words} {attempt}")
        try:
            yield _draw(rng, dial, catalogue, name)
        except NoRoomError:
            continue


def _draw(rng: random.Random, dial: Dial, catalogue: Mapping[str, Part], name: str) -> Hidden:
    count = rng.randint(*dial.vehicles)
    parts = rng.randint(*dial.parts)
    circuit = draw_circuit(rng, catalogue, max(parts, 5 if count == 1 else 6), 40.0, dial.loose)
    homes = _homes(rng, circuit, count)
    conductors = _conductors(circuit, homes, count)
    entries: list[TrainVehicle] = []
    places: dict[str, tuple[str, Place]] = {}
    looks: dict[str, tuple[str, str]] = {}
    sits: dict[str, tuple[str, str, str]] = {}
    for number in range(count):
        turned = rng.random() < dial.turned
        label = f"vehicle {number + 1}"
        mine = [need for need, home in homes.items() if home == number]
        drafted = _Draft(rng, dial, circuit, mine, turned, label)
        ahead = conductors[number - 1] if number else None
        behind = conductors[number] if number < count - 1 else None
        entries.append(TrainVehicle(label, drafted.vehicle(ahead, behind), turned))
        places |= {need: (label, place) for need, place in drafted.places.items()}
        looks |= {need: (label, window.name) for need, window in drafted.windows.items()}
        if circuit.emitter in mine:
            sits[circuit.emitter] = (label, "receiver", "eye")
        if circuit.motor_for in mine:
            circuit.join("motor plus", "supply", f"{circuit.motor_for}.A1", f"{label}/motor.plus")
            circuit.join("motor minus", "supply", f"{circuit.motor_for}.A2", f"{label}/motor.minus")
    needs = []
    for need, part in circuit.parts.items():
        home = f"vehicle {homes[need] + 1}"
        only = rng.random() < dial.homes
        needs.append(
            Need(need, (part,), vehicles=(home,) if only else (), looks=looks.get(need), sits=sits.get(need))
        )
    guides = max(max(entry.vehicle.wheels.at) - min(entry.vehicle.wheels.at) for entry in entries)
    train = Train(
        name=name,
        vehicles=tuple(entries),
        needs=tuple(needs),
        nets=circuit.as_nets(),
        # A long vehicle stands in no sharp curve, as train files are told, too.
        track=Track(radius=max(320.0, LEAST_SHARE * guides)),
        running=Running(speed=300.0),
        catalogue=dict(catalogue),
    )
    if not match_pins(train, circuit.parts).complete:
        raise NoRoomError
    removed = {
        entry.name: frozenset(r.name for r in entry.vehicle.removables if r.name.startswith("brick"))
        for entry in entries
    }
    return Hidden(train, places, removed)


def _homes(rng: random.Random, circuit: Circuit, count: int) -> dict[str, int]:
    supply = rng.randrange(count)
    homes = {}
    for need in circuit.parts:
        if need in circuit.looks:
            homes[need] = (count - 1) * circuit.looks[need]
        elif need == circuit.emitter:
            homes[need] = 0
        elif need in circuit.together:
            homes[need] = supply
        else:
            homes[need] = rng.randrange(count)
    return homes


def _conductors(circuit: Circuit, homes: Mapping[str, int], count: int) -> list[list[float]]:
    """Return the diameters (mm) of the conductors over each coupling, power wires grown by two gauges."""
    found: list[list[float]] = [[] for _ in range(count - 1)]
    for role, ends in circuit.nets.values():
        at = [homes[end.rsplit(".", 1)[0]] for end in ends]
        for coupling in range(min(at), max(at)):
            found[coupling].append(SIGNAL_MM if role == "signal" else POWER_MM)
    return found


class _Draft:
    """One vehicle in the making: its rows, then its body round them."""

    def __init__(
        self, rng: random.Random, dial: Dial, circuit: Circuit, needs: list[str], turned: bool, label: str
    ) -> None:
        self.rng, self.dial, self.circuit, self.needs, self.label = rng, dial, circuit, needs, label
        self.turned = turned
        self.wall = rng.choice(dial.walls)
        self.strip_left = rng.random() < 0.5
        self.studded = rng.random() < dial.studded
        self.floor = FLOOR + (STUD_HEIGHT if self.studded else 0.0)
        self.decked = rng.random() < dial.deck
        self.places: dict[str, Place] = {}
        self.windows: dict[str, Window] = {}
        self.built_in: list[BuiltIn] = []
        self.solids: list[tuple[Box, State, str]] = []
        self.side_openings: list[Opening] = []
        for studs_wide in (6, 7, 8, 10):
            self.studs_wide = studs_wide
            self.width = studs_wide * STUD
            self.inside = (self.wall, self.width - self.wall)
            if self.strip_left:
                self.region = (self.inside[0], self.inside[1] - dial.strip)
                self.strip = (self.region[1], self.inside[1])
                self.strip_side: Direction = "+y"
            else:
                self.region = (self.inside[0] + dial.strip, self.inside[1])
                self.strip = (self.inside[0], self.region[0])
                self.strip_side = "-y"
            try:
                self._lay()
                return
            except NoRoomError:
                continue
        raise NoRoomError

    # -- rows ------------------------------------------------------------------------------------------

    def _lay(self) -> None:
        rng, dial = self.rng, self.dial
        wide = self.region[1] - self.region[0]
        rows: list[list[Piece]] = [[], []]
        lower_high = 0.0
        for need in self.needs:
            if need in self.circuit.looks or need == self.circuit.emitter:
                continue
            part = self.circuit.parts[need]
            one = lying(rng, part, wide, self.strip_side, 40.0)
            if one is None:
                raise NoRoomError
            piece = piece_of(need, one)
            often = any(access.often for access in part.access)
            low = (
                self.decked
                and not often
                and part.mount.needs_support
                and piece.high <= 20
                and rng.random() < 0.5
            )
            if low:
                lower_high = max(lower_high, piece.high + 6.0)
            rows[0 if low or not self.decked else 1].append(piece)
            if self.studded and part.mount.needs_support and min(one.solid.size[:2]) < STUD + 1.0:
                raise NoRoomError  # on edge it could come to stand between two rows of studs
        self.decked = self.decked and bool(rows[0]) and bool(rows[1])
        if not self.decked:
            rows = [[*rows[0], *rows[1]], []]
        ground = rows[0]
        if self.circuit.emitter in self.needs:
            ground.append(self._receiver())
            lower_high = max(lower_high, ground[-1].high + 2.0)
        if self.circuit.motor_for in self.needs:
            ground.append(Piece("motor", 24.0, min(24.0, wide), 16.0))
            lower_high = max(lower_high, ground[-1].high + 6.0)
        for _ in range(rng.randint(0, dial.posts)):
            ground.append(
                Piece(f"post {len(ground)}", STUD, min(STUD, wide), rng.choice((9.6, 19.2, 28.8, 60.0)))
            )
        for _ in range(2):
            if rng.random() < dial.neck and not self.decked:
                ground.append(Piece(f"neck {len(ground)}", rng.choice((STUD, 3.2)), wide, 60.0))
        for row in rows:
            rng.shuffle(row)
        self.ends = [self._end(side) for side in ("-x", "+x")]
        gaps = [[rng.uniform(*dial.gap) for _ in range(len(row) + 1)] for row in rows]
        needed = max(
            sum(piece.long for piece in row) + sum(gap) if row else 0.0
            for row, gap in zip(rows, gaps, strict=True)
        )
        needed += sum(reserve for reserve, _ in self.ends) + 2 * END
        self.studs_long = max(math.ceil(needed * (1 + rng.uniform(*dial.slack)) / STUD), LEAST_STUDS)
        self.length = self.studs_long * STUD
        spare = self.length - needed
        deck = round(self.floor + lower_high, 1)
        upper = deck + PLATE
        upper_floor = upper + (STUD_HEIGHT if self.studded else 0.0)
        high = self.floor + 20.0
        for level, (row, gap) in enumerate(zip(rows, gaps, strict=True)):
            z = upper_floor if level else self.floor
            x = END + self.ends[0][0]
            shares = [rng.random() for _ in gap]
            for number, piece in enumerate(row):
                x += gap[number] + spare * shares[number] / sum(shares)
                x = round(x, 1)
                y = rng.choice(
                    (self._flush(piece), round(rng.uniform(self.region[0], self.region[1] - piece.wide), 1))
                )
                y = min(
                    max(y, math.ceil(self.region[0] * 10) / 10),
                    math.floor((self.region[1] - piece.wide) * 10) / 10,
                )
                self._put(replace(piece, x=x, y=y, z=z))
                x += piece.long
                if piece.name.split()[0] not in ("post", "neck"):
                    high = max(high, z + piece.high)
        for _, pieces in self.ends:
            high = max([high, *(piece.z + piece.high for piece in pieces)])
        self.ceiling = BASE + PLATE * math.ceil((high + LEAD_ROOM - BASE) / PLATE)
        self.top = self.ceiling + PLATE
        for end, (side, (_, pieces)) in enumerate(zip(("-x", "+x"), self.ends, strict=True)):
            for piece in pieces:
                self._look_out(piece, side, end)
        if self.decked:
            x0, x1 = END + self.ends[0][0], self.length - END - self.ends[1][0]
            self.solids.append((Box((x0, self.region[0], deck), (x1, self.region[1], upper)), "fixed", ""))
            out: Direction = "-y" if self.strip_left else "+y"
            y0, y1 = (0.0, self.wall) if self.strip_left else (self.width - self.wall, self.width)
            self.side_openings.append(Opening("side panel", Box((x0, y0, FLOOR), (x1, y1, deck)), out))

    def _flush(self, piece: Piece) -> float:
        return self.region[0] if self.strip_left else self.region[1] - piece.wide

    def _receiver(self) -> Piece:
        """Return the piece that a receiver and the emitter on its eye take together."""
        part = self.circuit.parts[self.circuit.emitter]
        return Piece(
            "receiver", 20.0, min(20.0, self.region[1] - self.region[0]), 16.0 + part.bounds.size[2] + 5
        )

    def _put(self, piece: Piece) -> None:
        corner = (piece.x, piece.y, piece.z)
        if piece.lying is not None:
            self.places[piece.name] = place_of(piece)
            if self.rng.random() < self.dial.rebuilt and not self.solids_named("brick"):
                high = piece.z + min(9.6, piece.high)
                box = Box((piece.x, piece.y, FLOOR), (piece.x + piece.long, piece.y + piece.wide, high))
                self.solids.append((box, "removable", f"brick {piece.name}"))
        elif piece.name == "receiver":
            top = piece.z + 16.0
            box = Box((piece.x, piece.y, FLOOR), (piece.x + piece.long, piece.y + piece.wide, top))
            eye = (round(piece.x + piece.long / 2, 1), round(piece.y + piece.wide / 2, 1))
            face = Face("eye", Box((eye[0] - 1, eye[1] - 1, top), (eye[0] + 1, eye[1] + 1, top)), "+z")
            self.built_in.append(
                BuiltIn("receiver", "receiver", (box,), (face,), mass_g=20.0, current_ma=12.0)
            )
            self._sit(eye, top)
        elif piece.name == "motor":
            box = Box(
                (piece.x, piece.y, FLOOR), (piece.x + piece.long, piece.y + piece.wide, piece.z + piece.high)
            )
            middle = (piece.x + piece.long / 2, piece.y + piece.wide / 2)
            pins = tuple(
                Pin(pin, "supply", (middle[0] + by, middle[1], piece.z + piece.high), "+z")
                for pin, by in (("plus", -4.0), ("minus", 4.0))
            )
            self.built_in.append(
                BuiltIn("motor", "motor", (box,), pins=pins, mass_g=40.0, stall_ma=400.0, current_ma=100.0)
            )
        elif piece.name.startswith("neck"):
            removable = self.rng.random() < self.dial.removable
            box = Box(
                (corner[0], self.inside[0], FLOOR), (corner[0] + piece.long, self.inside[1], FLOOR + 200)
            )
            self.solids.append((box, "removable" if removable else "fixed", piece.name if removable else ""))
            # A voxel that is partly wall counts as wall: the hole reaches a little beyond it.
            hole = Box(
                (corner[0] - 1.6, self.strip[0], FLOOR),
                (corner[0] + piece.long + 1.6, self.strip[1], self.floor + self.dial.neck_high),
            )
            self.solids.append((hole, "free", ""))
        else:
            removable = self.rng.random() < self.dial.removable
            box = Box(
                (*corner[:2], FLOOR), (corner[0] + piece.long, corner[1] + piece.wide, piece.z + piece.high)
            )
            self.solids.append((box, "removable" if removable else "fixed", piece.name if removable else ""))

    def solids_named(self, word: str) -> list[str]:
        """Return the names of removable solids that begin with a word."""
        return [name for _, _, name in self.solids if name.startswith(word)]

    def _sit(self, eye: tuple[float, float], top: float) -> None:
        """Lay the emitter with its lens over the eye."""
        part = self.circuit.parts[self.circuit.emitter]
        poses = [p for p in part.mount.allowed_poses() if p.turn_direction(part.mount.sits or "-z") == "-z"]
        pose = self.rng.choice(poses)
        place = Place(pose, ORIGIN)
        lens = place.move_solid(part.mount.lens or part.bounds).bounds
        low = place.move_solid(part.bounds).bounds.low[2]
        middle = lens.center
        offset = (round(eye[0] - middle[0], 1), round(eye[1] - middle[1], 1), round(top - low + 0.0499, 1))
        self.places[self.circuit.emitter] = Place(pose, offset)

    # -- ends ------------------------------------------------------------------------------------------

    def _end(self, side: str) -> tuple[float, list[Piece]]:
        """Return the room that parts at an end take along the row, and their pieces (x not yet known)."""
        ahead = (side == "+x") != self.turned
        mine = [need for need in self.needs if self.circuit.looks.get(need) == (0 if ahead else 1)]
        # With one vehicle both ends are its own; with more only the train's ends look out.
        pieces: list[Piece] = []
        z, reserve = self.floor, 0.0
        for need in sorted(mine, key=lambda one: "lamp" in one):
            part = self.circuit.parts[need]
            found = []
            for pose in part.mount.allowed_poses():
                place = Place(pose, ORIGIN)
                if pose.turn_direction(part.mount.looks or "+x") != side:
                    continue
                if "-z" in {pose.turn_direction(pin.exit) for pin in part.pins}:
                    continue
                solid = bounds_of(tuple(place.move_solid(one) for one in part.envelope))
                room = bounds_of(
                    (solid, *(place.move_solid(c.solid) for c in part.clearances if c.needed == "always"))
                )
                if room.size[1] <= self.inside[1] - self.inside[0] and room.low[2] >= solid.low[2] - 6.0:
                    found.append(Lying(part, pose, room, solid, 0.0, 0.0))
            if not found:
                raise NoRoomError
            one = self.rng.choice(sorted(found, key=lambda lies: (lies.room.size[2], lies.pose.name))[:2])
            if not part.mount.needs_support and not pieces:
                z = round(self.floor + self.rng.uniform(2, 12), 1)
            y = self.rng.uniform(self.inside[0], self.inside[1] - one.room.size[1])
            y = min(
                max(round(y, 1), math.ceil(self.inside[0] * 10) / 10),
                math.floor((self.inside[1] - one.room.size[1]) * 10) / 10,
            )
            piece = replace(piece_of(need, one), y=y, z=z)
            pieces.append(piece)
            z = round(z + piece.high + 2.0, 1)
            reserve = max(reserve, piece.long + 5.0)
        return reserve, pieces

    def _look_out(self, piece: Piece, side: Direction, end: int) -> None:
        """Lay a part into its hole in an end wall, and cut the hole and the window."""
        one = piece.lying
        assert one is not None
        place = Place(one.pose, ORIGIN)
        lens = place.move_solid(one.part.mount.lens or one.part.bounds).bounds
        front = lens.high[0] if side == "+x" else lens.low[0]
        x = round((self.length - 1.0 if side == "+x" else 1.0) - front, 1)
        offset = (x, round(piece.y - one.room.low[1], 1), round(piece.z - one.room.low[2], 1))
        self.places[piece.name] = Place(one.pose, offset)
        x0, x1 = (self.length - END, self.length) if side == "+x" else (0.0, END)
        sill = piece.z - 0.3 - (STUD_HEIGHT if self.studded else 0.0)  # studs stand on the sill too
        low = (x0, max(piece.y - 0.3, 0.0), max(sill, FLOOR))
        high = (x1, min(piece.y + piece.wide + 0.3, self.width), piece.z + piece.high + 0.3)
        if high[2] > self.ceiling:
            raise NoRoomError
        hole = Box(low, high)
        self.windows[piece.name] = Window(f"window of {piece.name}", hole, side)
        self.solids.append((hole, "free", ""))

    # -- body ------------------------------------------------------------------------------------------

    def vehicle(self, ahead: list[float] | None, behind: list[float] | None) -> Vehicle:
        """Return the vehicle; ``ahead``, ``behind``: the conductors over its couplings, None: none there."""
        front, rear = (behind, ahead) if self.turned else (ahead, behind)
        ports = []
        for carried, side in ((front, "+x"), (rear, "-x")):
            if carried is None:
                continue
            wide, high = self._hole(carried)
            middle = (self.strip[0] + self.strip[1]) / 2
            x0, x1 = (self.length - END, self.length) if side == "+x" else (0.0, END)
            box = Box((x0, middle - wide / 2, FLOOR), (x1, middle + wide / 2, FLOOR + high))
            ports.append(Port(f"{'front' if side == '+x' else 'rear'} hole", box, side))  # type: ignore[arg-type]
        cavity = Box((END, self.inside[0], FLOOR), (self.length - END, self.inside[1], self.ceiling))
        whole = Box((0.0, 0.0, BASE), (self.length, self.width, self.top))
        # Where wires run the floor is tiled, and so are the sills of the holes that they pass.
        tiled = Box((0.0, self.strip[0], BASE), (self.length, self.strip[1], FLOOR))
        body = [BodySolid(whole, "fixed"), BodySolid(cavity, "free"), BodySolid(tiled, "fixed", smooth=True)]
        for box, state, name in self.solids:
            high = (box.high[0], box.high[1], min(box.high[2], self.ceiling))
            if high[2] > box.low[2]:
                body.append(BodySolid(Box(box.low, high), state, name if state == "removable" else ""))
        body += [BodySolid(port.box, "free") for port in ports]
        removables = tuple(dict.fromkeys(name for _, state, name in self.solids if state == "removable"))
        roof = Opening(
            "roof",
            Box((END, self.inside[0], self.ceiling), (self.length - END, self.inside[1], self.top)),
            "+z",
        )
        return Vehicle(
            name=self.label,
            kind="wagon",
            studs_long=self.studs_long,
            studs_wide=self.studs_wide,
            base=BASE,
            top=self.top,
            floor_finish="studded" if self.studded else "smooth",
            body=tuple(body),
            layers=(),
            removables=tuple(Removable(name, 1.0) for name in removables),
            openings=(roof, *self.side_openings),
            windows=tuple(self.windows.values()),
            ports=tuple(ports),
            couplings=(Coupling("front", self.length, 10.0, 9.0), Coupling("rear", 0.0, 10.0, 9.0)),
            wheels=Wheels("axles", (24.0, self.length - 24.0), (False, False), 8.0),
            built_in=tuple(self.built_in),
            mass_g=150.0,
            mass_center=(self.length / 2, self.width / 2, 30.0),
        )

    def _hole(self, carried: list[float]) -> tuple[float, float]:
        """Return width and height of a hole that lets wires through with the room that the dial gives."""
        wide = self.strip[1] - self.strip[0]
        high = 3.2
        high = max(high, min(row_high(carried, wide), 20.0))
        return wide, max(round(high * math.sqrt(self.dial.port_room), 1), 3.2)


LEAST_STUDS = 13
LEAD_ROOM = 7.0
"""Room in mm over the highest part."""
