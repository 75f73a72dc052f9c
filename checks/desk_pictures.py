"""Makes the pictures of the desk in docs/: day, night and phone, on the practice band; a good and a bad example
of each instrument, as its legend shows them; evenings that were kept.

    desk_pictures.py PROGRAM

Legends and evenings are the same each time, byte for byte: invented signals, and bulletins made and copied with
given dates. The desk itself is live: its clock, and how far its instruments are when the copy has come to the
wanted words, are another each time.
"""

import os
import subprocess
import sys
import tempfile

from check_desk import chromium, desk, until

DOCS = os.path.join(os.path.dirname(__file__), "..", "docs")
BULLETIN = os.path.join(DOCS, "..", "demo", "bulletin.txt")
# Name, width, height, light, up to which words of its bulletin the copy has come.
PICTURES = [("desk-day", 1280, 980, "light", "YOUR PAPER"), ("desk-phone", 360, 900, "light", "NEW PUNCH"), ("desk-night", 1280, 980, "dark", "SUNDAY NET")]
# The bulletin on three nights: its number, date, strength in dB, seed.
NIGHTS = [(212, "2026-03-07", 12, 5), (213, "2026-03-14", 16, 9), (214, "2026-03-21", 14, 6)]
PATIENCE_S = 180


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


def nights(program, folder):
    """A shelf with the same bulletin of three nights, each with its own fading."""
    for number, date, es_n0, seed in NIGHTS:
        text, sound = os.path.join(folder, "bulletin.txt"), os.path.join(folder, f"{date}.wav")
        with open(BULLETIN) as bulletin, open(text, "w") as tonight:
            tonight.write(bulletin.read().replace("NR 214  21", f"NR {number}  {date[-2:]}"))
        made = ["air", "--file", text, "--begin", f"{date}T19:30:00Z", "--es-n0", str(es_n0), "--paths", "mid-latitude-moderate",
                "--lead", "2", "--seed", str(seed), "--out", sound]
        for words in (made, ["shelf", "--shelf", os.path.join(folder, "shelf"), "add", sound]):
            subprocess.run([program, *words], check=True, capture_output=True)
    return os.path.join(folder, "shelf")


def evenings(program, browser, folder):
    # Nobody listens: what is kept now would stand in the list with the time of now.
    with desk(program, "--shelf", nights(program, folder), practice=False, keep=True) as (_, address, _):
        page = browser.new_page(viewport={"width": 1280, "height": 760})
        page.goto(f"{address}evenings")
        until(page, "the list", "document.querySelectorAll('#list button').length > 0")
        page.click("#list button")
        until(page, "the evening", "document.querySelectorAll('#sheet .line').length > 3")
        page.wait_for_timeout(600)
        keep(lambda path: page.screenshot(path=path), "evenings-page")


def live(page):
    """The desk, each time when its copy has come to some words."""
    for name, width, height, light, words in PICTURES:
        until(page, words, "words => document.getElementById('sheet').textContent.includes(words)", PATIENCE_S, words)
        page.set_viewport_size({"width": width, "height": height})
        page.emulate_media(color_scheme=light)
        page.wait_for_timeout(1500)
        keep(lambda path: page.screenshot(path=path), name)


def main():
    program = sys.argv[1]
    with chromium() as browser, tempfile.TemporaryDirectory() as folder:
        with desk(program, keep=True) as (_, address, _):
            page = browser.new_page()
            page.goto(address)
            until(page, "the page", "document.getElementById('receiver').hidden === false")
            live(page)
            page.set_viewport_size({"width": 1280, "height": 980})
            page.emulate_media(color_scheme="light")
            legends(page)
            page.close()
        evenings(program, browser, folder)


if __name__ == "__main__":
    main()
