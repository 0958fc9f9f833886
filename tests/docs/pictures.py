"""Pictures of the page for the guides, made anew: ``python -m tests.docs.pictures``. It needs Chromium."""

from __future__ import annotations

import base64
import io
import shutil
import sys
import tempfile
from pathlib import Path

from PIL import Image
from tests.page.browser import DESK, PHONE, Browser, open_browser
from tests.page.conftest import BROWSERS
from tests.page.pages import ROOT, page_of

FOLDER = ROOT / "docs" / "pictures"
PHONE_SHOWN = 980
"""How much of the page on a telephone is shown [px]."""
COLOURS = 64
"""Colours of a picture: text, ink and a few greys."""


def main() -> int:
    """Write both pictures of the page of a scenario."""
    binary = next((found for found in map(shutil.which, BROWSERS) if found), None)
    driver = shutil.which("chromedriver")
    if binary is None or driver is None:
        print("no Chromium with its driver is installed", file=sys.stderr)
        return 1
    html = page_of("kitchen_books").html
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        profile, pages = Path(folder) / "profile", Path(folder)
        opened = open_browser(Path(binary), Path(driver), profile, pages)
        try:
            opened.show(html, PHONE)
            _keep(opened, "page_on_a_phone.png", (0, 0, PHONE[0], PHONE_SHOWN))
            opened.show(html, DESK)
            box = opened.run(
                "const one = [...document.querySelectorAll('.drawing')].find(one => one.offsetHeight);"
                "const box = one.getBoundingClientRect();"
                "return [box.left + scrollX, box.top + scrollY, box.width, box.height].map(Math.round);"
            )
            _keep(opened, "page_drawing.png", (box[0] - 8, box[1] - 8, box[2] + 16, box[3] + 16))
        finally:
            opened.driver.quit()
    return 0


def _keep(opened: Browser, name: str, box: tuple[int, int, int, int]) -> None:
    """Write what a box of the page shows: left, top, width and height [px]."""
    clip = dict(zip(("x", "y", "width", "height"), box, strict=True)) | {"scale": 1}
    taken = opened.driver.execute_cdp_cmd(
        "Page.captureScreenshot", {"clip": clip, "captureBeyondViewport": True}
    )
    picture = Image.open(io.BytesIO(base64.b64decode(taken["data"]))).convert("RGB")
    picture.quantize(COLOURS).save(FOLDER / name, optimize=True)


if __name__ == "__main__":
    sys.exit(main())
