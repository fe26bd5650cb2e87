"""Compile the kernels' C sources to WebAssembly; for maintainers, not needed to use fitplan.

Run ``python -m fitplan.kernels.build`` with clang 14 and its lld on the path; ``--check`` compiles beside and
compares.  The compiled ``NAME.wasm`` is kept beside ``NAME.c`` and carries the hash of its source in
``NAME.wasm.source``, so a test can tell when one was changed without the other.  The same compiler gives the
same bytes.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from fitplan.errors import FitplanError

HERE = Path(__file__).parent
COMPILERS = ("clang-14", "clang")
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


def compiler() -> str:
    """Return the C compiler: clang 14, whose bytes are kept, before any other clang.

    Raises
    ------
    FitplanError
        When there is none.
    """
    for name in COMPILERS:
        if shutil.which(name):
            return name
    raise FitplanError(f"no {' and no '.join(COMPILERS)} was found on the path (Debian: clang-14 lld-14)")


def names_of_kernels() -> list[str]:
    """Return the names of all kernels."""
    return sorted(path.stem for path in HERE.glob("*.c"))


def source_hash(name: str) -> str:
    """Return the SHA-256 of the kernel's C source and the shared headers, in hexadecimal."""
    digest = hashlib.sha256()
    for path in (*sorted(HERE.glob("*.h")), HERE / f"{name}.c"):
        digest.update(path.read_bytes().replace(b"\r\n", b"\n"))
    return digest.hexdigest()


def compiled(name: str) -> bytes:
    """Return the WebAssembly of a kernel's source as it stands.

    Raises
    ------
    FitplanError
        When there is no compiler, or when it finds fault with the source.
    """
    with tempfile.TemporaryDirectory() as folder:
        made = Path(folder) / f"{name}.wasm"
        run = subprocess.run(
            [compiler(), *FLAGS, "-o", str(made), f"{name}.c"],
            cwd=HERE,
            capture_output=True,
            text=True,
            check=False,
        )
        if run.returncode:
            raise FitplanError(f"{name}.c cannot be compiled:\n{run.stderr}")
        return made.read_bytes()


def compile_kernel(name: str) -> None:
    """Compile ``NAME.c`` to ``NAME.wasm`` and note the source's hash beside it; each whole or not at all."""
    code = compiled(name)
    noted = HERE / f"{name}.wasm.source"
    noted.unlink(missing_ok=True)  # until both are there, neither counts as made from this source
    _replace(HERE / f"{name}.wasm", code)
    _replace(noted, (source_hash(name) + "\n").encode("ascii"))


def _replace(path: Path, content: bytes) -> None:
    """Write a file beside and move it into its place."""
    handle, beside = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        Path(beside).chmod(0o644)
        Path(beside).replace(path)
    except BaseException:
        Path(beside).unlink(missing_ok=True)
        raise


def main(arguments: list[str]) -> int:
    """Compile the named kernels, or all of them; with ``--check`` only say which would differ."""
    names = [argument for argument in arguments if argument != "--check"] or names_of_kernels()
    try:
        if "--check" not in arguments:
            for name in names:
                compile_kernel(name)
            return 0
        differ = [name for name in names if compiled(name) != (HERE / f"{name}.wasm").read_bytes()]
    except FitplanError as error:
        sys.stderr.write(f"{error}\n")
        return 1
    for name in differ:
        sys.stderr.write(f"{name}.wasm is not what {compiler()} makes of {name}.c\n")
    return 1 if differ else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
