"""Compiled kernels belong to their sources, and arrays go in and out of them unharmed."""

from __future__ import annotations

import gc
import os
import re
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

import fitplan.kernels
from fitplan.errors import FitplanError
from fitplan.kernels import Kernel, build, give_back, load, reused_memory, shared
from fitplan.kernels.build import source_hash

NAMES = sorted(path.stem for path in Path(fitplan.kernels.__file__).parent.glob("*.c"))


@pytest.mark.parametrize("name", NAMES)
def test_each_kernel_was_compiled_from_its_source(name: str) -> None:
    """The hash beside the compiled kernel is that of its C source and the shared header, and it loads."""
    noted = (
        (Path(fitplan.kernels.__file__).parent / f"{name}.wasm.source").read_text(encoding="ascii").strip()
    )
    assert noted == source_hash(name)
    assert load(name).empty(4, np.uint8) > 0


@pytest.mark.parametrize("dtype", [np.uint8, np.int32, np.uint64, np.float64])
def test_arrays_come_back_as_they_went_in(dtype: type) -> None:
    """An array put in is read back the same; fresh room is zeroed, forgotten room is given anew."""
    kernel = load(NAMES[0])
    array = np.arange(60, dtype=dtype).reshape(3, 4, 5)
    address = kernel.put(array)
    np.testing.assert_array_equal(kernel.view(address, (3, 4, 5), dtype), array)
    large = kernel.empty((1000, 1000), dtype)
    assert not kernel.view(large, (1000, 1000), dtype).any()
    np.testing.assert_array_equal(kernel.view(address, (3, 4, 5), dtype), array)
    kernel.reset()
    again = kernel.empty(60, dtype)
    assert again == address
    assert not kernel.view(again, 60, dtype).any()


def test_zeroed_room_is_zero_wherever_it_comes_to_lie() -> None:
    """Room that was written to before, room that never was, and room that is partly either is zero."""
    kernel = load(NAMES[0])
    rng = np.random.default_rng(1)
    for _ in range(20):
        kernel.reset()
        for size in rng.integers(1, 200_000, size=rng.integers(1, 6)).tolist():
            if rng.random() < 0.5:
                kernel.put(np.full(size, 255, np.uint8))
                continue
            address = kernel.empty(size, np.uint8)
            room = kernel.view(address, size, np.uint8)
            assert not room.any()
            room[...] = 255


def test_a_kernel_that_is_full_says_so() -> None:
    """More than a kernel's 4 GiB raises MemoryError and leaves it usable."""
    kernel = load(NAMES[0])
    with pytest.raises(MemoryError, match="cannot hold"):
        kernel.empty(0xFFFFFFF0, np.uint8)
    assert kernel.empty(16, np.uint8) > 0


def test_memory_is_reused_only_while_that_is_asked_for() -> None:
    """A kernel that is done with leaves its memory, zeroed again, to the next one, and to no later one."""
    with reused_memory():
        first = load(NAMES[0])
        address = first.put(np.full(1000, 7, np.uint8))
        instance = first._instance
        del first
        second = load(NAMES[0])
        assert second._instance is instance
        assert second.empty(1000, np.uint8) == address
        assert not second.view(address, 1000, np.uint8).any()
        assert load(NAMES[0])._instance is not instance
        del second
        give_back(NAMES[0])
        assert load(NAMES[0])._instance is not instance
        last = load(NAMES[0])
        kept = last._instance
    del last
    assert load(NAMES[0])._instance is not kept


def test_a_shared_kernel_is_one_for_a_thread_and_empty_each_time() -> None:
    """Two callers in a thread get the same kernel, forgotten in between; another thread has its own."""
    first = shared(NAMES[0])
    address = first.put(np.full(100, 7, np.uint8))
    again = shared(NAMES[0])
    assert again is first
    assert again.empty(100, np.uint8) == address
    assert not again.view(address, 100, np.uint8).any()
    with ThreadPoolExecutor(1) as pool:
        assert pool.submit(shared, NAMES[0]).result() is not first


def test_an_array_never_reaches_beyond_the_memory() -> None:
    """A view that would end behind the memory, or begin there, is refused."""
    kernel = load(NAMES[0])
    address = kernel.empty(16, np.uint8)
    with pytest.raises(ValueError, match="beyond the kernel's memory"):
        kernel.view(address, (1 << 30,), np.float64)
    with pytest.raises(ValueError, match="beyond the kernel's memory"):
        kernel.view(0xFFFFFFF0, 16, np.uint8)
    assert kernel.view(address, 0, np.uint8).size == 0


def test_an_array_outlives_its_kernel_unharmed() -> None:
    """What looks at the memory keeps it, and the memory is not handed on while something looks at it."""
    kernel = load(NAMES[0])
    kept = kernel.view(kernel.put(np.arange(1000)), 1000, np.int64)[10:20]
    del kernel
    gc.collect()
    for _ in range(20):
        load(NAMES[0]).put(np.full(5000, 7))
    assert kept.tolist() == list(range(10, 20))
    with reused_memory():
        first = load(NAMES[0])
        looked = first.view(first.put(np.arange(1000)), 1000, np.int64)
        instance = first._instance
        del first
        second = load(NAMES[0])
        assert second._instance is not instance
        second.put(np.full(5000, 7))
        assert looked.tolist() == list(range(1000))


def test_an_array_is_still_right_after_the_memory_has_grown() -> None:
    """Memory that grows stays where it is: what was looked at before is read as it was left."""
    kernel = load(NAMES[0])
    looked = kernel.view(kernel.put(np.arange(1000)), 1000, np.int64)
    for _ in range(6):
        kernel.empty(20_000_000, np.uint8)
    assert looked.tolist() == list(range(1000))


def test_a_kernel_that_the_collector_closed_is_not_used_again() -> None:
    """What lies in a cycle is let go all at once, with the store of a kernel that was called before."""
    code = f"""
import gc
import os
from fitplan.kernels import load, reused_memory
class Cycle: pass
with reused_memory():
    held = Cycle()
    held.me, held.kernel = held, load({NAMES[0]!r})
    held.kernel.reset()
    del held
    gc.collect()
    print(load({NAMES[0]!r}).steps)
"""
    assert _python(code) == "0"


def _python(code: str) -> str:
    """Run a few lines in a process of their own; returns what they print."""
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return run.stdout.strip()


def test_a_missing_runtime_is_one_sentence() -> None:
    """Where the runtime has no library, the first kernel says so, with no traceback of another's."""
    said = _python(
        "import sys\n"
        "sys.modules['wasmtime'] = None\n"
        "from fitplan.errors import FitplanError\n"
        "from fitplan.kernels import load\n"
        "try:\n load('voxels')\n"
        "except FitplanError as error:\n print(error)\n"
    )
    assert said.startswith("the library wasmtime, which runs fitplan's inner loops, cannot be loaded")
    assert "\n" not in said


@pytest.mark.skipif(sys.platform == "win32", reason="limits on the address space are of Unix")
def test_little_address_space_is_enough_and_none_is_told() -> None:
    """Below 4 GiB of address space kernels still work; far below, one sentence says what is missing."""
    code = (
        "import resource, numpy as np\n"
        "from fitplan.errors import FitplanError\n"
        "from fitplan.kernels import load\n"
        "import fitplan.kernels as k, wasmtime\n"
        "import sys; sys.modules['fitplan.kernels.load']._module('voxels', True)\n"
        "now = int([l for l in open('/proc/self/status') if l.startswith('VmSize')][0].split()[1]) * 1024\n"
        "limit = now + {more}\n"
        "resource.setrlimit(resource.RLIMIT_AS, (limit, limit))\n"
        "try:\n"
        " kernel = load('voxels')\n"
        " at = kernel.put(np.arange(2000000))\n"
        " print(int(kernel.view(at, 2000000, np.int64).sum()))\n"
        "except FitplanError as error:\n print(error)\n"
    )
    if not Path("/proc/self/status").exists():
        pytest.skip("how much address space is taken cannot be read here")
    assert _python(code.format(more=1 << 30)) == str(sum(range(2_000_000)))
    said = _python(code.format(more=20 << 20))
    assert said.startswith("there is not enough address space for fitplan's inner loops")
    assert re.search(r": \d\d? MB are left$", said)
    assert "\n" not in said


def _fill(kernel: Kernel) -> None:
    for _ in range(200):
        kernel.empty(10_000_000, np.uint8)


def test_memory_that_moves_is_never_read_where_it_was(monkeypatch) -> None:
    """With little address space a memory that grows moves; an array that looks at it then is an error."""
    loader = sys.modules["fitplan.kernels.load"]
    instance = loader._Instance(NAMES[0], small=True)
    kernel = load(NAMES[0])
    kernel._instance = instance
    looked = kernel.view(kernel.put(np.arange(1000)), 1000, np.int64)
    with pytest.raises(RuntimeError, match="moved while an array still looked at it"):
        _fill(kernel)
    del looked


def test_a_build_is_whole_or_not_at_all(monkeypatch, tmp_path: Path) -> None:
    """A compiler that fails leaves the old module and no litter; without a compiler that is said."""
    monkeypatch.setattr(build, "HERE", tmp_path)
    monkeypatch.setattr(build, "COMPILERS", ("no-such-compiler",))
    with pytest.raises(FitplanError, match="no-such-compiler"):
        build.compiled("one")
    (tmp_path / "one.c").write_text("int f(void) { return 1; }\n", encoding="ascii")
    (tmp_path / "one.wasm").write_bytes(b"old")
    monkeypatch.setattr(build, "compiled", lambda name: b"new")
    build.compile_kernel("one")
    assert (tmp_path / "one.wasm").read_bytes() == b"new"
    assert (tmp_path / "one.wasm.source").read_text(encoding="ascii").strip() == source_hash("one")

    def refuse(self: Path, target: object) -> None:
        raise OSError("disk full")

    monkeypatch.setattr(build, "compiled", lambda name: b"newer")
    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(OSError, match="disk full"):
        build.compile_kernel("one")
    assert (tmp_path / "one.wasm").read_bytes() == b"new"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["one.c", "one.wasm"]


def test_all_kernels_are_compiled_beforehand_by_who_has_time() -> None:
    """Once `fitplan.kernels.ready` is loaded no kernel is compiled any more."""
    code = (
        "import sys, fitplan.kernels.ready\n"
        "whole = sys.modules['fitplan.kernels.load']\n"
        "before = whole._module.cache_info().misses\n"
        f"kernels = [whole.load(name) for name in {NAMES!r}]\n"
        "print(before, whole._module.cache_info().misses)\n"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert told.split() == [str(len(NAMES))] * 2


COMPILED = """
import sys
from pathlib import Path
from fitplan.kernels import load
kernel = load("clear")
sys.exit(kernel.put(__import__("numpy").zeros(9)) == 0)
"""


@pytest.mark.skipif(sys.platform in ("win32", "darwin"), reason="the folder is a part of the system there")
@pytest.mark.parametrize("there", ["a folder", "nothing", "a file", "a folder that may not be written to"])
def test_compiled_code_is_kept_where_there_is_a_folder_for_it(tmp_path: Path, there: str) -> None:
    """And nowhere else: no folder is made, and nothing goes wrong; what is kept serves the next process."""
    folder = tmp_path / "kept"
    if there == "a file":
        folder.write_text("not a folder")
    elif there != "nothing":
        folder.mkdir(0o777 if there == "a folder" else 0o555)
    surroundings = {**os.environ, "XDG_CACHE_HOME": str(folder), "HOME": str(tmp_path / "nobody")}
    for _ in range(2):
        subprocess.run([sys.executable, "-c", COMPILED], env=surroundings, check=True, cwd=tmp_path)
    if there == "a folder":
        assert any(path.is_file() for path in folder.rglob("*"))
    elif there == "nothing":
        assert not any(tmp_path.iterdir())
    elif there == "a file":
        assert [path.name for path in tmp_path.iterdir()] == ["kept"]
