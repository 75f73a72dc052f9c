"""What else is heard, in a real browser: a list by pitch, one that is chosen is followed, two that are copied at
once lie on a sheet each; and headings say where the dial stood.
"""

import json
import re
import time

from check_desk import PATIENCE_S, check_access, desk, say, until

LIST = "[...document.querySelectorAll('#around li')].map(li => li.textContent)"


def signal(number, middle_hz, copied, rate=45.45, shift=170.0):
    tones = {"mark_hz": middle_hz - shift / 2, "space_hz": middle_hz + shift / 2, "shift_hz": shift, "usual_shift_hz": shift}
    told = {"signal": number, "begin": 1.0, "until": 60.0, "rate_baud": rate, "usual_rate_baud": rate, "mark": "lower", "stop_units": 1.5}
    more = {"figures_row": None, "unshift_on_space": None, "es_n0_db": 15.0, "snr_3khz_db": 3.0, "drift_hz": 0.0, "drift_hz_per_min": 0.0}
    return {**tones, **told, **more, "quality": 0.98, "characters": 50, "copied": copied}


def rows(first, count, at_s, words):
    return [{"at": at_s + 10 * k, "text": f"{words} {first + k}"} for k in range(count)]


def between(page, kept=lambda message: False):
    """Everything passes but what is `kept` from the page; the sockets, and what the page asked."""
    sockets, asked = [], []

    def connect(socket):
        server = socket.connect_to_server()
        sockets.append(socket)
        server.on_message(lambda message: None if isinstance(message, str) and kept(message) else socket.send(message))

        def ask(message):
            asked.append(message)
            server.send(message)

        socket.on_message(ask)

    page.route_web_socket("**/socket", connect)
    return sockets, asked


def report_of(kind, value):
    return json.dumps({"is": "report", "value": {"report": kind, "value": value}})


def check_list(report, page, socket, asked):
    followed = report_of("followed", [signal(1, 2210, True), signal(2, 1000, False, 50.0, 425.0)])
    socket.send(followed)
    tones = [{"hz": 620.0, "over_noise_db": 20.0, "keying": "morse"}, {"hz": 2700.0, "over_noise_db": 18.0, "keying": "steady"}]
    socket.send(report_of("around", tones))
    three = until(page, "the list", f"{LIST}.length === 3", 6)
    said = page.evaluate(LIST)
    pitches = [int(words.split()[0]) for words in said]
    right = pitches == [620, 1000, 2700] and "Morse" in said[0] and "50 baud, 425 Hz" in said[1] and "carrier" in said[2]
    report.check("around: what else is heard is listed by pitch", three and right, "; ".join(said))
    page.click("#around button")
    page.wait_for_timeout(200)
    wishes = [json.loads(message) for message in asked if "change" in message]
    report.check("around: choosing one follows it", wishes[-1:] == [{"ask": "change", "value": {"all": False, "hold": {"at_hz": 1000}}}], str(wishes[-1:]))
    # The desk tells of its own signals in between.
    for _ in range(10):
        socket.send(followed)
        shown = until(page, "copy all", "!document.getElementById('copy-all').hidden", 2)
        if shown:
            break
    page.evaluate("document.getElementById('copy-all').click()")
    page.wait_for_timeout(200)
    wishes = [json.loads(message)["value"] for message in asked if "change" in message]
    report.check("around: or all of them", shown and wishes[-1]["all"] is True, f"{wishes[-1]}; {say(page, '#copy-all')}")


def piece(number, lane, from_row, rows):
    return {"piece": number, "before": None, "signal": number, "lane": lane, "from": from_row, "settled": from_row + len(rows), "rows": rows}


def check_two_sheets(report, page, socket, in_use):
    socket.send(report_of("settings", {**in_use, "all": True}))
    layout = {"columns": 69, "margin_lamp": 0, "overprint": False, "machine": None}
    sheet = {"layout": layout, "under": {"column": 0, "lamp": False}}
    both = [piece(1, 0, 0, rows(0, 40, 0, "HARBOUR")), piece(2, 1, 0, rows(0, 40, 5, "FERRY"))]
    socket.send(json.dumps({"is": "sheet", "value": {**sheet, "pieces": both}}))
    two = until(page, "two sheets", "document.querySelectorAll('#sheet .tray').length === 2", 6)
    page.wait_for_timeout(300)
    seen = page.evaluate(
        """() => [...document.querySelectorAll('#sheet .tray')].map(tray => { const t = tray.getBoundingClientRect();
        const lines = [...tray.querySelectorAll('.line')], last = lines[lines.length - 1], r = last.getBoundingClientRect();
        return [last.textContent, r.bottom <= t.bottom + 1 && r.top >= t.top, tray.querySelectorAll('.head').length]; })"""
    )
    right = seen == [["HARBOUR 39", True, 1], ["FERRY 39", True, 1]]
    report.check("around: two copied at once lie on a sheet each, newest lines in sight", two and right, str(seen))
    check_access(report, page, "around")
    for name, width, height in (("phone", 390, 844), ("desk", 1440, 900)):
        page.set_viewport_size({"width": width, "height": height})
        page.wait_for_timeout(200)
        wide = page.evaluate("document.documentElement.scrollWidth")
        report.check(f"around: two sheets fit {name}", wide <= width, f"{wide} of {width} px")
    later = {"under": sheet["under"], "pieces": [piece(1, 0, 40, rows(40, 20, 400, "HARBOUR"))]}
    socket.send(json.dumps({"is": "sheet", "value": later}))
    one = until(page, "one sheet", "document.querySelectorAll('#sheet .tray').length === 0", 6)
    order = page.evaluate("[...document.querySelectorAll('#sheet .piece')].map(p => p.querySelector('.line').textContent)")
    report.check("around: when one has gone the other has all the paper", one and order == ["HARBOUR 0", "FERRY 0"], str(order))


def check_headings(report, page):
    """A turn of the dial is on the next heading."""
    until(page, "copy", "document.querySelectorAll('#sheet .head').length > 0", 60)
    heads = "[...document.querySelectorAll('#sheet .head')].map(h => h.textContent)"
    until(page, "a heading", f"{heads}.some(h => h.includes('dial'))", 20)
    first = page.evaluate(heads)
    report.check("around: headings say where the dial stood", bool(re.search(r"baud, \d+ Hz, dial \d{4}\.\d\d kHz, (lower|upper) sideband", first[0])), first[0])


def snapshot_among(page, told):
    """What the desk told first, which on a busy computer comes to be known here after the page has it."""
    end = time.monotonic() + PATIENCE_S
    while not (all_of := [message for message in told if message.startswith('{"is":"snapshot"')]):
        if time.monotonic() > end:
            raise RuntimeError(f"no snapshot among {len(told)} messages after {PATIENCE_S} s")
        page.wait_for_timeout(100)
    return json.loads(all_of[0])["value"]


def checks(report, browser, binary):
    with desk(binary) as (_, address, _):
        page, wrong = browser.new_page(viewport={"width": 1440, "height": 900}), []
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.goto(address)
        check_headings(report, page)
        heard = until(page, "Morse", f"{LIST}.some(words => words.includes('Morse'))", 90)
        report.check("around: the neighbour's Morse is in the list", heard, "; ".join(page.evaluate(LIST)))
        page.close()
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        page.on("pageerror", lambda error: wrong.append(str(error)))
        told = []
        own = ('"report":"followed"', '"report":"around"', '"report":"settings"', '"is":"sheet"')
        kept = lambda message: told.append(message) or any(part in message for part in own)
        sockets, asked = between(page, kept)
        page.goto(address)
        until(page, "the desk", "window.desk && document.querySelector('.instruction').dataset.do")
        page.wait_for_timeout(1000)
        snapshot = snapshot_among(page, told)
        check_list(report, page, sockets[-1], asked)
        check_two_sheets(report, page, sockets[-1], snapshot["in_use"])
        report.check("around: nothing wrong in the browser", not wrong, "; ".join(wrong))
        page.close()
