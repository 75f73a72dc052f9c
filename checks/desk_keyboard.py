"""The machine's own keyboard at the desk, in a real browser: what is typed on a pseudo terminal in place of a machine waits in
the page's field behind what the page wrote, goes out with it, and a break stops.
"""

import os
import tty

from check_desk import desk, say, until
from desk_contact import FREE_KHZ, SENT, quiet

# Letters shift, then codes of letters (ITU-T S.1; check_alphabet holds the program's table to an independent one).
LETTERS = 31
CODES = {"A": 3, "C": 14, "D": 9, "E": 1, "K": 15, "Q": 23, "R": 10, "U": 7, " ": 4}
BREAK = 255
FIELD = "document.getElementById('answer-text').value"


def typed(machine, text):
    os.write(machine, bytes([LETTERS, *(CODES[c] for c in text)]))


def checks(report, browser, binary):
    machine, line = os.openpty()
    tty.setraw(line)
    try:
        with desk(binary, "--settings", "/dev/null", "--keyboard", f"codes:{os.ttyname(line)}") as (_, address, _):
            page = browser.new_page(viewport={"width": 1280, "height": 900})
            wrong = []
            page.on("pageerror", lambda error: wrong.append(str(error)))
            page.goto(address)
            until(page, "the practice receiver", "document.getElementById('receiver').hidden === false && window.desk")
            quiet(page, FREE_KHZ, "lower")
            page.click("#answer summary")
            check_typing(report, page, machine)
            report.check("keyboard: nothing wrong in the browser", not wrong, "; ".join(wrong))
            page.close()
    finally:
        os.close(machine)
        os.close(line)


def check_typing(report, page, machine):
    stands = "document.getElementById('answer-keyboard').textContent"
    until(page, "the keyboard", f"/codes:/.test({stands})", 10)
    typed(machine, "CQ")
    dropped = until(page, "what was typed unarmed", f"/2 dropped/.test({stands})", 10)
    report.check("keyboard: unarmed, what is typed is dropped and told", dropped, say(page, "#answer-keyboard"))
    page.fill("#answer-call", "Q1ABC")
    page.click("#answer-form button")
    until(page, "arming", "!document.getElementById('answer-work').hidden", 10)
    report.check("keyboard: nothing of it waits for who arms", page.evaluate(FIELD) == "", repr(page.evaluate(FIELD)))
    page.fill("#answer-text", "QRU DE ")
    typed(machine, "QRA")
    both = until(page, "both texts", f"{FIELD} === 'QRU DE QRA'", 10)
    report.check("keyboard: typed behind what the page wrote", both, repr(page.evaluate(FIELD)))
    page.press("#answer-text", "End")
    page.type("#answer-text", " K")
    page.click("#answer-go-and-end")
    sent = until(page, "what was sent", f"/QRU DE QRA K/.test({SENT})", 60)
    report.check("keyboard: sent as one text", sent, repr(page.evaluate(SENT)[-60:]))
    until(page, "the end of the over", "!document.documentElement.classList.contains('on-the-air')", 60)
    page.fill("#answer-text", "RUR " * 400)
    page.click("#answer-go")
    until(page, "the key", "document.documentElement.classList.contains('on-the-air')", 10)
    os.write(machine, bytes([BREAK]))
    off = until(page, "the break", "!document.documentElement.classList.contains('on-the-air') && document.getElementById('answer-work').hidden", 5)
    report.check("keyboard: a break stops and disarms", off, say(page, "#answer-state"))
