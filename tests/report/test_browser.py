"""The report page in a real browser: what it draws, that it can be used, and that it keeps to itself."""

from __future__ import annotations

import importlib.util
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from fitplan.model.plan import Plan
from fitplan.report.drawings.ghosts import ghosts_of
from fitplan.report.lists.build_sequence import build_sequence
from fitplan.report.page.page import page_bytes
from tests.conftest import Planned

from .conftest import FLAGS, chromium
from .sample import HOSTILE, broken_plan, refused_plan, sample_plan

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, Playwright

pytestmark = pytest.mark.browser


@contextmanager
def opened(
    browser: Browser, path: Path, live: bool = True, **options: Any
) -> Iterator[tuple[Page, list[str]]]:
    """Open the page and gather everything that it complains about or asks for."""
    context = browser.new_context(
        viewport=options.pop("viewport", {"width": 1000, "height": 640}), reduced_motion="reduce", **options
    )
    page = context.new_page()
    trouble: list[str] = []
    page.on("console", lambda message: trouble.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: trouble.append(str(error)))
    page.on("dialog", lambda dialog: trouble.append(f"dialog {dialog.message}"))
    page.on("request", lambda request: trouble.append(request.url) if is_outside(request.url) else None)
    page.goto(path.as_uri())
    if live:
        page.wait_for_function("window.fitplan && fitplan.live()")
        settle(page)
    yield page, trouble
    context.close()


def is_outside(address: str) -> bool:
    return not address.startswith(("file:", "data:"))


def settle(page: Page) -> None:
    page.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")


def until(page: Page, expression: str) -> None:
    """Wait for something to become true; the page's own policy lets no text run later by itself."""
    for _ in range(100):
        if page.evaluate(expression):
            return
        page.wait_for_timeout(50)
    raise AssertionError(expression)


def pixels(page: Page) -> bytes:
    """What the view shows, as the bytes of its picture."""
    settle(page)
    found: str = page.evaluate("fitplan.render(), document.querySelector('#stage canvas').toDataURL()")
    return found.encode()


def slide(page: Page, name: str, value: float) -> None:
    page.evaluate(
        "([id, value]) => { const s = document.getElementById(id); s.value = value;"
        " s.dispatchEvent(new Event('input')); }",
        [name, value],
    )


WIRES = "#harness [aria-label='Wires']"


def chosen(page: Page) -> str | None:
    found: str | None = page.evaluate("fitplan.chosen()")
    return found


def test_view_draws_the_train_and_follows_the_sliders(browser: Browser, page_file: Path) -> None:
    """The view is not blank; lifting layers, cutting and taking apart each change it, and back again."""
    with opened(browser, page_file) as (page, trouble):
        colours = page.evaluate(
            """() => { fitplan.render(); const c = document.querySelector('#stage canvas');
            const flat = document.createElement('canvas'); flat.width = c.width; flat.height = c.height;
            const two = flat.getContext('2d'); two.drawImage(c, 0, 0);
            const d = two.getImageData(0, 0, c.width, c.height).data, seen = new Set();
            for (let i = 0; i < d.length; i += 4)
                if (d[i + 3] > 0) seen.add(d[i] << 16 | d[i + 1] << 8 | d[i + 2]);
            return seen.size; }"""
        )
        assert colours > 50
        whole = pixels(page)
        slide(page, "layers", 4)
        lifted = pixels(page)
        assert lifted != whole
        assert "4 of" in page.inner_text("#layers-says")
        slide(page, "layers", 8)
        assert pixels(page) not in (whole, lifted)
        slide(page, "layers", 0)
        assert pixels(page) == whole
        page.select_option("#cut-axis", "y")
        cut = pixels(page)
        assert cut != whole
        page.select_option("#cut-axis", "none")
        for _lid_and_run in range(2):
            page.click("button[data-step='-1']")
        assert pixels(page) != whole
        assert page.inner_text("#build-says").startswith("step ")
        for _lid_and_run in range(2):
            page.click("button[data-step='1']")
        assert pixels(page) == whole
        assert page.inner_text("#build-says") == "all built in"
        assert trouble == []


def test_rows_choose_things_and_the_picture_chooses_rows(browser: Browser, page_file: Path) -> None:
    """A row marks its part in picture, list and drawings; a click in the picture marks the row."""
    with opened(browser, page_file) as (page, trouble):
        before = pixels(page)
        page.locator("#parts tr[data-key='part-0'] td:nth-child(3)").click()
        assert chosen(page) == "part-0"
        assert pixels(page) != before
        assert page.locator("#finder li.chosen").get_attribute("data-key") == "part-0"
        assert "cells" in page.inner_text("#chosen-name")
        page.evaluate("fitplan.choose(null)")
        assert page.locator(".chosen").count() == 0
        # the view still looks at the middle of that part: a click there picks it
        stage = page.locator("#stage")
        stage.scroll_into_view_if_needed()
        box = stage.bounding_box()
        assert box is not None
        page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        assert chosen(page) == "part-0"
        assert page.locator("#parts tr.chosen").get_attribute("data-key") == "part-0"
        page.locator(f"{WIRES} tr[data-key='wire-3'] button.find").click()
        assert chosen(page) == "wire-3"
        assert page.locator(f"{WIRES} tr.chosen").count() == 1
        assert page.locator("#harness g.chosen").count() == 1
        page.keyboard.press("Escape")
        assert chosen(page) is None
        assert trouble == []


def test_view_is_used_by_keyboard(browser: Browser, page_file: Path) -> None:
    """Five stops reach the view's buttons; arrows turn, plus and minus zoom, Enter chooses a list entry."""
    with opened(browser, page_file) as (page, trouble):
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.className") == "skip"
        page.keyboard.press("Enter")
        reached = []
        for _stop in range(4):
            page.keyboard.press("Tab")
            reached.append(page.evaluate("document.activeElement.dataset.look || document.activeElement.id"))
        assert "three-quarter" in reached
        page.focus("#stage")
        shots = [pixels(page)]
        for key in ("ArrowRight", "ArrowUp", "+", "-"):
            page.keyboard.press(key)
            shots.append(pixels(page))
        assert len({shots[0], shots[1], shots[2], shots[3]}) == 4
        page.focus("#finder li[data-key='part-1'] button")
        page.keyboard.press("Enter")
        assert chosen(page) == "part-1"
        assert page.get_attribute("#finder li[data-key='part-1'] button", "aria-pressed") == "true"
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.closest('li').dataset.key") == "part-2"
        assert trouble == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_serious_accessibility_fault(browser: Browser, page_file: Path, scheme: str) -> None:
    """Axe-core finds nothing serious or critical, in light, in dark and printed (rules after WCAG 2, W3C).

    The ground follows the scheme; printed, it is black on white whatever the scheme, without names in the air
    and without tables that are cut off.
    """
    spec = importlib.util.find_spec("axe_playwright_python")
    if spec is None or not spec.submodule_search_locations:
        pytest.skip("axe-playwright-python, which carries axe-core, is not installed")
    source = (Path(spec.submodule_search_locations[0]) / "axe.min.js").read_text(encoding="utf-8")
    with opened(browser, page_file, color_scheme=scheme) as (page, _):
        page.evaluate("fitplan.choose('part-1')")
        page.evaluate(f"(() => {{ {source}; }})()")
        assert serious_faults(page, "{resultTypes: ['violations']}") == []
        ground = rgb(page.evaluate("getComputedStyle(document.body).backgroundColor"))
        assert min(ground) > 200 if scheme == "light" else max(ground) < 60
        if scheme == "light":
            return
        page.emulate_media(media="print", color_scheme="dark")
        assert rgb(page.evaluate("getComputedStyle(document.body).color")) == [0, 0, 0]
        card = "getComputedStyle(document.documentElement).getPropertyValue('--card')"
        assert page.evaluate(card) == "#fff"
        assert serious_faults(page, "{runOnly: ['color-contrast']}") == []
        assert page.locator(".tag:visible, .grip:visible, #view-tools:visible, aside:visible").count() == 0
        hidden = "e => getComputedStyle(e).overflow !== 'visible'"
        assert page.evaluate(f"[...document.querySelectorAll('.scroll')].filter({hidden}).length") == 0


def serious_faults(page: Page, options: str) -> list[Any]:
    result = page.evaluate(f"axe.run(document, {options})")
    return [
        (fault["id"], [node["target"] for node in fault["nodes"]][:4])
        for fault in result["violations"]
        if fault["impact"] in {"serious", "critical"}
    ]


def rgb(colour: str) -> list[int]:
    return [int(value) for value in re.findall(r"\d+", colour)[:3]]


def test_page_works_on_a_narrow_telephone(browser: Browser, page_file: Path) -> None:
    """At 360 px nothing sticks out, the picture comes before all tables, a touch on an entry chooses it."""
    with opened(browser, page_file, viewport={"width": 360, "height": 740}, has_touch=True) as (
        page,
        trouble,
    ):
        assert page.evaluate("document.documentElement.scrollWidth") <= 360
        first = page.evaluate(
            "[...document.querySelectorAll('table')].map(t => t.getBoundingClientRect())"
            ".filter(r => r.height > 0)[0].top"
        )
        box = page.locator("#stage").bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= first
        assert box["y"] < 740
        before = pixels(page)
        page.tap("#finder li[data-key='part-2'] button")
        assert chosen(page) == "part-2"
        assert pixels(page) != before
        small = page.evaluate(
            """() => [...document.querySelectorAll('#view-tools button, #view-tools input[type=range]')]
            .filter(e => e.getBoundingClientRect().height < 24).length"""
        )
        assert small == 0
        assert trouble == []


def test_without_scripts_the_flat_drawings_and_tables_remain(browser: Browser, page_file: Path) -> None:
    """With scripts off both drawings and every table are shown, and the page says what is missing."""
    with opened(browser, page_file, live=False, java_script_enabled=False) as (page, trouble):
        assert page.locator("#flat svg").first.is_visible()
        assert page.locator("noscript").count() == 1
        assert page.locator("#view-tools").is_hidden()
        assert page.locator("#harness table").first.is_visible()
        assert trouble == []


def test_without_webgl_the_flat_drawings_remain(playwright_here: Playwright, page_file: Path) -> None:
    """Where the browser cannot draw in space, the flat drawings stay and rows can still be chosen."""
    flags = [flag for flag in FLAGS if "gl" not in flag and "swiftshader" not in flag]
    browser = playwright_here.chromium.launch(executable_path=chromium(), args=[*flags, "--disable-3d-apis"])
    with opened(browser, page_file, live=False) as (page, _):
        page.wait_for_function("window.fitplan !== undefined")
        assert page.evaluate("fitplan.live()") is False
        assert page.locator("#flat svg").first.is_visible()
        assert "cannot draw" in page.inner_text("#stage-note")
        page.locator("#finder li[data-key='part-1'] button").click()
        assert page.locator("#flat g.chosen").count() == 2
    browser.close()


@pytest.mark.parametrize("name", ["".join(HOSTILE), HOSTILE[0], HOSTILE[2]], ids=["all", "script", "quotes"])
def test_hostile_names_never_run(browser: Browser, tmp_path: Path, name: str) -> None:
    """No name starts a script, opens a dialog, breaks the view or widens the page."""
    path = tmp_path / "hostile.html"
    path.write_bytes(page_bytes(broken_plan(name)))
    with opened(browser, path) as (page, trouble):
        page.locator("#parts tr[data-key='part-1'] button.find").click()
        assert chosen(page) == "part-1"
        assert page.inner_text("#chosen-name").startswith("2 brain")
        assert page.evaluate("document.documentElement.scrollWidth") <= 1000
        assert trouble == []


@pytest.mark.parametrize("wordy", [False, True], ids=["short", "wordy"])
@pytest.mark.parametrize(("width", "height"), [(1440, 900), (1024, 768)])
def test_verdict_picture_and_controls_are_on_the_first_screen(
    browser: Browser, page_file: Path, tmp_path: Path, width: int, height: int, wordy: bool
) -> None:
    """Without scrolling: the verdict, however long, what to do, the whole picture, every control under it."""
    path = page_file
    if wordy:
        plan, path = sample_plan(), tmp_path / "wordy.html"
        path.write_bytes(
            page_bytes(replace(plan, unplaced=(("brain", "it is in the way of all else " * 12),)))
        )
    with opened(browser, path, viewport={"width": width, "height": height}) as (page, trouble):
        for part in (".verdict", ".todo", "#stage", "#view-tools"):
            box = page.locator(part).bounding_box()
            assert box is not None
            assert box["y"] >= 0
            assert box["y"] + box["height"] <= height, part
            assert box["x"] + box["width"] <= width, part
        stage = page.locator("#stage").bounding_box()
        assert stage is not None
        assert stage["height"] >= (0.3 if wordy else 0.4) * height
        assert trouble == []


def test_the_wheel_scrolls_the_page_until_the_picture_is_chosen(browser: Browser, page_file: Path) -> None:
    """Over the picture the wheel moves the page; after a click into it the picture; then the page again."""
    with opened(browser, page_file) as (page, trouble):
        before = pixels(page)
        box = page.locator("#stage").bounding_box()
        assert box is not None
        middle = (box["x"] + 40, box["y"] + 40)
        page.mouse.move(*middle)
        page.mouse.wheel(0, 60)
        until(page, "window.scrollY > 0")
        assert pixels(page) == before
        page.evaluate("window.scrollTo(0, 0)")
        until(page, "window.scrollY === 0")
        page.mouse.click(*middle)
        page.mouse.wheel(0, 60)
        page.wait_for_timeout(150)
        assert page.evaluate("window.scrollY") == 0
        assert pixels(page) != before
        page.locator("h1").click()
        page.mouse.move(*middle)
        page.mouse.wheel(0, 60)
        until(page, "window.scrollY > 0")
        assert trouble == []


def test_a_wire_and_its_net_are_followed(browser: Browser, page_file: Path) -> None:
    """A chosen wire changes the picture; its net marks all of its wires, in list, tables and drawing."""
    with opened(browser, page_file) as (page, trouble):
        shots = [pixels(page)]
        page.evaluate("fitplan.choose('wire-3')")
        shots.append(pixels(page))
        page.locator("#chosen-net button").click()
        net = chosen(page)
        assert net is not None
        assert net.startswith("net-")
        shots.append(pixels(page))
        assert len(set(shots)) == 3
        rows = page.locator(f"{WIRES} tr.chosen")
        assert rows.count() > 1
        nets = {row.inner_text().split("\t")[2] for row in rows.all()}
        assert len(nets) == 1
        assert page.locator("#finder li.chosen").count() == rows.count()
        page.keyboard.press("Escape")
        assert chosen(page) is None
        assert page.locator(".chosen").count() == 0
        # what to do leads to its finding; a finding about a part shows the part in the picture
        page.locator(".todo a").first.click()
        until(page, "location.hash === '#finding-1'")
        assert page.locator("#finding-1").count() == 1
        shown = page.locator(".findings li[data-key] button.find")
        if shown.count():
            key = page.locator(".findings li[data-key]").first.get_attribute("data-key")
            shown.first.click()
            assert chosen(page) == key
        assert trouble == []


BLUE = """() => { fitplan.render(); const c = document.querySelector('#stage canvas');
    const flat = document.createElement('canvas'); flat.width = c.width; flat.height = c.height;
    const two = flat.getContext('2d'); two.drawImage(c, 0, 0);
    const d = two.getImageData(0, 0, c.width, c.height).data; let seen = 0;
    for (let i = 0; i < d.length; i += 4) if (d[i + 2] > d[i] + 60 && d[i + 2] > d[i + 1] + 30) seen++;
    return seen; }"""
"""How many pixels of the view are blue."""


def test_a_wire_is_followed_through_couplings_and_from_its_ends(browser: Browser, page_file: Path) -> None:
    """A wire is shown with what is one line with it, in its own colour, and leads to its parts and back."""
    with opened(browser, page_file) as (page, trouble):
        before = page.evaluate(BLUE)
        page.locator(f"{WIRES} tr[data-key='wire-20']").locator("td").nth(1).click()
        assert page.evaluate(BLUE) > before + 150
        rows = page.locator(f"{WIRES} tr.chosen")
        assert [row.get_attribute("data-key") for row in rows.all()] == ["wire-20", "wire-21", "wire-22"]
        assert page.locator("#harness g.chosen").count() == 3
        said = set(page.locator(".tag.end:visible").all_text_contents())
        assert said
        assert said <= {"20 BU", "21 BU", "22 BU"}
        page.locator("#chosen-links button", has_text="brain.D4").click()
        assert "brain" in page.inner_text("#chosen-name")
        page.locator("#chosen-links button", has_text="20 BU").click()
        assert chosen(page) == "wire-20"
        page.locator("#chosen-links button", has_text="on as wire 21").click()
        assert chosen(page) == "wire-21"
        # to the sheets that show it, and from a sheet back
        sheets = {link.get_attribute("href") for link in page.locator("#chosen-sheets a").all()}
        rows = page.locator("tr.chosen[data-sheet]")
        assert sheets == {f"sheets.pdf#page={row.get_attribute('data-sheet')}" for row in rows.all()}
        assert sheets
        rows.first.locator("button[data-key='wire-20']").click()
        assert chosen(page) == "wire-20"
        until(page, "document.getElementById('picture').getBoundingClientRect().top < 300")
        assert trouble == []


def test_the_address_keeps_what_is_seen(browser: Browser, page_file: Path) -> None:
    """View, chosen thing, layers, cut and steps stand in the address, and opening it shows the same."""
    with opened(browser, page_file) as (page, _):
        page.click("button[data-look='side']")
        page.evaluate("fitplan.choose('part-1')")
        slide(page, "layers", 2)
        slide(page, "build", 1)
        page.select_option("#cut-axis", "y")
        address = page.evaluate("location.hash")
    assert address.startswith("#view?")
    with opened(browser, page_file, live=False) as (page, trouble):
        page.goto(page_file.as_uri() + address)
        page.wait_for_function("window.fitplan && fitplan.live()")
        settle(page)
        assert chosen(page) == "part-1"
        assert page.input_value("#layers") == "2"
        assert page.input_value("#build") == "1"
        assert page.input_value("#cut-axis") == "y"
        assert page.input_value("#cut-mm") == "0"
        assert trouble == []


SIZES = ((1440, 900), (1024, 768), (390, 844))
TAGS = """() => [...document.querySelectorAll('.tag:not([hidden])')].filter(t => t.offsetWidth)
    .map(t => t.getBoundingClientRect()).map(r => [r.left, r.top, r.right, r.bottom])"""


LABELLED = ("harbour-line", "clay-run", "market-tram", "narrow-crane-wagon", "long")
LOOKS = ("three-quarter", "above", "front")


@pytest.mark.parametrize("example", LABELLED)
def test_no_label_covers_another(browser: Browser, tmp_path: Path, planned: Planned, example: str) -> None:
    """Four examples and a long train, three sizes, each with another view: names lie apart and inside.

    Which view goes with which size moves on from train to train, so each pair is looked at.
    """
    plan = sample_plan(wagons=4) if example == "long" else planned(example)
    path = tmp_path / "report.html"
    path.write_bytes(page_bytes(plan))
    with opened(browser, path) as (page, trouble):
        page.check("input[data-show='sizes']")
        for number, (width, height) in enumerate(SIZES, LABELLED.index(example)):
            look = LOOKS[number % len(LOOKS)]
            page.set_viewport_size({"width": width, "height": height})
            page.click(f"button[data-look='{look}']")
            slide(page, "explode", 60 if look == "front" else 0)
            settle(page)
            stage = page.locator("#stage").bounding_box()
            assert stage is not None
            boxes = page.evaluate(TAGS)
            assert boxes
            for place, one in enumerate(boxes):
                assert one[0] >= stage["x"] - 0.5
                assert one[2] <= stage["x"] + stage["width"] + 0.5
                for other in boxes[place + 1 :]:
                    apart = (
                        one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
                    )
                    assert apart, (look, one, other)
        assert trouble == []


SEEN = """keys => keys.filter(key => { let t = fitplan.view().things.all.get(key).home;
    for (; t; t = t.parent) if (!t.visible) return false; return true; })"""
"""Which of some things are to be seen in the view."""


def test_the_train_is_built_forwards_and_ticks_are_kept(browser: Browser, page_file: Path) -> None:
    """Parts come in one after another, wires only when their ends are there, lids stand open meanwhile."""
    plan = sample_plan()
    steps = build_sequence(plan)
    parts = [placement.need for placement in plan.built.placements]
    with opened(browser, page_file) as (page, trouble):
        assert int(page.get_attribute("#build", "max") or 0) == len(steps)
        every = [f"part-{i}" for i in range(len(parts))]
        every += [f"wire-{wire.number}" for wire in plan.built.harness.wires]
        for done in (0, 1, len(steps) // 2, len(steps)):
            slide(page, "build", done)
            here = {f"part-{parts.index(need)}" for step in steps[:done] for need in step.needs}
            here |= {f"wire-{number}" for step in steps[:done] for number in step.wires}
            assert set(page.evaluate(SEEN, every)) == here
        first = next(step for step in steps if step.kind == "part")
        key = f"part-{parts.index(first.needs[0])}"
        away = f"fitplan.view().things.all.get('{key}').home.position.length()"
        slide(page, "build", first.number - 0.6)
        assert page.evaluate(away) > 1
        lifted = "fitplan.view().stock.layers.filter(one => one.lifted).length"
        assert (page.evaluate(lifted) > 0) == (first.lift is not None)
        slide(page, "build", first.number)
        assert page.evaluate(away) == 0
        slide(page, "build", len(steps))
        assert page.evaluate(lifted) == 0
        slide(page, "explode", 100)
        assert page.evaluate(away) > 1
        slide(page, "explode", 0)
        page.check("#ticks input[data-tick='2']")
        page.reload()
        page.wait_for_function("window.fitplan && fitplan.live()")
        assert page.is_checked("#ticks input[data-tick='2']")
        assert page.inner_text("#ticks-says") == f"1 of {len(steps)} done"
        page.click("#ticks [data-go='2']")
        assert page.inner_text("#build-says").startswith(f"step 2 of {len(steps)}")
        assert trouble == []


def test_a_cut_is_closed_drawn_and_told_in_millimetres(browser: Browser, page_file: Path) -> None:
    """The faces of a level cut have the area of the bricks there; the grip draws the plane."""
    plan = sample_plan()
    with opened(browser, page_file) as (page, trouble):
        page.select_option("#cut-axis", "z")
        page.fill("#cut-mm", "25")
        area = page.evaluate(
            """() => { const v = fitplan.view(); let sum = 0;
            for (const cap of v.section.caps) { if (cap.material !== v.paints.cap) continue;
                const p = cap.geometry.getAttribute('position').array;
                for (let i = 0; i < p.length; i += 9) sum += Math.abs((p[i+3]-p[i]) * (p[i+7]-p[i+1])
                    - (p[i+6]-p[i]) * (p[i+4]-p[i+1])) / 2; }
            return sum; }"""
        )
        assert area == pytest.approx(brick_area(plan, 24.8), rel=1e-3)
        settle(page)
        box = page.locator(".grip").bounding_box()
        assert box is not None
        assert page.inner_text(".grip") == "25.0 mm"
        page.mouse.move(box["x"] + 20, box["y"] + 10)
        page.mouse.down()
        page.mouse.move(box["x"] + 20, box["y"] - 20, steps=3)
        page.mouse.up()
        assert float(page.input_value("#cut-mm")) > 26
        page.select_option("#vehicle", "1")
        assert page.evaluate("fitplan.view().stock.homes.map(home => home.visible)") == [False, True, False]
        page.select_option("#vehicle", "")
        page.select_option("#cut-axis", "none")
        track = pixels(page)
        page.uncheck("input[data-show='track']")
        assert pixels(page) != track
        assert trouble == []


def brick_area(plan: Plan, height: float) -> float:
    """Area in mm² of the fixed bricks of all vehicles at a height, counted on points 0.5 mm apart."""
    area = 0.0
    for entry in plan.built.train.vehicles:
        xs = np.arange(0.25, entry.vehicle.length, 0.5)
        ys = np.arange(0.25, entry.vehicle.width, 0.5)
        solid = np.zeros((len(xs), len(ys)), bool)
        for body in entry.vehicle.body:
            low, high = body.solid.bounds.low, body.solid.bounds.high
            if low[2] < height < high[2]:
                here = np.outer((low[0] < xs) & (xs < high[0]), (low[1] < ys) & (ys < high[1]))
                solid[here] = body.state == "fixed"
        for built_in in entry.vehicle.built_in:
            for one in built_in.solids:
                low, high = one.bounds.low, one.bounds.high
                if low[2] < height < high[2]:
                    solid[np.outer((low[0] < xs) & (xs < high[0]), (low[1] < ys) & (ys < high[1]))] = False
        area += float(solid.sum()) * 0.25
    return area


def test_sizes_and_distances_are_told(browser: Browser, page_file: Path) -> None:
    """The chosen part's size stands at dimension lines; two points give their distance; hovering names."""
    box = sample_plan().built.placements[0].bounds
    with opened(browser, page_file, viewport={"width": 1440, "height": 900}) as (page, trouble):
        page.evaluate("fitplan.choose('part-0')")
        page.check("input[data-show='sizes']")
        settle(page)
        told = page.locator(".tag.dim").all_text_contents()
        for size, word in zip(box.size, ("long", "wide", "high"), strict=True):
            assert f"{size:.1f} mm {word}" in told
        stage = page.locator("#stage").bounding_box()
        assert stage is not None
        middle = (stage["x"] + stage["width"] / 2, stage["y"] + stage["height"] / 2)
        page.mouse.move(*middle)
        settle(page)
        assert "cells" in page.inner_text(".tag.hover")
        page.click("#measure")
        page.mouse.click(*middle)
        assert page.inner_text("#measure-says") == "point at the other end"
        page.mouse.click(middle[0] + 30, middle[1])
        assert re.match(r"[\d.]+ mm: [\d.]+ long, [\d.]+ wide, [\d.]+ high", page.inner_text("#measure-says"))
        page.keyboard.press("Escape")
        assert page.inner_text("#measure-says") == ""
        assert trouble == []


def test_what_cannot_fit_is_seen(browser: Browser, tmp_path: Path) -> None:
    """A part without a place is a ghost in the room for it, with what is short; a table says the same."""
    plan = refused_plan()
    (ghost,) = ghosts_of(plan)
    path = tmp_path / "refused.html"
    path.write_bytes(page_bytes(plan))
    with opened(browser, path, viewport={"width": 1440, "height": 900}) as (page, trouble):
        told = page.locator(".tag.short").all_text_contents()
        for short, word in zip(ghost.short, ("long", "wide", "high"), strict=True):
            assert any(text.startswith(f"{short:.1f} mm too {word}") for text in told) == (short > 0)
        page.locator("#finder li[data-key='ghost-0'] button").click()
        assert chosen(page) == "ghost-0"
        assert "short" in page.inner_text("#chosen-detail")
        assert page.locator("#fit [data-key='ghost-0'] table").count() == 1
        assert trouble == []
