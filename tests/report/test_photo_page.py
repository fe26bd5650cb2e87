"""The page that takes measures from a photograph: its arithmetic, and that it needs no network."""

from __future__ import annotations

import json
import math
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from fitplan.report.photo import photo_page

PAGE = photo_page().decode("utf-8")


def asked(expression: str) -> object:
    """What the page's own script makes of an expression."""
    node = shutil.which("node")
    if node is None:
        pytest.skip("node is not installed")
    script = re.findall(r"<script>(.*?)</script>", PAGE, re.S)[0]
    done = subprocess.run(
        [node, "-e", f"{script}\nconsole.log(JSON.stringify({expression}))"],
        capture_output=True, check=True, text=True, timeout=60,
    )  # fmt: skip
    return json.loads(done.stdout)


def test_lengths_as_in_the_files() -> None:
    """Sums with units; what is no length is none."""
    texts = ["24 studs", "3 studs 1 plate", "14.5 mm", "192", "2 bricks + 1 plate", "long", "3 yards", ""]
    found = asked(f"{json.dumps(texts)}.map(lengthOf)")
    assert found == pytest.approx([192.0, 27.2, 14.5, 192.0, 22.4, None, None, None])


@pytest.mark.parametrize("turned_deg", [0.0, 7.0, -20.0])
def test_places_along_and_above_the_line(turned_deg: float) -> None:
    """Points drawn at a scale of 3 pixels a millimetre, the picture turned: the places that were drawn."""
    drawn = [(0.0, 0.0), (192.0, 0.0), (56.0, 35.2), (120.0, -16.0)]
    c, s = math.cos(math.radians(turned_deg)), math.sin(math.radians(turned_deg))
    pixels = [{"x": 100 + 3 * (x * c + z * s), "y": 500 - 3 * (z * c - x * s)} for x, z in drawn]
    found = asked(f"measured({json.dumps(pixels)}, 192)")
    assert isinstance(found, list)
    assert [(one["along"], one["up"]) for one in found] == [pytest.approx(point) for point in drawn]


def test_nothing_comes_from_elsewhere(tmp_path: Path) -> None:
    """No address stands in it, and its policy allows none."""
    assert not re.search(r"(?:https?:)?//[a-z]", PAGE)
    assert "default-src 'none'" in PAGE
