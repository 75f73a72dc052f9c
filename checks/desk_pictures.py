"""Makes the pictures of the desk in docs/: day, night and phone, on the practice band.

    desk_pictures.py PROGRAM
"""

import os
import sys
import tempfile

from check_desk import CHROMIUM, desk, until

DOCS = os.path.join(os.path.dirname(__file__), "..", "docs")
# Name, width, height, light, seconds of copy before it.
PICTURES = [("desk-day", 1280, 980, "light", 26), ("desk-phone", 360, 900, "light", 2), ("desk-night", 1280, 980, "dark", 2)]


def smaller(path, to):
    """Writes a picture with 200 colours: half of the bytes, and looks the same."""
    from PIL import Image

    Image.open(path).convert("RGB").quantize(200, dither=Image.Dither.NONE).save(to, optimize=True)


def main():
    from playwright.sync_api import sync_playwright

    with desk(sys.argv[1]) as (_, address, _), sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        page = browser.new_page()
        page.goto(address)
        until(page, "the page", "document.getElementById('receiver').hidden === false")
        page.wait_for_timeout(600)
        for name, width, height, light, seconds in PICTURES:
            page.set_viewport_size({"width": width, "height": height})
            page.emulate_media(color_scheme=light)
            page.wait_for_timeout(1000 * seconds)
            with tempfile.NamedTemporaryFile(suffix=".png") as file:
                page.screenshot(path=file.name)
                smaller(file.name, os.path.join(DOCS, f"{name}.png"))
        browser.close()


if __name__ == "__main__":
    main()
