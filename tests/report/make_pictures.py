"""Makes the README's pictures: the page of two examples as it opens, and two printed sheets of the demo.

Run from the top of the checkout, with a Chromium at hand::

    python tests/report/make_pictures.py
"""

from __future__ import annotations

import io
import shutil
import tempfile
from pathlib import Path

import pypdfium2
from PIL import Image
from playwright.sync_api import sync_playwright

from fitplan.files.read import read_train
from fitplan.model.plan import Plan
from fitplan.planning.run import plan_train
from fitplan.report.page.page import page_bytes
from fitplan.report.sheets.printed_sheets import printed_sheets, sheet_pages

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
FLAGS = ["--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
WIDTH, HEIGHT = 1200, 780


def main() -> None:
    for example in ("harbour-line", "clay-run"):
        plan = plan_train(read_train(EXAMPLES / example / "train.yaml"))
        folder = EXAMPLES / example / "pictures"
        folder.mkdir(exist_ok=True)
        sheets = sheet_pictures(plan) if example == "harbour-line" else []
        for name, picture in (("page.png", page_picture(plan)), *sheets):
            path = folder / name
            picture.convert("RGB").save(path, optimize=True)
            print(path, path.stat().st_size)


def page_picture(plan: Plan) -> Image.Image:
    """The page as it opens, with the controller chosen."""
    families = [placement.part.family for placement in plan.built.placements]
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        path = Path(folder) / "report.html"
        path.write_bytes(page_bytes(plan))
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        page = browser.new_page(viewport={"width": WIDTH, "height": HEIGHT})
        page.emulate_media(reduced_motion="reduce", color_scheme="light")
        page.goto(path.as_uri())
        page.wait_for_function("window.fitplan && fitplan.live()")
        page.evaluate("key => fitplan.choose(key)", f"part-{families.index('controller')}")
        page.click("button[data-look='three-quarter']")
        page.wait_for_timeout(400)
        picture = Image.open(io.BytesIO(page.screenshot()))
        browser.close()
    return picture


def sheet_pictures(plan: Plan) -> list[tuple[str, Image.Image]]:
    """The sheet with the first layer that holds the controller, and the steps of assembly."""
    document = pypdfium2.PdfDocument(printed_sheets(plan)[0])
    titles = [page.title for page in sheet_pages(plan)]
    pages = [i for i, title in enumerate(titles) if title == "Order of assembly"]
    brain = next(p for p in plan.built.placements if p.part.family == "controller")
    layers = [i for i, title in enumerate(titles) if title.startswith(f"{brain.vehicle}, layer")]
    texts = {i: document[i].get_textpage().get_text_bounded() for i in layers}
    steps = next(i for i in pages if brain.vehicle in document[i].get_textpage().get_text_bounded())
    layer = next(i for i in layers if f"{brain.need}:" in texts[i])
    return [
        (name, document[i].render(scale=WIDTH / document[i].get_width()).to_pil())
        for name, i in (("sheet-layers.png", layer), ("sheet-steps.png", steps))
    ]


if __name__ == "__main__":
    main()
