"""Damaged mesh files, many of them: how many were read, refused, or brought something to a halt.

``python -m tests.bench.bench_damaged_meshes [COUNT]``; COUNT for each format, 1000 when not given. Every
tenth that can be read goes the whole way to a vehicle file.
"""

from __future__ import annotations

import io
import json
import random
import resource
import struct
import sys
import tempfile
import time
import traceback
import zipfile
from collections import Counter
from pathlib import Path

import trimesh

from fitplan.errors import FitplanError
from fitplan.meshes.from_mesh import MeshOptions, vehicle_from_mesh
from fitplan.meshes.read_back import written
from fitplan.meshes.scene_in import read_scene
from tests.attack.strangers import changed_bytes, changed_json, changed_lines
from tests.meshes.brick_models import Export, Model, deck, write


def sound_files(folder: Path) -> dict[str, bytes]:
    """Return a small wagon, a deck with two bricks on it, in every format."""
    model = Model("wagon")
    deck(model, 0, 6, 4)
    model.add(0, 0, 1, 2, 2)
    model.add(4, 0, 1, 2, 2, colour=1, name="removable: end")
    found = {
        e: write(model, Export(e), folder).read_bytes() for e in (".glb", ".obj", ".stl", ".ply", ".3mf")
    }
    mesh = trimesh.load_mesh(folder / "model.ply", process=False)
    found[".off"] = str(mesh.export(file_type="off")).encode()
    head, binary = _chunks(found[".glb"])
    (folder / "model.bin").write_bytes(binary)
    head["buffers"][0]["uri"] = "model.bin"
    found[".gltf"] = json.dumps(head).encode()
    return found


def _chunks(data: bytes) -> tuple[dict, bytes]:  # type: ignore[type-arg]
    size = struct.unpack_from("<I", data, 12)[0]
    return json.loads(data[20 : 20 + size]), data[28 + size :]


def damaged(data: bytes, ending: str, chance: random.Random) -> bytes:
    """Return a file with bytes, lines, header entries or the content of its archive changed."""
    if chance.random() < 0.3:
        return changed_bytes(data, chance)
    match ending:
        case ".glb":
            head, binary = _chunks(data)
            text = json.dumps(changed_json(head, chance)).encode("utf-8", "surrogatepass")
            parts = struct.pack("<II", len(text), 0x4E4F534A) + text
            parts += struct.pack("<II", len(binary), 0x004E4942) + binary
            return struct.pack("<4sII", b"glTF", 2, 12 + len(parts)) + parts
        case ".gltf":
            return json.dumps(changed_json(json.loads(data), chance)).encode("utf-8", "surrogatepass")
        case ".3mf":
            stream = io.BytesIO()
            with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(stream, "w") as new:
                for name in old.namelist():
                    own = old.read(name)
                    new.writestr(name, _changed_text(own, chance) if name.endswith(".model") else own)
            return stream.getvalue()
        case ".obj" | ".off":
            return _changed_text(data, chance)
        case ".ply":
            head, end, body = data.partition(b"end_header\n")
            return _changed_text(head, chance) + end + body
    return changed_bytes(data, chance)


def _changed_text(data: bytes, chance: random.Random) -> bytes:
    if chance.random() < 0.4:
        return changed_bytes(data, chance)
    return changed_lines(data.decode("utf-8", "replace"), chance).encode("utf-8", "surrogatepass")


def main(count: int) -> int:
    """Print the table; return 1 when anything but a refusal was raised."""
    bad = 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        files = sound_files(folder)
        print(f"{'format':8}{'tried':>8}{'read':>8}{'refused':>9}{'bad':>6}{'slowest s':>11}{'peak MB':>9}")
        for ending, data in files.items():
            bad += _row(folder, ending, data, count)
    return min(bad, 1)


def _row(folder: Path, ending: str, data: bytes, count: int) -> int:
    came: Counter[str] = Counter()
    slowest = 0.0
    path = folder / f"damaged{ending}"
    for seed in range(count):
        path.write_bytes(damaged(data, ending, random.Random(seed)))
        begun = time.process_time()
        try:
            read_scene(path)
            if seed % 10 == 0:
                written(vehicle_from_mesh(path, MeshOptions()), path, folder / "vehicle.yaml")
            came["read"] += 1
        except FitplanError:
            came["refused"] += 1
        except Exception:
            came["bad"] += 1
            print(f"{ending}, seed {seed}: {traceback.format_exc(limit=-2)}")
        slowest = max(slowest, time.process_time() - begun)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{ending:8}{count:8}{came['read']:8}{came['refused']:9}{came['bad']:6}{slowest:11.2f}{peak:9.0f}")
    return came["bad"]


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000))
