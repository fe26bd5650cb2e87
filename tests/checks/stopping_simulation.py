"""A train that runs against a wall, moved in time steps: readings, echoes, frames, brakes, couplings.

It shares no formula with the checks: pulses fly and meet the train again where it is by then; readings fall
into slots; a median is sorted; vehicles are bodies that strike each other when a coupling's play is used up.
"""

from __future__ import annotations

import random
from collections import deque
from dataclasses import dataclass

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Ranger
from fitplan.model.operation import Running, Track
from fitplan.model.placed import Placement
from fitplan.model.solids import Place, pose_named
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import Wheels
from fitplan.model.wired import Harness
from tests.circuit.sample_parts import emitter, need, part, ranger, train, vehicle

GRAVITY = 9806.65
STEP_S = 5e-4


@dataclass(frozen=True)
class Body:
    """A vehicle: mass in g, and the mass on its driven wheels."""

    mass: float
    driven: float = 0.0


@dataclass(frozen=True)
class Run:
    """One run (mm, s). ``slots`` are the rota's readings: how long each takes, and whether it is ours."""

    speed: float
    brake: float
    adhesion: float
    rise: float
    bodies: tuple[Body, ...]
    play: float
    slots: tuple[tuple[float, bool], ...]
    median: int
    command: float
    frame: float
    lost: int
    wave: float
    setback: float


def stops_at(run: Run, trip: float, phases: int = 200, rounds: int = 3) -> float:
    """Return how much way is left to the wall at rest, at the worst phase of the readings.

    The phase is scanned over a whole rota, then more finely about the worst.
    """
    rolled = rolls_on(run)
    rota = sum(takes for takes, _ in run.slots)
    low, high, worst = 0.0, rota, 1e9
    for _ in range(rounds):
        marks = [low + (high - low) * (number + 0.5) / phases for number in range(phases)]
        found = [(left_at_brake(run, trip, mark), mark) for mark in marks]
        least, mark = min(found)
        worst = min(worst, least)
        width = (high - low) / phases
        low, high = mark - width, mark + width
    return worst - rolled


def left_at_brake(run: Run, trip: float, phase: float) -> float:
    """Return how far the train's end is from the wall when the motor gets the command."""
    rota = sum(takes for takes, _ in run.slots)
    # From far enough out that every reading of the first windows is still too far.
    start = trip + run.speed * rota * (run.median + 2) + 10.0

    def away(time: float) -> float:  # of the lens
        return start - run.speed * time

    window: deque[float] = deque([1e9] * run.median, maxlen=run.median)
    time, number = phase, 0
    while True:
        takes, ours = run.slots[number % len(run.slots)]
        if ours:
            flight = 0.0
            for _ in range(8):  # out to the wall and back to where the lens is by then
                flight = (away(time) + away(time + flight)) / run.wave
            window.append(run.wave * flight / 2)
            if sorted(window)[run.median // 2] <= trip:
                told = time + flight + run.command
                sent, frame = 0, 0.0
                while sent < run.lost:
                    sent, frame = sent + 1, frame + run.frame
                return away(told + frame) - run.setback
        time, number = time + takes, number + 1
        if away(time) < -1e5:
            return -1e9


def rolls_on(run: Run) -> float:
    """Return how far the leading end runs after the command, in time steps."""
    sine = run.rise / (1 + run.rise**2) ** 0.5
    cosine = (1 - sine * sine) ** 0.5
    total = sum(body.mass for body in run.bodies)
    driven = sum(body.driven for body in run.bodies)
    force = total * run.brake
    if driven:
        force = min(force, run.adhesion * GRAVITY * cosine * driven)
    bodies = run.bodies if run.play else (Body(total, driven),)
    masses = [body.mass for body in bodies]
    held = [force * STEP_S * (body.driven / driven if driven else body.mass / total) for body in bodies]
    count = len(bodies)
    at, speed = [0.0] * count, [run.speed] * count
    # Pushed couplings are closed, pulled ones are drawn out: how much farther apart they may get, or nearer.
    first = next((number for number in range(count) if bodies[number].driven), 0)
    room = [(0.0, run.play) if number < first else (-run.play, 0.0) for number in range(count - 1)]
    while max(abs(one) for one in speed) > 1e-6:
        before = list(speed)
        speed = [one + GRAVITY * sine * STEP_S for one in speed]
        _strike(speed, at, masses, held, room)
        at = [x + (old + new) / 2 * STEP_S for x, old, new in zip(at, before, speed, strict=True)]
    return at[0]


def _strike(
    speed: list[float],
    at: list[float],
    masses: list[float],
    held: list[float],
    room: list[tuple[float, float]],
) -> None:
    """Let brakes hold and couplings strike in one step: impulses one after the other until none changes.

    A brake's impulse is at most what it holds; a coupling at its limit pushes or pulls and does not stick.
    """
    brakes, links = [0.0] * len(masses), [0.0] * len(room)
    for _ in range(200):
        change = 0.0
        for i, mass in enumerate(masses):
            if held[i]:
                wanted = max(-held[i], min(held[i], brakes[i] + speed[i] * mass))
                change = max(change, abs(wanted - brakes[i]) / mass)
                speed[i] -= (wanted - brakes[i]) / mass
                brakes[i] = wanted
        for i, (near, far) in enumerate(room):
            stretch = at[i] - at[i + 1]
            if near < stretch < far:
                continue
            ahead, behind = masses[i], masses[i + 1]
            wanted = links[i] + (speed[i] - speed[i + 1]) * ahead * behind / (ahead + behind)
            wanted = max(0.0, wanted) if stretch >= far else min(0.0, wanted)
            change = max(change, abs(wanted - links[i]) / min(ahead, behind))
            speed[i] -= (wanted - links[i]) / ahead
            speed[i + 1] += (wanted - links[i]) / behind
            links[i] = wanted
        if change < 1e-9:
            break


def random_run(seed: int) -> Run:
    """Return a run of a train that comes to rest, by a seed."""
    pick = random.Random(seed)
    adhesion = pick.uniform(0.15, 0.5)
    count = pick.choice((1, 1, 2, 3, 4))
    loco = pick.randrange(count)
    bodies = []
    for number in range(count):
        mass = pick.uniform(100, 600)
        bodies.append(Body(mass, mass * pick.uniform(0.5, 1.0) if number == loco else 0.0))
    total, driven = sum(body.mass for body in bodies), sum(body.driven for body in bodies)
    brake = pick.uniform(200, 2000)
    held = min(brake, adhesion * GRAVITY * driven / total * 0.98)
    rise = pick.choice((0.0, pick.uniform(0.0, 0.8) * held / GRAVITY))
    cycle, interval = pick.uniform(0.01, 0.08), pick.uniform(0.02, 0.2)
    others = pick.choice((0, 0, 1, 2))
    slot = max(cycle, interval)
    slots = [(slot, True)] + [(slot, False)] * others
    if others and pick.random() < 0.3:
        slots.insert(pick.randrange(len(slots) + 1), (slot, True))
    return Run(
        speed=pick.uniform(50, 700),
        brake=brake,
        adhesion=adhesion,
        rise=rise,
        bodies=tuple(bodies),
        play=pick.choice((0.0, pick.uniform(0.0, 4.0))),
        slots=tuple(slots),
        median=pick.choice((1, 1, 3, 5)),
        command=pick.uniform(0.0, 0.3),
        frame=pick.uniform(0.02, 0.2),
        lost=pick.choice((0, 1, 2)),
        wave=pick.choice((343_214.0, 331_300.0, 3e11)),
        setback=pick.uniform(0.0, 60.0),
    )


def train_of(run: Run, margin: float) -> BuiltTrain:
    """Return the train of a run as a plan has it; its ranger is called "eyes"."""
    shapes = []
    for number, body in enumerate(run.bodies):
        share = body.driven / body.mass
        wheels = Wheels("axles", (40.0, 136.0), (body.driven > 0, False), 8.5)
        shapes.append(
            TrainVehicle(
                f"v{number}",
                vehicle(wheels=wheels, mass=body.mass, center=(136.0 - 96.0 * (share or 0.5), 24.0, 30.0)),
            )
        )
    light = run.wave > 1e6
    figures = Ranger("light" if light else "sound", 15.0, 20.0, 4000.0, 1000 * run.slots[0][0] / 2)
    ours = part("eyes", figures, size=(12.0, 45.0, 20.0), mass=1e-9, mount=ranger().mount)
    others = [f"other {number}" for number, (_, mine) in enumerate(run.slots) if not mine]
    names = iter(others)
    order = tuple("eyes" if mine else next(names) for _, mine in run.slots)
    eyes = Placement(
        "eyes", ours, "v0", Place(pose_named("+x+y+z"), (168.0 - run.setback, 2.0, 30.0)), "body"
    )
    running = Running(
        run.speed,
        deceleration=run.brake,
        reading_interval_s=run.slots[0][0],
        command_delay_s=run.command,
        temperature_c=0.0 if run.wave < 340_000 else 20.0,
        margin=margin,
        reading_order=order,
        median=run.median,
        frame_interval_s=run.frame,
        lost_frames=run.lost,
        coupling_play=run.play,
    )
    track = Track(radius=0.0, gradient_percent=100 * run.rise, adhesion=run.adhesion)
    needs = [need("eyes", ours), need("emitter", emitter()), *(need(name, ours) for name in others)]
    made = train(needs, [], shapes, track=track, running=running)
    return BuiltTrain(made, (eyes,), Harness(), ())
