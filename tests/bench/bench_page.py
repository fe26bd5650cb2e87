"""How long a page of a long train takes to open and to turn, in a real browser.

Run by hand, with a Chromium at hand: ``python -m tests.bench.bench_page [WAGONS WIRES]`` (13, 200).
Printed are the time from asking for the page until it can be turned, what a turn of 60 pictures takes on
the page's own thread, and how many things are drawn at once, beside how many there would be if every solid,
wire and sleeper were drawn by itself, as a plain export of the train to glTF does it. No GPU is asked
for: the pictures themselves are drawn in software here, and take what that takes.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

from playwright.sync_api import CDPSession, sync_playwright

from fitplan.model.plan import Plan
from fitplan.report.page.page import page_bytes
from tests.report.conftest import FLAGS
from tests.report.sample import sample_plan

TURNS = 60
TURN = "for (let i = 0; i < 60; i++) { fitplan.view().turn(0.05, 0); fitplan.view().render(); }"
SIZES = """() => { const v = fitplan.view(), info = v.renderer.info.render;
    v.render(); return [info.calls, info.triangles]; }"""
OPENED = "performance.getEntriesByType('navigation')[0].loadEventEnd"
"""The view stands before the page counts as loaded: its script runs in the page's own course."""


def long_plan(wagons: int, wires: int) -> Plan:
    """The sample train with so many more wagons, and its wires once more until there are enough."""
    plan = sample_plan(wagons=wagons)
    harness = plan.built.harness
    every = list(harness.wires)
    while len(every) < wires:
        every.append(replace(every[len(every) % len(harness.wires)], number=len(every) + 1))
    return replace(plan, built=replace(plan.built, harness=replace(harness, wires=tuple(every))))


def thread_seconds(meter: CDPSession) -> float:
    """How long the page's own thread has worked; what others do on the machine does not count."""
    told = meter.send("Performance.getMetrics")["metrics"]
    return float(next(entry["value"] for entry in told if entry["name"] == "TaskDuration"))


def main() -> None:
    wagons, wires = (int(text) for text in (sys.argv[1:] or ["13", "200"]))
    plan = long_plan(wagons, wires)
    train = plan.built.train
    alone = sum(len(p.part.envelope) + len(p.part.pins) for p in plan.built.placements)
    alone += sum(len(e.vehicle.body) + sum(len(b.solids) for b in e.vehicle.built_in) for e in train.vehicles)
    alone += sum(len(wire.legs) for wire in plan.built.harness.wires)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        path = Path(folder) / "report.html"
        path.write_bytes(page_bytes(plan))
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        meter = page.context.new_cdp_session(page)
        meter.send("Performance.enable", {"timeDomain": "threadTicks"})
        page.goto(path.as_uri())
        page.wait_for_function("window.fitplan && fitplan.live()")
        opened = page.evaluate(OPENED)
        worked = thread_seconds(meter)
        calls, triangles = page.evaluate(SIZES)
        before = thread_seconds(meter)
        page.evaluate(TURN)
        turn = (thread_seconds(meter) - before) / TURNS * 1000
        browser.close()
    print(f"{len(train.vehicles)} vehicles, {len(plan.built.harness.wires)} wires")
    print(f"opened after {opened / 1000:.2f} s, {worked:.2f} s of it work of its thread (wanted: 2 s)")
    print(f"a picture of a turn: {turn:.1f} ms on the page's own thread (smooth: 33 ms)")
    print(f"drawn at once: {calls} things, {triangles} triangles; singly {alone} ({alone / calls:.1f})")


if __name__ == "__main__":
    main()
