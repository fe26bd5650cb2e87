"""A browser to look at the page with; its tests are skipped, with the reason, where none can be had."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Playwright

FLAGS = [
    "--no-sandbox",
    "--use-gl=angle",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--disable-gpu-rasterization",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-default-apps",
    "--disable-sync",
    "--no-first-run",
    "--hide-scrollbars",
]


def chromium() -> str:
    """Return the path of a Chromium, or skip the test."""
    wanted = os.environ.get("FITPLAN_CHROMIUM", "")
    for name in (wanted, "chromium", "chromium-browser", "google-chrome"):
        if name and (found := shutil.which(name)):
            return found
    pytest.skip("no Chromium here (set FITPLAN_CHROMIUM to its path)")


@pytest.fixture(scope="session")
def playwright_here() -> Iterator[Playwright]:
    api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    chromium()
    with api.sync_playwright() as playwright:
        yield playwright


@pytest.fixture(scope="session")
def browser(playwright_here: Playwright) -> Iterator[Browser]:
    found = playwright_here.chromium.launch(executable_path=chromium(), args=FLAGS)
    yield found
    found.close()


@pytest.fixture(scope="session")
def page_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample plan's page on disk."""
    from fitplan.report.page.page import page_bytes
    from fitplan.report.sheets.printed_sheets import printed_sheets

    from .sample import sample_plan

    path = tmp_path_factory.mktemp("page") / "report.html"
    path.write_bytes(page_bytes(sample_plan(), references=printed_sheets(sample_plan())[1]))
    return path
