"""Trains with a complete plan hidden in them: the share that is planned completely, by difficulty.

    python -m tests.bench.bench_hidden_trains --difficulty 0 1 2 --seeds 100:120

Complete means: every part has a place and a way in, and every net is wired; held: the independent checker
holds that plan. Every train has such a plan, shown by means that neither pack nor route
(`tests.hidden.oracle`). Wire inside the vehicles is compared with the hidden plan's; processor time is the
planner's alone.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from tests.hidden.measure import Found, measure


def main() -> None:
    """Print a line a train, then the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--difficulty", type=int, nargs="+", default=[0, 1, 2])
    parser.add_argument("--seeds", default="100:110", help="first:after")
    parser.add_argument("--seconds", type=int, default=600, help="processor time a train may take")
    parser.add_argument("--keep", type=Path, help="folder into which plans are pickled")
    parser.add_argument("--every", action="store_true", help="print all that is missing, not only the first")
    parser.add_argument("--bodies", choices=("plain", "varied"), default="plain", help="how ends are drawn")
    asked = parser.parse_args()
    if asked.keep is not None:
        asked.keep.mkdir(parents=True, exist_ok=True)
    first, after = (int(text) for text in asked.seeds.split(":"))
    rows: list[tuple[int, list[Found]]] = []
    for difficulty in asked.difficulty:
        rows.append((difficulty, []))
        varied = asked.bodies == "varied"
        seeds = range(first, after)
        for one in measure(difficulty, seeds, most_seconds=asked.seconds, keep=asked.keep, varied=varied):
            rows[-1][1].append(one)
            print(_line(one), flush=True)
            if asked.every:
                print("".join(f"    {why}\n" for why in (*one.missing, *one.doubted)), end="", flush=True)
    print(
        "\ndifficulty | trains | vehicles | parts | complete | held | false cannot | wire / hidden | "
        "s a train | draws left out | to be opened, no dearer than hidden"
    )
    for difficulty, found in rows:
        if found:
            print(f"{difficulty} | {_row(found)}")


def _line(one: Found) -> str:
    mark = (
        "held" if one.held else "FALSE CANNOT" if one.false_cannot else (*one.missing, *one.doubted)[0][:150]
    )
    size = f"{one.vehicles} vehicles, {one.parts} parts"
    wire = f"{one.metres:.2f} m ({one.hidden_metres:.2f} m hidden)"
    if one.price:
        size += f", opened for {one.opened} (hidden {one.price:g}, least {one.least})"
    return f"{one.difficulty}.{one.seed}: {size}, {one.seconds:.1f} s, {wire}: {mark}"


def _row(found: list[Found]) -> str:
    done = [one for one in found if one.complete]
    held = [one for one in found if one.held]
    wire = sum(one.metres for one in done) / max(sum(one.hidden_metres for one in done), 1e-9)
    shut = [one for one in found if one.price]
    sizes = [sorted(values) for values in ([o.vehicles for o in found], [o.parts for o in found])]
    return " | ".join(
        (
            f"{len(found)}",
            *(f"{values[0]} to {values[-1]}" for values in sizes),
            f"{len(done)} ({len(done) / len(found):.0%})",
            f"{len(held)} ({len(held) / len(found):.0%})",
            f"{sum(one.false_cannot for one in found)}",
            f"{wire:.2f}",
            f"{sum(one.seconds for one in found) / len(found):.1f}",
            f"{sum(one.left_out for one in found)}",
            f"{len(shut)}, {sum((one.opened or 0) <= one.price for one in shut if one.complete)}",
        )
    )


if __name__ == "__main__":
    main()
