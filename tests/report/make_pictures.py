"""Makes the README's pictures of the demo: the page and two printed sheets.

Run from the top of the checkout, with a Chromium at hand::

    python tests/report/make_pictures.py            plans the demo first
    python tests/report/make_pictures.py plan.json  draws a plan that is there
"""

from __future__ import annotations

import io
import shutil
import sys
import tempfile
from pathlib import Path

import pypdfium2
from PIL import Image
from playwright.sync_api import sync_playwright

from fitplan.files.plan_json import read_plan
from fitplan.files.read import read_train
from fitplan.model.plan import Plan
from fitplan.planning.run import plan_train
from fitplan.report.page.page import page_bytes
from fitplan.report.sheets.printed_sheets import sheet_pages, sheets_bytes

DEMO = Path(__file__).resolve().parents[2] / "examples" / "harbour-line"
FOLDER = DEMO / "pictures"
FLAGS = ["--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
WIDTH = 1200


def main() -> None:
    plan = read_plan(Path(sys.argv[1])) if len(sys.argv) > 1 else plan_train(read_train(DEMO / "train.yaml"))
    FOLDER.mkdir(exist_ok=True)
    for name, picture in (*page_pictures(plan), *sheet_pictures(plan)):
        path = FOLDER / name
        picture.convert("RGB").save(path, optimize=True)
        print(path, path.stat().st_size)


def page_pictures(plan: Plan) -> list[tuple[str, Image.Image]]:
    places = [placement.part.family for placement in plan.built.placements]
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        path = Path(folder) / "report.html"
        path.write_bytes(page_bytes(plan))
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        page = browser.new_page(viewport={"width": WIDTH, "height": 900})
        page.emulate_media(reduced_motion="reduce", color_scheme="light")
        page.goto(path.as_uri())
        page.wait_for_function("window.fitplan && fitplan.live()")
        page.wait_for_timeout(400)
        head = Image.open(io.BytesIO(page.locator("header").screenshot()))
        page.evaluate("key => fitplan.choose(key)", f"part-{places.index('controller')}")
        page.click("button[data-look='three-quarter']")
        page.wait_for_timeout(400)
        view = Image.open(io.BytesIO(page.locator(".bench").screenshot()))
        browser.close()
    whole = Image.new("RGB", (WIDTH, head.height + view.height + 24), "#f3f1ea")
    whole.paste(head, ((WIDTH - head.width) // 2, 0))
    whole.paste(view, ((WIDTH - view.width) // 2, head.height + 8))
    return [("page.png", whole)]


def sheet_pictures(plan: Plan) -> list[tuple[str, Image.Image]]:
    """The sheet with the first layer that holds the controller, and the steps of assembly."""
    document = pypdfium2.PdfDocument(sheets_bytes(plan))
    titles = [page.title for page in sheet_pages(plan)]
    steps = next(i for i, title in enumerate(titles) if title == "Order of assembly")
    brain = next(p for p in plan.built.placements if p.part.family == "controller")
    layers = [i for i, title in enumerate(titles) if title.startswith(f"{brain.vehicle}, layer")]
    texts = {i: document[i].get_textpage().get_text_bounded() for i in layers}
    layer = next(i for i in layers if f"{brain.need}:" in texts[i])
    return [
        (name, document[i].render(scale=WIDTH / document[i].get_width()).to_pil())
        for name, i in (("sheet-layers.png", layer), ("sheet-steps.png", steps))
    ]


if __name__ == "__main__":
    main()
