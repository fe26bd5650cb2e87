"""Motion against simulations of another kind, on many random settings.

Run ``python -m tests.bench.bench_motion [COUNT]``. Stopping: the reckoned trip distance against a train moved
in time steps with its readings at their worst phase. View: how near and far an obstacle is met about curves
against bars across the track and rays cast at them, and whether what is said to help a blind one does. Prints
the largest differences and what share holds; a thousand of each take a minute of processor time.
"""

from __future__ import annotations

import sys
from dataclasses import replace

from fitplan.checks.braking import braking_of, grip_of, trip_distance
from fitplan.checks.curve_help import beam_that_helps, second_that_helps, turn_that_helps
from fitplan.checks.curve_view import stretch_met, worst_stretch
from fitplan.checks.ends import eyes_of
from tests.checks.stopping_simulation import random_run, stops_at, train_of
from tests.checks.view_simulation import met_between, random_view, reach_about

MARGIN = 20.0


def stopping(count: int) -> None:
    """Print by how much trains stop before or behind their margin."""
    exact, bound, late, hills = [], [], 0, 0
    for seed in range(count):
        run = random_run(seed)
        built = train_of(run, MARGIN)
        (eye,) = (one for one in eyes_of(built) if one.need == "eyes")
        trip = trip_distance(run.speed, braking_of(built, eye))
        spare = stops_at(run, trip, phases=100) - MARGIN
        (bound if run.play and len(run.bodies) > 1 else exact).append(spare)
        late += spare < -0.5
        hills += grip_of(built).fall > 0
    print(f"stopping, {count} random trains, {hills} of them downhill")
    print(f"  without play: largest difference {max(map(abs, exact)):.3f} mm in {len(exact)}")
    if bound:
        print(
            f"  with play, where the figure is a bound: {min(bound):.3f} to {max(bound):.3f} mm to spare"
            f" in {len(bound)}"
        )
    print(f"  stop within 0.5 mm of the margin or before it: {100 * (1 - late / count):.1f} %")


def view(count: int) -> None:
    """Print how far the reckoned stretches are from those found by casting rays."""
    worst, blind, holds = 0.0, 0, 0
    for seed in range(count):
        bend, watch = random_view(seed)
        reckoned = stretch_met(bend, watch, 0.0, 500.0)
        nearest, farthest = met_between(bend, watch, 0.0, 500.0)
        off = max(abs(reckoned.nearest - nearest), abs(reckoned.farthest - farthest))
        worst, holds = max(worst, off), holds + (off <= 0.5)
        blind += farthest < 100.0
    print(f"view, {count} random rangers about curves, {blind} of them blind within 100 mm")
    print(f"  largest difference {worst:.3f} mm; within 0.5 mm: {100 * holds / count:.1f} %")


def help_about_curves(count: int) -> None:
    """Print how often a turn, a second ranger or a wider beam is said to help, and does by rays."""
    said, does, none = 0, 0, 0
    for seed in range(count):
        _, watch = random_view(seed)
        watch = replace(watch, turned_deg=0.0, reach=4000.0)
        needed = worst_stretch(watch, 320.0, 300.0).farthest + 40.0
        turn = turn_that_helps(watch, 320.0, needed)
        second, beam = second_that_helps(watch, 320.0, needed), beam_that_helps(watch, 320.0, needed)
        none += not (turn or second or beam)
        for side in (1.0, -1.0):
            tried = [
                (turn, (replace(watch, turned_deg=side * turn),)),
                (second, (watch, replace(watch, turned_deg=side * second))),
                (beam, (replace(watch, half_angle_deg=float(beam)),)),
            ]
            for degrees, seers in tried:
                said += bool(degrees)
                does += bool(degrees) and reach_about(seers, 320.0 * side, needed) >= needed - 1.5
    print(
        f"help about curves, {count} random rangers that see 40 mm too little, both sides: {none} without any"
    )
    print(f"  said to help {said} times; by rays it does {does} times")


def main() -> None:
    """Run all comparisons."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    stopping(count)
    view(count)
    help_about_curves(max(count // 20, 1))


if __name__ == "__main__":
    main()
