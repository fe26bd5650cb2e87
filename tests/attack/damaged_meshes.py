"""Mesh files of strangers: a small wagon in every format, and damages of all kinds to it."""

from __future__ import annotations

import base64
import io
import json
import random
import struct
import tempfile
import zipfile
from functools import cache
from pathlib import Path

import trimesh

from tests.attack.strangers import changed_bytes, changed_json, changed_lines
from tests.meshes.brick_models import Export, Model, deck, write

ENDINGS = (".glb", ".obj", ".stl", ".ply", ".3mf", ".off", ".gltf")


@cache
def sound_file(ending: str) -> bytes:
    """Return a small wagon in a format."""
    with tempfile.TemporaryDirectory() as folder:
        return sound_files(Path(folder))[ending]


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
    head["buffers"][0]["uri"] = f"data:application/octet-stream;base64,{base64.b64encode(binary).decode()}"
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
