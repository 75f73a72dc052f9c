"""The first evening in a real browser: led by what the page says alone, from out of tune to a printed page,
and left again; the legends at the instruments; the manual behind the links.

    desk_first_evening.py PROGRAM FOLDER     pictures of it into a folder
"""

import json
import os
import re
import sys
import tempfile
import time

from check_desk import check_access, chromium, desk, say, turned_by_words, until

SHEET = "document.getElementById('sheet').textContent"
# Ten minutes are promised, at the pace of the clock.
MOST_S = 600
# Bytes that the page may take, as it comes.
MOST_BYTES = 200_000


def step(page):
    return say(page, "#guide-name")


def is_step(page, number, patience_s=60):
    """Whether it comes to this step, or is past it: some take no longer than a look here does."""
    come = "number => Number(/step (\\d+) of/.exec(document.getElementById('guide-name').textContent)?.[1] ?? 0) >= number"
    return until(page, f"step {number}", come, patience_s, number)


def begin(page, address):
    page.goto(address)
    until(page, "the receiver", "document.getElementById('receiver').hidden === false && window.desk")
    page.click("#first-evening")
    return is_step(page, 1, 20)


def tune(page):
    """Obeys: two times Page Up, then the sentence."""
    page.focus("#dial")
    for _ in range(int("twice" in say(page, "#guide-do")) * 2):
        page.keyboard.press("PageUp")
    found = is_step(page, 2)
    return found, turned_by_words(page)


def read_doubts(page):
    """Presses what the step names until the next one is there."""
    for turn in range(90):
        if "step 4" not in step(page):
            return True
        page.click("#doubt-before" if turn % 3 else "#doubt-next")
        page.wait_for_timeout(700)
    return False


def search(page):
    word = re.search(r"type ([A-Z]{5,}) into", say(page, "#guide-do"))
    page.fill("#words", word[1] if word else "")
    page.press("#words", "Enter")
    if until(page, f"what is found of {word and word[1]}", "document.querySelector('#list .line-found') !== null", 20):
        page.click("#list .line-found")
    return word and word[1]


def walk(report, page, address, look=lambda name: None):
    begun = time.monotonic()
    out = begin(page, address) and until(page, "another place on the dial", "document.getElementById('dial').getAttribute('aria-valuenow') === '7040.50'", 10)
    out = out and until(page, "a sentence of it", "!/^in tune/i.test(document.getElementById('words').textContent)", 20)
    report.check("first evening: it begins out of tune", out, f"{step(page)}: {say(page, '#words')}")
    look("1-find")
    found, said = tune(page)
    report.check("first evening: what it says finds a sender", found, say(page, "#guide-do"))
    copying = is_step(page, 3)
    report.check("first evening: what the sentence says brings it in tune", copying, ", ".join(said))
    look("2-copy")
    doubting = is_step(page, 4, 90)
    report.check("first evening: copy comes", doubting, repr(page.evaluate(SHEET)[-60:]))
    until(page, "a doubt", "document.querySelectorAll('#sheet .d').length > 0", 90)
    page.click("#doubt-next")
    page.wait_for_timeout(400)
    look("3-doubt")
    report.check("first evening: doubts are read", read_doubts(page) and is_step(page, 5), say(page, "#guide-do"))
    kept = until(page, "the shelf", "/kept already/.test(document.getElementById('guide-do').textContent)", 30)
    report.check("first evening: it is kept", kept, say(page, "#kept"))
    look("4-kept")
    page.click("#to-evenings")
    report.check("first evening: its evening opens", is_step(page, 7, 40), page.url)
    look("5-search")
    word = search(page)
    report.check("first evening: a word of the copy is found again", is_step(page, 8, 20), f"{word}: {say(page, '#said')}")
    page.click("#print")
    # Without a screen nobody closes the browser's own window; it says that it is closed.
    over = "/done/.test(document.getElementById('guide-name').textContent)"
    if not until(page, "the browser's own window", over, 3):
        page.evaluate("dispatchEvent(new Event('afterprint'))")
    done = until(page, "the end", over, 10)
    # The window of the browser's own printing may still be open over this one.
    beside = page.context.new_page()
    beside.goto(page.url)
    until(beside, "its copy", "document.querySelectorAll('#sheet .line').length > 0", 20)
    paper = beside.pdf()
    beside.close()
    report.check("first evening: and printed", done and len(paper) > 10_000, f"{len(paper)} bytes of PDF")
    look("6-done")
    took_s = time.monotonic() - begun
    report.check("first evening: within ten minutes", took_s < MOST_S, f"{took_s:.0f} s")
    page.click("#guide-leave")
    report.check("first evening: and is over", page.is_hidden("#guide"), page.url)


def check_left(report, page, address):
    """Left in the middle: nothing of it stays, also after a reload."""
    begin(page, address)
    page.click("#guide-leave")
    gone = page.is_hidden("#guide")
    page.reload()
    until(page, "the desk", "window.desk !== undefined")
    page.wait_for_timeout(800)
    report.check("first evening: it can be left at any time", gone and page.is_hidden("#guide"))
    begin(page, address)
    page.reload()
    stays = until(page, "the step again", "!document.getElementById('guide').hidden", 20)
    report.check("first evening: a reload goes on with it", stays, step(page))
    page.click("#guide-leave")


def check_legends(report, page, address):
    page.goto(address)
    until(page, "the desk", "document.querySelector('.instruction').dataset.do")
    names, wrong = page.evaluate("[...document.querySelectorAll('[data-legend]')].map(b => b.dataset.legend)"), []
    for name in names:
        page.click(f"[data-legend={name}]")
        until(page, name, "document.getElementById('legend')?.open", 10)
        page.wait_for_timeout(300)
        ink = page.evaluate("""() => [...document.querySelectorAll('#legend canvas')].map(c => {
          const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data; const seen = new Set();
          let sum = 0; for (let k = 0; k < d.length; k += 4) { seen.add(d[k] << 8 | d[k + 3]); sum += d[k] * (k % 977); } return [seen.size, sum]; })""")
        if name == "copy":
            right = page.evaluate("document.querySelectorAll('#legend .d').length") == 3
        else:
            right = len(ink) == 2 and all(colours > 5 for colours, _ in ink) and ink[0][1] != ink[1][1]
        wrong += [] if right else [f"{name}: {ink}"]
        if name == names[0]:
            check_access(report, page, "legend")
        page.keyboard.press("Escape")
    report.check("legends: good and bad are drawn, and differ", len(names) == 8 and not wrong, "; ".join(wrong) or ", ".join(names))


def check_guest(report, page, address):
    """A guest is led through the page in words of its own, which know what it shows, and nothing is set by it."""
    page.goto(address)
    until(page, "copy", "document.querySelectorAll('#sheet .line').length > 1", 40)
    page.click("#guest")
    until(page, "the words", "document.querySelector('#guest-panel:not([hidden])')", 10)
    before, seen, marked = page.evaluate("window.desk && document.getElementById('dial').getAttribute('aria-valuenow')"), [], 0
    while page.is_visible("#guest-panel") and len(seen) < 20:
        page.wait_for_timeout(400)
        marked += page.evaluate("document.querySelectorAll('.shown-to-guest').length")
        seen.append(say(page, "#guest-what") + say(page, "#guest-now"))
        if len(seen) == 2:
            check_access(report, page, "guest")
        page.click("#guest-panel .turns button:nth-child(2)")
    gone = page.evaluate("document.querySelectorAll('.shown-to-guest').length === 0")
    report.check("guest: led from part to part, each outlined", len(set(seen)) == marked == 6 and gone, f"{len(seen)} parts")
    trade = [word for words in seen for word in ("baud", "Hz", "sideband", "dB") if word in words]
    report.check("guest: told what it shows now, without the trade's words", any("The latest:" in words for words in seen) and not trade, " ".join(trade) or seen[4][-90:])
    report.check("guest: nothing is set", page.evaluate("document.getElementById('dial').getAttribute('aria-valuenow')") == before)


def check_manual(report, page, address):
    """Every link of the page lands on a heading, as the browser sees it."""
    more = page.request.get(f"{address}assets/more.js").text()
    places = set(re.findall(r"\"(/manual/[^\"]+)\"", more))
    places = sorted(places | {f"/manual/trouble.html#{name}" for name in re.findall(r"at\(\"([^\"]+)\"\)", more)})
    lost = []
    for place in places:
        page.goto(address.rstrip("/") + place)
        name = place.partition("#")[2]
        if name and not page.evaluate("name => document.getElementById(name)?.matches('h1, h2, h3') ?? false", name):
            lost.append(place)
    report.check("manual: every link of the page lands on a heading", len(places) > 20 and not lost, "; ".join(lost) or f"{len(places)} links")
    page.goto(f"{address}manual")
    chapters = page.evaluate("[...document.querySelectorAll('.chapters a')].map(a => a.href)")
    for chapter in chapters:
        page.goto(chapter)
        lost += [] if page.evaluate("document.querySelector('h1') !== null") else [chapter]
        if chapter.endswith(("trouble.html", "cable.html")):
            check_access(report, page, chapter.rpartition("/")[2])
            page.set_viewport_size({"width": 360, "height": 740})
            wide = page.evaluate("document.documentElement.scrollWidth")
            report.check(f"manual: {chapter.rpartition('/')[2]} fits a phone", wide <= 360, f"{wide} px")
            page.set_viewport_size({"width": 1280, "height": 900})
    report.check("manual: every chapter opens", len(chapters) > 10 and not lost, f"{len(chapters)} chapters {lost or ''}")


def check_size(report, page, address):
    """What the browser takes until the desk stands, without any cache."""
    sizes = []
    page.on("response", lambda answer: sizes.append(len(answer.body())) if answer.ok and answer.request.resource_type != "websocket" else None)
    page.goto(address)
    until(page, "the desk", "document.querySelector('.instruction').dataset.do")
    page.wait_for_timeout(500)
    report.check("desk: the page stays under 200 KB", 100_000 < sum(sizes) < MOST_BYTES, f"{sum(sizes)} bytes, {len(sizes)} files")


def checks(report, browser, binary):
    with tempfile.TemporaryDirectory() as home:
        os.environ["XDG_DATA_HOME"] = home
        with desk(binary, keep=True) as (_, address, _):
            page = browser.new_context(viewport={"width": 1280, "height": 900}).new_page()
            wrong = []
            page.on("pageerror", lambda error: wrong.append(str(error)))
            page.on("console", lambda line: line.type == "error" and wrong.append(f"{line.text} {line.location.get('url')}"))
            walk(report, page, address)
            check_left(report, page, address)
            begin(page, address)
            check_access(report, page, "first evening")
            page.set_viewport_size({"width": 360, "height": 740})
            wide = page.evaluate("document.documentElement.scrollWidth")
            report.check("first evening: fits a phone", wide <= 360, f"{wide} px")
            page.set_viewport_size({"width": 1280, "height": 900})
            page.click("#guide-leave")
            check_legends(report, page, address)
            check_guest(report, page, address)
            check_manual(report, page, address)
            report.check("first evening: nothing wrong in the browser", not wrong, "; ".join(wrong))
            page.close()
            fresh = browser.new_context().new_page()
            check_size(report, fresh, address)
            fresh.close()
        shelf = os.path.join(home, "markhold", "shelf")
        real = os.path.exists(os.path.join(shelf, "markhold.sqlite"))
        report.check("first evening: the shelf itself has nothing of it", not real, json.dumps(os.listdir(home)))
        del os.environ["XDG_DATA_HOME"]


def main():
    from report import Report

    binary, folder = sys.argv[1:]
    with desk(binary, keep=True, pace=1) as (_, address, _), chromium() as browser:
        page = browser.new_context(viewport={"width": 1440, "height": 900}).new_page()

        def look(name):
            for size, width, height in (("desk", 1440, 900), ("small", 1024, 768), ("phone", 390, 844)):
                page.set_viewport_size({"width": width, "height": height})
                page.wait_for_timeout(400)
                page.screenshot(path=os.path.join(folder, f"{name}-{size}.png"))
            page.set_viewport_size({"width": 1440, "height": 900})

        report = Report()
        walk(report, page, address, look)
        report.close()


if __name__ == "__main__":
    main()
