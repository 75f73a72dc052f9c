"""Makes the pictures of the desk in docs/: day, night and phone, on the practice band; a good and a bad example
of each instrument, as its legend shows them; an evening that was kept.

    desk_pictures.py PROGRAM
"""

import os
import sys
import tempfile

from check_desk import chromium, desk, until

DOCS = os.path.join(os.path.dirname(__file__), "..", "docs")
# Name, width, height, light, seconds of copy before it.
PICTURES = [("desk-day", 1280, 980, "light", 26), ("desk-phone", 360, 900, "light", 2), ("desk-night", 1280, 980, "dark", 2)]


def smaller(path, to, colours=200):
    """Writes a picture with few colours: half of the bytes, and looks the same."""
    from PIL import Image

    Image.open(path).convert("RGB").quantize(colours, dither=Image.Dither.NONE).save(to, optimize=True)


def keep(shot, name, colours=200):
    """Takes a picture, `shot(path)`, into docs/ by its name."""
    with tempfile.NamedTemporaryFile(suffix=".png") as file:
        shot(file.name)
        smaller(file.name, os.path.join(DOCS, f"{name}.png"), colours)


def legends(page):
    for name in page.evaluate("[...document.querySelectorAll('[data-legend]')].map(b => b.dataset.legend)"):
        page.click(f"[data-legend={name}]")
        page.wait_for_timeout(600)
        keep(lambda path: page.locator("#legend .examples").screenshot(path=path), f"legend-{name}", 48)
        page.keyboard.press("Escape")


def evening(page):
    page.set_viewport_size({"width": 1280, "height": 760})
    page.emulate_media(color_scheme="light")
    page.click("#to-evenings")
    until(page, "the evening", "document.querySelectorAll('#sheet .line').length > 3")
    page.wait_for_timeout(600)
    keep(lambda path: page.screenshot(path=path), "evenings-page")


def main():
    with desk(sys.argv[1], keep=True) as (_, address, _), chromium() as browser:
        page = browser.new_page()
        page.goto(address)
        until(page, "the page", "document.getElementById('receiver').hidden === false")
        page.wait_for_timeout(600)
        for name, width, height, light, seconds in PICTURES:
            page.set_viewport_size({"width": width, "height": height})
            page.emulate_media(color_scheme=light)
            page.wait_for_timeout(1000 * seconds)
            keep(lambda path: page.screenshot(path=path), name)
        page.set_viewport_size({"width": 1280, "height": 980})
        page.emulate_media(color_scheme="light")
        legends(page)
        evening(page)


if __name__ == "__main__":
    main()
