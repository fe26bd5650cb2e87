"""The four examples a little changed: mirrored, turned round, a brick less, other parts, another supply.

    python -m tests.bench.bench_variants --every 3 --only boiler-loco

Each variant is planned in a process of its own with a bound on its processor time. A variant may well be
impossible (a board that is too long, cells that give too little): then the plan says which part, pin or wire
stands in the way. What must not be: no answer, or a plan that the independent checker does not hold.
"""

from __future__ import annotations

import argparse
from collections import Counter
from multiprocessing.connection import Connection

from fitplan.errors import FitplanError
from fitplan.planning.run import PlanOptions, plan_train
from fitplan.surface import read_train
from tests.hidden.measure import bound, doubts_of, in_a_process, missing_in
from tests.hidden.variants import variants

EXAMPLES = ("clay-run", "boiler-loco", "market-tram", "harbour-line")


def main() -> None:
    """Print a line a variant, then the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", nargs="+", default=list(EXAMPLES), help="examples")
    parser.add_argument("--every", type=int, default=1, help="of other parts and supplies every so many")
    parser.add_argument("--named", default="", help="only variants whose name holds this")
    parser.add_argument("--seconds", type=int, default=200, help="processor time a variant may take")
    asked = parser.parse_args()
    rows = []
    for example in asked.only:
        counts: Counter[str] = Counter()
        for number, (name, _) in enumerate(variants(read_train(example))):
            drawn = name.startswith(("as it is", "mirrored", "turned", "without"))
            if asked.named not in name or (not drawn and number % asked.every):
                continue
            told = in_a_process(_plan, example, number, asked.seconds)
            kind, text, seconds = told[0] if told else ("no answer", "", asked.seconds)
            counts[kind] += 1
            print(f"{example}, {name}: {kind}, {seconds:.1f} s: {text[:140]}", flush=True)
        rows.append((example, counts))
    kinds = ("complete", "refused with a reason", "does not hold", "no answer")
    print("\nexample | variants | " + " | ".join(kinds))
    for example, counts in rows:
        print(" | ".join([example, str(counts.total()), *(str(counts[kind]) for kind in kinds)]))


def _plan(pipe: Connection, example: str, number: int, seconds: int) -> None:
    """Plan a variant and send its kind, a text and the processor time."""
    train = next(train for n, (_, train) in enumerate(variants(read_train(example))) if n == number)
    began = bound(seconds)
    try:
        plan = plan_train(train, PlanOptions())
    except FitplanError as error:
        pipe.send(("refused with a reason", str(error), bound(600) - began))
        return
    spent = bound(600) - began
    missing, doubts = missing_in(plan), doubts_of(plan)
    if doubts:
        pipe.send(("does not hold", doubts[0], spent))
    elif missing:
        pipe.send(("refused with a reason", f"{plan.verdict}: {missing[0]}", spent))
    else:
        pipe.send(("complete", plan.verdict, spent))


if __name__ == "__main__":
    main()
