"""Evenings in the page, in a real browser: found, read, listened to, noted, deleted."""

import subprocess
import tempfile

from check_desk import check_nothing_found, desk, say, until

SHEET = "document.getElementById('sheet').textContent"


def checks(report, browser, binary):
    with tempfile.TemporaryDirectory() as folder:
        shelf = f"{folder}/shelf"
        with desk(binary, "--shelf", shelf, keep=True) as (_, address, _):
            page = browser.new_page()
            page.goto(address)
            until(page, "copy", "document.querySelectorAll('#sheet .line').length > 10", 90)
            page.close()
        with desk(binary, "--shelf", shelf, keep=True) as (_, address, _):
            page = browser.new_page(viewport={"width": 1280, "height": 900})
            wrong = []
            page.on("pageerror", lambda error: wrong.append(str(error)))
            # The evening that has just begun is in the list once the archive has it.
            for _ in range(10):
                page.goto(f"{address}evenings")
                if until(page, "the list", "document.querySelectorAll('#list button').length > 1", 3):
                    break
            # The latest is being kept; the one before is whole.
            page.click("#list li:nth-child(2) button")
            check_read(report, page)
            check_search(report, page)
            check_sound(report, page)
            check_said(report, page)
            check_access(report, page)
            check_again(report, page)
            check_remove(report, page, binary, shelf)
            report.check("evenings: nothing wrong in the browser", not wrong, "; ".join(wrong))
            page.close()


def check_read(report, page):
    read = until(page, "its copy", "document.querySelectorAll('#sheet .line').length > 5", 20)
    report.check("evenings: one is read, each line with its time", read and ":" in say(page, "#sheet .from"), say(page, "#title"))


def check_search(report, page):
    page.fill("#words", "ryryry")
    page.press("#words", "Enter")
    found = until(page, "what was found", "/RYRYRY/.test(document.getElementById('list').textContent)", 10)
    report.check("evenings: words are found", found, say(page, "#said"))
    check_may_hold(report, page)
    page.fill("#words", "zzzqqq")
    page.press("#words", "Enter")
    none = until(page, "nothing", "/No line/.test(document.getElementById('said').textContent)", 10)
    page.fill("#words", "")
    page.press("#words", "Enter")
    back = until(page, "the list", "document.querySelectorAll('#list button').length > 1", 10)
    report.check("evenings: what is not there is not found, and the list comes back", none and back)


def check_may_hold(report, page):
    """What is found by doubtful characters alone says so. The desk's answer is one of a shelf with a garbled call."""
    lines = [{"evening": 1, "heard": "2026-03-21T19:30:00Z", "at": 1.0, "direction": "received", "text": "DE QRVTZ K"},
             {"evening": 1, "heard": "2026-03-21T19:31:00Z", "at": 2.0, "direction": "received", "text": "DE QRNTZ K", "maybe": 0.19}]
    page.route("**/evenings/search*", lambda route: route.fulfill(json=lines))
    page.fill("#words", "qrvtz")
    page.press("#words", "Enter")
    told = until(page, "what may hold it", "/QRNTZ K.*may hold it, 19 %/.test(document.getElementById('list').textContent)", 10)
    page.unroute("**/evenings/search*")
    said = say(page, "#said")
    report.check("evenings: a line that may hold the words says so, with the probability", told and "1 of them does not print" in said, said)


def check_sound(report, page):
    page.click("#sheet .line:nth-of-type(3) .from")
    ready = until(page, "its sound", "document.getElementById('sound').readyState > 1", 15)
    long = page.evaluate("document.getElementById('sound').duration")
    report.check("evenings: the sound begins at the line", ready and long > 2, f"{say(page, '#sound-said')} {long} s")


def check_said(report, page):
    page.fill("#station", "Q7LMT")
    page.fill("#note", "read in a browser")
    page.click("#saying button")
    listed = until(page, "the note", "/Q7LMT[^]*read in a browser/.test(document.getElementById('list').textContent)", 10)
    report.check("evenings: a note and the station are kept", listed)


def check_access(report, page):
    check_nothing_found(report, page, "evenings")
    page.emulate_media(color_scheme="light")


def check_again(report, page):
    page.click("#again")
    done = until(page, "a new reading", "document.getElementById('reading').options.length === 2", 90)
    report.check("evenings: it is copied again, the old reading stays", done, say(page, "#about"))


def check_remove(report, page, binary, shelf):
    page.click("#remove")
    asks = page.is_visible("#remove-sure") and page.evaluate("document.activeElement.id") == "remove-not"
    page.click("#remove-sure")
    gone = until(page, "its end", "document.querySelectorAll('#list button').length === 1", 15)
    listed = subprocess.run([binary, "shelf", "list", "--shelf", shelf], capture_output=True, text=True, check=False)
    one = "read in a browser" not in listed.stdout
    report.check("evenings: deleted after a second question", asks and gone and one, say(page, "#about"))
