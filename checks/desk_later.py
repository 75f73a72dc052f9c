"""What the desk does not need to stand comes when it is first opened: not before, once, and after a lost link
when the desk answers again. Until then it cannot be used, and it is said why."""

import re

from check_desk import desk, say, until

# Under which lid which file is, and what shows that it is attended to: a JavaScript expression.
LIDS = {
    "printer": ("machine.js", "document.querySelectorAll('#machine option').length > 0"),
    "contact": ("contact.js", "/log/.test(document.getElementById('contact-count').textContent)"),
    "answer": ("answer.js", "/call|transmitter/.test(document.getElementById('answer-state').textContent)"),
}
LATER = sorted(file for file, _ in LIDS.values()) + ["guest.js", "guide.js", "legend.js", "skedform.js", "trays.js", "went.js"]
WAITS = "does not answer"


def taken(page):
    """Files of the page as the browser asks for them, in order."""
    files = []
    page.on("request", lambda request: files.append(re.sub(r"^.*/|\?.*$", "", request.url)))
    return files


def stands(page):
    return until(page, "the desk", "window.desk && document.querySelector('.instruction').dataset.do")


def check_first_opening(report, page, address):
    files = taken(page)
    page.goto(address)
    stands(page)
    page.wait_for_timeout(1500)
    early = [file for file in LATER if file in files]
    report.check("later: the desk stands without what is opened later", not early, ", ".join(early))
    for lid, (file, works) in LIDS.items():
        page.click(f"#{lid} > summary")
        there = until(page, lid, works, 10) and not page.evaluate("id => document.querySelector(`#${id} > [inert]`) !== null", lid)
        page.click(f"#{lid} > summary")
        page.click(f"#{lid} > summary")
        page.wait_for_timeout(200)
        report.check(f"later: {lid} comes once, when it is opened", there and files.count(file) == 1, f"{files.count(file)} times {file}")
    page.reload()
    stands(page)
    again = all(until(page, lid, works, 10) for lid, (_, works) in LIDS.items())
    report.check("later: what was left open is there after a reload", again)


def check_lost_link(report, page, binary):
    """Opened while the desk is gone; then another one answers at its place."""
    with desk(binary) as (_, address, _):
        page.goto(address)
        stands(page)
    until(page, "the loss", "document.querySelector('.instruction').dataset.do === 'fault'", 20)
    page.click("#printer > summary")
    page.click("#contact > summary")
    told = until(page, "why", "words => document.querySelector('#printer > .waits')?.textContent.includes(words)", 10, WAITS)
    shut = page.evaluate("[...document.querySelectorAll('#contact > :not(summary, .waits)')].every(c => c.inert)")
    report.check("later: without the desk it says so, and cannot be used", told and shut, say(page, "#printer")[:80])
    page.click("#first-evening")
    told = until(page, "why", "words => document.getElementById('alerts').textContent.includes(words)", 10, WAITS)
    report.check("later: a button says so too", told, say(page, "#alerts")[:80])
    with desk(binary, port=address.rstrip("/").rpartition(":")[2]):
        back = all(until(page, lid, LIDS[lid][1], 30) for lid in ("printer", "contact"))
        clean = page.evaluate("document.querySelector('.waits, #printer > [inert], #contact > [inert]') === null")
        report.check("later: it comes when the desk answers again", back and clean, say(page, "#printer")[:80])
        page.click("#first-evening")
        report.check("later: and the button brings what it should", until(page, "the guide", "!document.getElementById('guide').hidden", 10))


def check_printing_elsewhere(report, browser, address):
    """What another page has started is told under a closed lid too."""
    one, other = browser.new_context().new_page(), browser.new_context().new_page()
    for page in (one, other):
        page.goto(address)
        stands(page)
    one.click("#printer > summary")
    until(one, "machines", LIDS["printer"][1], 10)
    one.click("#print-start")
    seen = until(other, "the machine", "document.getElementById('printing').textContent !== ''", 20)
    stop = until(other, "its stop", "!document.getElementById('print-stop').hidden", 10)
    report.check("later: a machine started by another page is told", seen and stop, say(other, "#printing"))
    other.click("#print-stop")
    report.check("later: and stopped from here", until(one, "stopping", "document.getElementById('print-stop').hidden", 10))
    one.close()
    other.close()


def checks(report, browser, binary):
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    page, wrong = context.new_page(), []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    with desk(binary) as (_, address, _):
        check_first_opening(report, page, address)
        check_printing_elsewhere(report, browser, address)
    fresh = browser.new_context(viewport={"width": 1280, "height": 900}).new_page()
    fresh.on("pageerror", lambda error: wrong.append(str(error)))
    check_lost_link(report, fresh, binary)
    report.check("later: nothing wrong in the browser", not wrong, "; ".join(wrong))
    fresh.close()
    page.close()
