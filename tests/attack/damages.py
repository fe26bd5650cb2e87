"""Damages to the plans of all examples: how many there are of each kind, and what notices them.

By the plan alone, by its checks run again, by its files read again, or not at all; those that must be taken
on trust stand apart.

    python -m tests.attack.damages [EXAMPLE …] [--every N]

``--every`` takes every Nth damage only.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter, defaultdict

from fitplan.files.find import example_names, find_train
from fitplan.files.plan_json import plan_from_json
from fitplan.files.read import read_train
from fitplan.recheck import recheck
from tests.attack.damage_table import noticed
from tests.attack.damaged_plans import DAMAGES
from tests.attack.leaves import plan_of

_BY = ("format", "plan", "checks", "files", "trusted", "unnoticed")


def main(names: list[str], every: int) -> int:
    """Print the table; return 1 when something is unnoticed or an untouched plan does not hold."""
    bad = 0
    for name in names or example_names():
        train = read_train(find_train(name))
        written = plan_of(name, train)
        untouched = recheck(plan_from_json(written), train)
        bad += len(untouched.problems)
        table: dict[str, Counter[str]] = defaultdict(Counter)
        for result in noticed(json.loads(written), train, DAMAGES[::every]):
            by = result.by or ("trusted" if result.damage.trusted else "unnoticed")
            table[result.damage.kind][by] += 1
            if by == "unnoticed":
                bad += 1
                print(f"unnoticed: {result.damage.kind}: {result.damage.name}", flush=True)
        print(f"\n{name}: untouched, {len(untouched.problems)} problems")
        print(f"{'damage to':16}{'done':>8}" + "".join(f"{by:>11}" for by in _BY))
        for kind, counts in (*table.items(), ("all", sum(table.values(), Counter()))):
            print(f"{kind:16}{counts.total():8}" + "".join(f"{counts[by]:11}" for by in _BY))
    return min(bad, 1)


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("names", nargs="*")
    asked.add_argument("--every", type=int, default=1)
    options = asked.parse_args()
    sys.exit(main(options.names, options.every))
