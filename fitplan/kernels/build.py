"""Compile the kernels' C sources to WebAssembly; for maintainers, not needed to use fitplan.

Run ``python -m fitplan.kernels.build`` with clang (14 or newer, with lld) on the path.  The compiled
``NAME.wasm`` is kept beside ``NAME.c`` and carries the hash of its source in ``NAME.wasm.source``, so a
test can tell when one was changed without the other.
"""

from __future__ import annotations

import hashlib
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent
FLAGS = (
    "--target=wasm32",
    "-O3",
    "-std=c11",
    "-nostdlib",
    "-ffreestanding",
    "-fno-builtin",
    "-mbulk-memory",
    "-msimd128",
    "-Wall",
    "-Wextra",
    "-Werror",
    "-Wl,--no-entry",
    "-Wl,--export-dynamic",
    "-Wl,--strip-all",
    "-Wl,-z,stack-size=1048576",
)


def source_hash(name: str) -> str:
    """Return the SHA-256 of the kernel's C source and the shared headers, in hexadecimal."""
    digest = hashlib.sha256()
    for path in (*sorted(HERE.glob("*.h")), HERE / f"{name}.c"):
        digest.update(path.read_bytes().replace(b"\r\n", b"\n"))
    return digest.hexdigest()


def compile_kernel(name: str) -> None:
    """Compile ``NAME.c`` to ``NAME.wasm`` and note the source's hash beside it."""
    subprocess.run(
        ["clang", *FLAGS, "-o", str(HERE / f"{name}.wasm"), str(HERE / f"{name}.c")],
        check=True,
    )
    (HERE / f"{name}.wasm.source").write_text(source_hash(name) + "\n", encoding="ascii")


def main(names: list[str]) -> None:
    """Compile the named kernels, or all of them."""
    for name in names or sorted(path.stem for path in HERE.glob("*.c")):
        compile_kernel(name)


if __name__ == "__main__":
    main(sys.argv[1:])
