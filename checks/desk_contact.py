"""A whole contact on the practice band, in a real browser: armed, called, answered, the other station
taken from the copy by touching it, said goodbye, in the log, and out of it as ADIF.

    desk_contact.py PROGRAM FOLDER     pictures of it into a folder
"""

import os
import sys
import tempfile

import json_lines
from check_desk import check_access, chromium, desk, quiet, say, until

# Between the stations of the practice band: on the lower sideband nobody else is heard here.
FREE_KHZ = 7040.5
# A contact is mostly waiting: it passes faster than the rest of the desk's checks.
PACE = 5
# An answer takes this long at the most: over, thinking, answer, copy; at the pace of the check.
ANSWER_S = 45
HEARD = "[...document.querySelectorAll('#sheet .piece:not(.was-sent) .line')].map(l => l.textContent).join(' ')"
SENT = "[...document.querySelectorAll('#sheet .piece.was-sent .line')].map(l => l.textContent).join(' ')"
# Where the last of the words that match stands in the copy.
PLACE = """pattern => { const lines = [...document.querySelectorAll('#sheet .piece:not(.was-sent) .line')].reverse();
  for (const line of lines) { const walk = document.createTreeWalker(line, NodeFilter.SHOW_TEXT);
    for (let node; (node = walk.nextNode());) { const found = node.data.match(new RegExp(pattern)); if (!found) continue;
      const range = document.createRange(); range.setStart(node, found.index); range.setEnd(node, found.index + found[0].length);
      line.scrollIntoView({ block: 'center' }); const r = range.getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2]; } }
  return null; }"""


def send(page, name):
    """Sends a text that is ready to go and waits until it has gone."""
    page.click(f"#ready-list button:text-is('{name}')")
    filled = until(page, "the text", "document.getElementById('answer-text').value !== ''", 10)
    page.click("#answer-go-and-end")
    on = until(page, "the key", "document.documentElement.classList.contains('on-the-air')", 10)
    off = until(page, "the end of the over", "!document.documentElement.classList.contains('on-the-air')", 60)
    return filled and on and off


def exchange(page, name, pattern):
    """Sends a text until it is answered so: an operator who could not read it asks for it again."""
    for _ in range(4):
        before = len(page.evaluate(HEARD))
        send(page, name)
        answered = f"([before, pattern]) => new RegExp(pattern + '|AGN PSE').test({HEARD}.slice(before))"
        until(page, f"an answer to {name}", answered, ANSWER_S, [max(before - 5, 0), pattern])
        # The rest of the answer.
        quiet_for(page)
        if page.evaluate(f"([before, pattern]) => new RegExp(pattern).test({HEARD}.slice(before))", [max(before - 5, 0), pattern]):
            return True
    return False


def quiet_for(page, seconds=4):
    """Waits until the copy has stood still for a while."""
    last, since = None, 0
    while since < seconds * 2:
        now = page.evaluate(HEARD)
        since = since + 1 if now == last else 0
        last = now
        page.wait_for_timeout(500)


def touch(page, pattern):
    place = page.evaluate(PLACE, pattern)
    if place:
        page.mouse.click(*place)
    return bool(place)


def arm(page):
    quiet(page, FREE_KHZ, "lower")
    page.click("#answer summary")
    page.fill("#answer-call", "Q1ABC")
    page.click("#answer-form button")
    return until(page, "arming", "!document.getElementById('answer-work').hidden", 10)


def checks(report, browser, binary):
    check_contact(report, browser, binary)
    with tempfile.TemporaryDirectory() as folder:
        with desk(binary, "--shelf", folder, keep=True, pace=PACE) as (_, address, _):
            page = browser.new_page(viewport={"width": 1280, "height": 900})
            page.goto(address)
            until(page, "the practice receiver", "document.getElementById('receiver').hidden === false && window.desk")
            arm(page)
            send(page, "call")
            page.close()
        shown = json_lines.printed([binary, "shelf", "--shelf", folder, "show", "last", "--json"])
        found = json_lines.printed([binary, "shelf", "--shelf", folder, "search", "CQ", "--json"])
        json_lines.check_kinds(report, "desk", shown + found)
        report.check("contact: a search finds what was sent", any(line["direction"] == "sent" for line in found), f"{len(found)} lines")


def check_contact(report, browser, binary):
    import adif_io

    with desk(binary, pace=PACE) as (_, address, _):
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        wrong = []
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.goto(address)
        until(page, "the practice receiver", "document.getElementById('receiver').hidden === false && window.desk")
        report.check("contact: the practice transmitter is armed", arm(page) and "practice transmitter" in say(page, "#answer-state"), say(page, "#answer-state"))
        page.click("#contact summary")
        # What came before the dial was turned is decided late on a busy computer, and is no answer.
        quiet_for(page)
        # Of an answer that is found late the end is there.
        answered = exchange(page, "call", "DE Q\\d|Q\\d[A-Z]{3} PSE")
        report.check("contact: somebody answers the call", answered, repr(page.evaluate(HEARD)[-120:]))
        sent = page.evaluate(SENT)
        report.check("contact: what was sent stands on the sheet, told apart", "CQ CQ CQ DE Q1ABC" in sent, repr(sent[:80]))
        both = page.evaluate("[...document.querySelectorAll('#sheet .piece')].map(p => p.classList.contains('was-sent'))")
        report.check("contact: the answer stands below the call", both[-1] is False and True in both[:-1], str(both))
        report.check("contact: one touch takes the call", touch(page, "Q[0-9](?!ABC)[A-Z]{3}(?= PSE|$| Q)|Q[0-9](?!ABC)[A-Z]{3}"))
        call = page.input_value("#contact-form [name=call]")
        reported = exchange(page, "report", "RST \\d")
        report.check("contact: a report comes back", reported, repr(page.evaluate(HEARD)[-160:]))
        touched = touch(page, "(?<=RST )\\d\\d\\d") and touch(page, "(?<=NAME )[A-Z]+")
        given = {name: page.input_value(f"#contact-form [name={name}]") for name in ("call", "report_sent", "report_received", "name", "khz")}
        report.check("contact: report and name are taken by a touch each", touched and len(given["report_received"]) == 3 and given["name"].isalpha(), str(given))
        ended = exchange(page, "ending", "SK")
        report.check("contact: both say goodbye", ended, repr(page.evaluate(HEARD)[-60:]))
        page.click("#contact-form button[type=submit]")
        kept = until(page, "the log", "document.getElementById('contact-count').textContent === '1 in the log.'", 10)
        report.check("contact: it is in the log", kept, say(page, "#contact-list"))
        records, _ = adif_io.read_from_string(page.request.get(f"{address}/contacts/practice/adif".replace("//contacts", "/contacts")).text())
        record = dict(records[0]) if records else {}
        right = record.get("CALL") == call and record.get("MODE") == "RTTY" and record.get("RST_RCVD") == given["report_received"] and record.get("BAND") == "40m" and record.get("STATION_CALLSIGN") == "Q1ABC"
        report.check("contact: and in its ADIF file", right, str(record))
        page.fill("#contact-form [name=call]", call)
        report.check("contact: a double is told", "In the log already" in say(page, "#contact-before"), say(page, "#contact-before"))
        radio = page.request.get(f"{address}/contacts/radio".replace("//contacts", "/contacts"))
        report.check("contact: the station's own log has nothing of it", call not in radio.text(), radio.text()[:80])
        check_access(report, page, "contact")
        check_phone(report, page)
        report.check("contact: nothing wrong in the browser", not wrong, "; ".join(wrong))
        page.close()


def check_phone(report, page):
    page.set_viewport_size({"width": 360, "height": 740})
    page.wait_for_timeout(300)
    wide = page.evaluate("document.documentElement.scrollWidth")
    report.check("contact: the panels fit a phone", wide <= 360, f"{wide} px")


def main():
    binary, folder = sys.argv[1:]
    with desk(binary) as (_, address, _), chromium() as browser:
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        page.goto(address)
        until(page, "the practice receiver", "document.getElementById('receiver').hidden === false && window.desk")
        arm(page)
        page.click("#contact summary")
        page.click("#ready-list button:text-is('test')")
        page.wait_for_timeout(500)
        page.click("#answer-go")
        until(page, "sent text", f"{SENT}.length > 45")
        for name, width, height, light in (("day", 1440, 900, "light"), ("night", 1440, 900, "dark"), ("phone-day", 390, 844, "light"), ("phone-night", 390, 844, "dark")):
            page.set_viewport_size({"width": width, "height": height})
            page.emulate_media(color_scheme=light)
            page.wait_for_timeout(500)
            page.screenshot(path=os.path.join(folder, f"answer-{name}.png"), full_page=True)


if __name__ == "__main__":
    main()
