"""Every reader of strangers' files as one table: what it reads, good inputs, and how they are changed.

``python -m tests.attack.readers [COUNT [READER …]]`` tries changed inputs and prints what came of them;
``python -m tests.attack.guided READER`` searches for others, led by the lines that they reach.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import random
import resource
import shutil
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path

from fitplan.cli import main as command_line
from fitplan.errors import FitplanError
from fitplan.files.catalogue import examples_folder
from fitplan.files.document import parse_document
from fitplan.files.find import find_train
from fitplan.files.owned_reading import owned_files, standing
from fitplan.files.part_copy import part_copy
from fitplan.files.plan_json import plan_from_json, plan_to_json
from fitplan.files.read import read_catalogue, read_train, read_vehicle
from fitplan.files.sidecar import BadSidecar, read_sidecar, sidecar_bytes
from fitplan.meshes.from_mesh import MeshOptions, vehicle_from_mesh
from fitplan.meshes.read_back import written
from fitplan.meshes.scene_in import read_scene
from fitplan.model.solids import Box
from fitplan.model.vehicle import BodySolid
from fitplan.planning.run import plan_train
from fitplan.recheck import recheck
from fitplan.units import parse_length
from tests.attack.damaged_meshes import ENDINGS, damaged, sound_file
from tests.attack.strangers import SCALARS, SIGNS, changed_bytes, changed_json, changed_lines
from tests.files.lines import DATA, catalogue

REFUSALS = (FitplanError, BadSidecar)
SLOW_S = 10.0
"""An input that takes more processor time than this counts as a hang."""
CORPUS = Path(__file__).parent / "corpus"
EXAMPLE = "narrow-crane-wagon"


@dataclass(frozen=True)
class Reader:
    """One reader: what it does with bytes, inputs to begin with, how one is changed, how many to try.

    ``share`` is in thousandths of the count that is asked for: quick readers are given more.
    """

    read: Callable[[bytes], object]
    seeds: Callable[[], list[bytes]]
    change: Callable[[bytes, random.Random], bytes]
    share: float


@cache
def _place() -> Path:
    """Return a folder for files of this process."""
    here = "/dev/shm" if Path("/dev/shm").is_dir() else None
    return Path(tempfile.mkdtemp(prefix="fitplan-readers-", dir=here))


def _file(name: str, data: bytes) -> Path:
    path = _place() / name
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(data)
    return path


def _length(data: bytes) -> None:
    with contextlib.suppress(ValueError):
        parse_length(data.decode("utf-8", "replace"))


def _train(data: bytes) -> None:
    folder = _place() / "line"
    if not folder.exists():
        shutil.copytree(DATA / "line", folder)
    (folder / "train.yaml").write_bytes(data)
    read_train(folder / "train.yaml", catalogue())


def _mesh(ending: str, data: bytes) -> None:
    read_scene(_file(f"x{ending}", data))


def _converted(ending: str, data: bytes) -> None:
    path = _file(f"x{ending}", data)
    written(vehicle_from_mesh(path, MeshOptions()), path, _place() / "vehicle.yaml")


def _folder(data: bytes) -> None:
    for name in ("manifest.json", "journal.json"):
        _file(f".fitplan/{name}", data)
    owned_files(_place())
    standing(_place(), "plan.json")


def _checked(data: bytes) -> None:
    recheck(plan_from_json(data))


def _arguments(data: bytes) -> None:
    words = [word for word in data.decode("utf-8", "replace").split("\n") if "completion" not in word]
    before = sys.argv, Path.cwd(), sys.stdin
    out = io.StringIO()
    try:
        sys.argv = ["fitplan", *words]
        os.chdir(_place())
        sys.stdin = io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
            command_line()
    except SystemExit as ended:
        if ended.code not in (None, 0, 1, 2, 130):
            raise AssertionError(f"{words}: status {ended.code}: {out.getvalue()[-500:]}") from None
    finally:
        sys.argv, folder, sys.stdin = before
        os.chdir(folder)


def _lines(data: bytes, chance: random.Random) -> bytes:
    if chance.random() < 0.3:
        return changed_bytes(data, chance)
    return changed_lines(data.decode("utf-8", "replace"), chance).encode("utf-8", "surrogatepass")


def _json(data: bytes, chance: random.Random) -> bytes:
    if chance.random() < 0.2:
        return changed_bytes(data, chance)
    return json.dumps(changed_json(json.loads(data), chance)).encode()


def _sound(ending: str) -> list[bytes]:
    return [sound_file(ending)]


def _damaged(ending: str, data: bytes, chance: random.Random) -> bytes:
    return damaged(data, ending, chance)


def _words(data: bytes, chance: random.Random) -> bytes:
    words = data.decode().split("\n")
    for _ in range(chance.randint(0, 3)):
        words.insert(chance.randrange(len(words) + 1), chance.choice(WORDS))
    if chance.random() < 0.3:
        words.pop(chance.randrange(len(words)))
    return "\n".join(words).encode("utf-8", "replace")


def _characters(data: bytes, chance: random.Random) -> bytes:
    text = list(data.decode())
    for _ in range(chance.randint(1, 4)):
        text.insert(
            chance.randrange(len(text) + 1), chance.choice([*SCALARS, *SIGNS, "1", "e", ".", " stud", "½"])
        )
    return "".join(text)[:400].encode("utf-8", "replace")


def _parts() -> list[bytes]:
    """Return parts of many families, each as a file."""
    return [part_copy(part).encode() for part in list(read_catalogue())[::9]]


def _yaml_seeds(folder: Path, pattern: str) -> list[bytes]:
    return [path.read_bytes() for path in sorted(folder.rglob(pattern))]


@cache
def _plan() -> list[bytes]:
    return [plan_to_json(plan_train(read_train(find_train(EXAMPLE))))]


def _sidecars() -> list[bytes]:
    return [
        sidecar_bytes(
            [
                BodySolid(
                    Box((i, 0, 0), (i + 1, 5, 5)), "removable" if i % 3 else "fixed", f"b{i}" if i % 3 else ""
                )
                for i in range(count)
            ]
        )
        for count in (1, 40)
    ]


WORDS = (
    "plan", "fit", "check", "sweep", "verify", "compare", "parts", "show", "new", "cavities", "vehicle",
    "schema", "measure", "from-mesh", "--json", "--help", "--version", "--seed", "--deadline",
    "--effort", "--paper", "-o", "--output", "--force", "--parts", "--processes", "--train", "--name",
    "--set", "--defaults", "--smooth", "--up", "--units", "--gap", "--pitch", "--closed", "--removable",
    "--kind", "--", "-", "", "A4", "letter", "nan", "inf", "-1", "0", "1e308", "99999999999999999999",
    "long=12", "long=", "=", "x=y", "+z", "..", ".", "/dev/null", "/dev/full", "/", "nothing", "a" *
    5000, "x\0y", "\u202eabc", "über", "box wagon", "box", "plan.json", "lamp-5mm", "ranger", "*", "?",
    "%s", "{}", "$HOME", "-ooo", "--seed=x", "--json=1", "@x", "\ud7ff",
)  # fmt: skip

READERS = {
    "lengths": Reader(
        _length, lambda: [b"3 studs 1 plate", b"14.5 mm", b"2 bricks", b"1e3", b"0,15"], _characters, 500
    ),
    "documents": Reader(
        lambda data: parse_document(data.decode("utf-8", "replace"), Path("f"), []),
        lambda: _yaml_seeds(DATA / "line", "*.yaml"), _lines, 60,
    ),
    "train files": Reader(_train, lambda: [(DATA / "line" / "train.yaml").read_bytes()], _lines, 10),
    "vehicle files": Reader(
        lambda data: read_vehicle(_file("vehicle.yaml", data)),
        lambda: [
            (DATA / "line" / "loco.yaml").read_bytes(), *_yaml_seeds(examples_folder() / EXAMPLE, "crane*"),
        ],
        _lines, 20,
    ),
    "part files": Reader(
        lambda data: read_catalogue([_file("parts/own.yaml", data).parent]),
        _parts, _lines, 10,
    ),
    "sidecars": Reader(lambda data: read_sidecar(_file("x.npz", data)), _sidecars, changed_bytes, 200),
    "lists of folders": Reader(
        _folder,
        lambda: [
            b'{"format": "fitplan-folder", "version": 1, "train": "x", "files": {"a.txt": "00"}}',
            b'{"stage": "s", "put": ["plan.json"], "drop": [], "had": [], "undo": false, "manifest": {}}',
        ],
        _json, 150,
    ),
    "plans read": Reader(plan_from_json, _plan, _json, 2),
    "plans checked": Reader(_checked, _plan, _json, 0.2),
    "arguments": Reader(
        _arguments,
        lambda: [
            b"check\nnothing", b"parts\nshow\nlamp-5mm", b"verify\nplan.json",
            b"vehicle\nmeasure\nbox wagon\n--defaults", b"compare\na\nb", b"schema\nfit",
            b"vehicle\nfrom-mesh\nx.stl\n-o\nx.yaml",
            b"parts\nranger\n--json",
        ],
        _words, 3,
    ),
} | {
    f"meshes {ending}": Reader(
        partial(_mesh, ending), partial(_sound, ending), partial(_damaged, ending), 6.4
    )
    for ending in ENDINGS
} | {
    "meshes to vehicles": Reader(
        partial(_converted, ".glb"), partial(_sound, ".glb"), partial(_damaged, ".glb"), 0.2
    ),
}  # fmt: skip


@dataclass
class Row:
    """What came of the inputs of one reader."""

    came: Counter[str]
    slowest_s: float = 0.0


def tried(reader: Reader, count: int, first: int = 0) -> Iterator[tuple[str, float, bytes]]:
    """Give what came of each changed input (read, refused, a traceback), the seconds it took, the input."""
    seeds = reader.seeds()
    for number in range(first, first + count):
        chance = random.Random(number)
        data = reader.change(chance.choice(seeds), chance)
        begun = time.process_time()
        try:
            reader.read(data)
            came = "read"
        except REFUSALS:
            came = "refused"
        except Exception:
            came = traceback.format_exc(limit=-3)
        yield came, time.process_time() - begun, data


def main(count: int, names: list[str]) -> int:
    """Print the table; return 1 when anything but a refusal was raised, or an input took too long."""
    print(f"{'reader':18}{'tried':>9}{'read':>9}{'refused':>9}{'bad':>6}{'slowest s':>11}", flush=True)
    total: Counter[str] = Counter()
    for name in names or READERS:
        reader = READERS[name]
        row = Row(Counter())
        for number, (came, seconds, data) in enumerate(
            tried(reader, max(1, round(count * reader.share / 1000)))
        ):
            row.slowest_s = max(row.slowest_s, seconds)
            well = came in ("read", "refused") and seconds < SLOW_S
            row.came[came if well else "bad"] += 1
            if not well and row.came["bad"] <= 3:
                print(f"{name}, input {number}, {seconds:.1f} s: {came}\n{data[:300]!r}", flush=True)
        numbers = [row.came.total(), row.came["read"], row.came["refused"]]
        print(
            f"{name:18}{''.join(f'{n:9}' for n in numbers)}{row.came['bad']:6}{row.slowest_s:11.2f}",
            flush=True,
        )
        total += row.came
    print(f"{'all':18}{total.total():9}{total['read']:9}{total['refused']:9}{total['bad']:6}")
    print(f"most memory: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6:.2f} GB")
    return min(total["bad"], 1)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 20_000, sys.argv[2:]))
