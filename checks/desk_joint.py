"""Evenings joined in the page, in a real browser: marked, joined, read; the same as the command says."""

import re
import subprocess
import tempfile

from check_desk import desk, say, until
from desk_evenings import check_access

BULLETIN = """LOW MARSH BULLETIN NR {nr}
THE NET WILL BE HEARD ON 3595 KHZ AND ALL MEMBERS ARE ASKED TO LISTEN
THE PRINTER WAS REPAIRED BY OUR SECRETARY
"""
OTHER = "CQ CQ DE Q1ABC Q1ABC GOOD EVENING AND WHAT A STORM WE HAVE HAD\n"
# Text and Es/N0, dB, of each night.
NIGHTS = [(BULLETIN.format(nr=117), 5), (BULLETIN.format(nr=118), 9), (OTHER, 12)]


def kept(binary, folder):
    """A shelf with these nights."""
    for night, (text, es_n0) in enumerate(NIGHTS, 1):
        sound = f"{folder}/{night}.wav"
        begin = f"2026-03-2{night}T19:30:00Z"
        made = [binary, "air", text, "--es-n0", str(es_n0), "--seed", str(night), "--lead", "2", "--begin", begin, "--out", sound]
        subprocess.run(made, check=True, capture_output=True)
        add = [binary, "shelf", "--shelf", f"{folder}/shelf", "add", sound, "--language", "off", "--strongest"]
        subprocess.run(add, check=True, capture_output=True)
    return f"{folder}/shelf"


def checks(report, browser, binary):
    with tempfile.TemporaryDirectory() as folder:
        shelf = kept(binary, folder)
        with desk(binary, "--shelf", shelf, practice=False, keep=True) as (_, address, _):
            page = browser.new_page(viewport={"width": 1280, "height": 900})
            wrong = []
            page.on("pageerror", lambda error: wrong.append(str(error)))
            page.goto(f"{address}evenings")
            until(page, "the list", "document.querySelectorAll('#list .mark').length >= 3", 10)
            check_joined(report, page, binary, shelf)
            check_looked_at(report, page)
            check_access(report, page)
            check_apart(report, page)
            report.check("joined: nothing wrong in the browser", not wrong, "; ".join(wrong))
            page.close()


def mark(page, *evenings):
    for evening in (1, 2, 3):
        page.set_checked(f"[aria-label='Mark evening {evening}']", evening in evenings)


def check_joined(report, page, binary, shelf):
    mark(page, 1)
    alone = page.is_disabled("#join")
    mark(page, 1, 2)
    page.click("#join")
    joined = until(page, "the joint copy", "document.querySelector('#sheet .variant') !== null", 20)
    report.check("joined: two evenings that were marked", alone and joined, say(page, "#title"))
    # Word by word what the command prints, but for the letters in the margin.
    lines = page.evaluate("[...document.querySelectorAll('#sheet .line')].map(l => [...l.childNodes].slice(1).map(n => n.textContent).join(''))")
    command = [binary, "shelf", "--utc", "--shelf", shelf, "join", "1", "2", "--doubt", "plain"]
    told = subprocess.run(command, capture_output=True, text=True, check=True).stdout.splitlines()
    said = [re.sub("[<>]", "", line) for line in told[1 : 1 + len(lines)]]
    report.equal("joined: the page says what the command says", [line.rstrip() for line in lines], [line.rstrip() for line in said])
    report.equal("joined: the margin says who bears a line", say(page, "#sheet .line:nth-of-type(2) .from").upper(), "AB")
    differs = say(page, "#differs")
    report.check("joined: what differs stands with its dates", re.search(r"11[78] in [AB] \(2[12] March\); 11[78] in [AB]", differs) is not None, differs)
    report.check("joined: what is missing is said", len(say(page, "#missing")) > 10, say(page, "#missing"))


def check_looked_at(report, page):
    page.click("#sheet .variant")
    report.check("joined: a variant that is touched tells its copies", "117 in A (21 March)" in say(page, "#slip"), say(page, "#slip"))
    page.click("#sheet .line:nth-of-type(3) span:not([role])")
    report.check("joined: a sure character that is touched tells who bears it", say(page, "#slip").startswith("Borne by A"), say(page, "#slip"))
    page.select_option("#listen-to", "1")
    page.click("#sheet .line:nth-of-type(3) .from")
    ready = until(page, "its sound", "document.getElementById('sound').readyState > 1", 15)
    report.check("joined: the sound of the chosen copy begins at the line", ready and "evening 2" in say(page, "#sound-said"), say(page, "#sound-said"))
    page.reload()
    back = until(page, "it after a reload", "document.querySelector('#sheet .variant') !== null", 20)
    report.check("joined: it is there after a reload", back, page.url)


def check_apart(report, page):
    mark(page, 1, 3)
    page.click("#join")
    none = until(page, "that", "/nothing in common/.test(document.getElementById('about').textContent)", 20)
    report.check("joined: evenings that repeat nothing are not joined", none and page.locator("#sheet .line").count() == 0, say(page, "#about"))
    page.click("#list li:last-child button")
    one = until(page, "an evening", "/^Evening 1,/.test(document.getElementById('title').textContent)", 10)
    hidden = page.is_visible("#saying") and not page.is_visible("#differs")
    report.check("joined: an evening is opened again as before", one and hidden, say(page, "#title"))
