"""Changed files of strangers, many of them: how many were read, refused, or brought something to a halt.

``python -m tests.bench.bench_strangers [COUNT]``; COUNT for each reader, 1000 when not given.
"""

from __future__ import annotations

import json
import random
import shutil
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from fitplan.errors import FitplanError
from fitplan.files.catalogue import catalogue_folder, examples_folder
from fitplan.files.find import find_train
from fitplan.files.plan_json import plan_from_json, plan_to_json
from fitplan.files.read import read_train
from fitplan.files.sidecar import BadSidecar, read_sidecar, sidecar_bytes
from fitplan.planning.run import plan_train
from fitplan.recheck import recheck
from tests.attack.strangers import changed_bytes, changed_json, changed_lines

EXAMPLE = "narrow-crane-wagon"


def main(count: int) -> int:
    """Print the table; return 1 when anything but a refusal was raised."""
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        train = read_train(find_train(EXAMPLE))
        document = json.loads(plan_to_json(plan_train(train)))
        sidecar = sidecar_bytes(
            [entry for entry in train.vehicles[0].vehicle.body if hasattr(entry.solid, "low")]
        )

        def texts(chance: random.Random) -> None:
            folder = place / "train"
            shutil.rmtree(folder, ignore_errors=True)
            shutil.copytree(examples_folder() / EXAMPLE, folder)
            (folder / "parts").mkdir()
            source = chance.choice(sorted([*folder.glob("*.yaml"), *catalogue_folder().glob("*.yaml")]))
            goal = source if source.parent == folder else folder / "parts" / source.name
            made = changed_lines(source.read_text("utf-8"), chance)
            goal.write_bytes(made.encode("utf-8", "surrogatepass"))
            read_train(folder / "train.yaml")

        def plans(chance: random.Random) -> None:
            recheck(plan_from_json(json.dumps(changed_json(document, chance))))

        def sidecars(chance: random.Random) -> None:
            (place / "x.npz").write_bytes(changed_bytes(sidecar, chance))
            read_sidecar(place / "x.npz")

        bad = 0
        print(f"{'reader':10}{'tried':>8}{'read':>8}{'refused':>9}{'bad':>6}{'slowest s':>11}")
        for what, read in (("texts", texts), ("plans", plans), ("sidecars", sidecars)):
            bad += _row(what, read, count)
    return min(bad, 1)


def _row(what: str, read: Callable[[random.Random], None], count: int) -> int:
    came: Counter[str] = Counter()
    slowest = 0.0
    for seed in range(count):
        begun = time.process_time()
        try:
            read(random.Random(seed))
            came["read"] += 1
        except (FitplanError, BadSidecar):
            came["refused"] += 1
        except Exception:
            came["bad"] += 1
            print(f"{what}, seed {seed}: {traceback.format_exc(limit=-2)}")
        slowest = max(slowest, time.process_time() - begun)
    print(f"{what:10}{count:8}{came['read']:8}{came['refused']:9}{came['bad']:6}{slowest:11.2f}")
    return came["bad"]


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000))
