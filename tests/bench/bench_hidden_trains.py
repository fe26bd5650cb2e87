"""Trains with a complete plan hidden in them: the share that is planned completely, by difficulty.

    python -m tests.bench.bench_hidden_trains --difficulty 0 1 2 --seeds 100:120

Complete means: every part has a place and a way in, every net is wired, and the independent checker holds the
plan. Every train has such a plan: the hidden one was wired and checked first; draws without one are counted
and left out. Wire is compared with the hidden plan's; processor time is the planner's alone.
"""

from __future__ import annotations

import argparse

from tests.hidden.measure import Found, measure


def main() -> None:
    """Print a line a train, then the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--difficulty", type=int, nargs="+", default=[0, 1, 2])
    parser.add_argument("--seeds", default="100:110", help="first:after")
    asked = parser.parse_args()
    first, after = (int(text) for text in asked.seeds.split(":"))
    rows = []
    for difficulty in asked.difficulty:
        found: list[Found] = []
        without = 0
        for one in measure(range(first, after), difficulty):
            if one is None:
                without += 1
                continue
            found.append(one)
            mark = "complete" if one.complete else "FALSE CANNOT" if one.false_cannot else one.why[:150]
            size = f"{one.vehicles} vehicles, {one.parts} parts"
            wire = f"{one.metres:.2f} m ({one.hidden_metres:.2f} m hidden)"
            print(f"{difficulty}.{one.seed}: {size}, {one.seconds:.1f} s, {wire}: {mark}", flush=True)
        rows.append((difficulty, found, without))
    print(
        "\ndifficulty | trains | complete | false cannot | wire / hidden | s a train | draws without a plan"
    )
    for difficulty, found, without in rows:
        if not found:
            continue
        done = [one for one in found if one.complete]
        wire = sum(one.metres for one in done) / max(sum(one.hidden_metres for one in done), 1e-9)
        print(
            f"{difficulty} | {len(found)} | {len(done)} ({len(done) / len(found):.0%}) | "
            f"{sum(one.false_cannot for one in found)} | {wire:.2f} | "
            f"{sum(one.seconds for one in found) / len(found):.1f} | {without}"
        )


if __name__ == "__main__":
    main()
