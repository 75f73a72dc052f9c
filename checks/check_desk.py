"""The desk in a real browser: Debian's Chromium without a screen, on the practice band.

What the page says is judged against what the practice receiver was set to. Accessibility
is judged by axe-core. Figures of speed are printed and not judged: they are the machine's.
"""

import contextlib
import os
import re
import shutil
import subprocess
import time

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
# An evening on the practice band passes this many times as fast as the clock.
PACE = 2.5
# The first station's mark and its usual place on the lower sideband, kHz; invented, see
# crates/markhold-air/src/practice/station.rs.
MARK_KHZ = 7041.2
PATIENCE_S = 45


@contextlib.contextmanager
def desk(binary, *more, practice=True, keep=False, pace=PACE, port=0, environment=None):
    """A desk on the practice band, or on the machine's input; gives its process and address."""
    band = ["--practice", "--pace", str(pace)] if practice else []
    kept = [] if keep else ["--no-keep"]
    command = [binary, *band, "--port", str(port), *kept, *more]
    begun = time.monotonic()
    program = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=environment)
    try:
        address = program.stdout.readline().strip()
        yield program, address, time.monotonic() - begun
    finally:
        program.terminate()
        program.wait(60)  # it copies to the end first, on a machine that may be busy


def until(page, what, expression, patience_s=PATIENCE_S, argument=None):
    """Waits until a JavaScript expression holds; whether it did. The page's policy forbids
    what Playwright's own waiting does in it."""
    end = time.monotonic() + patience_s
    while time.monotonic() < end:
        if page.evaluate(expression, argument):
            return True
        page.wait_for_timeout(100)
    print(f"      waited {patience_s} s for {what}", flush=True)
    return False


def say(page, element):
    return page.inner_text(element).strip()


def ask(page, **turned):
    """Turns the practice receiver by its page's own socket, all at once."""
    page.evaluate("turned => window.desk.ask('practice', turned)", turned)


def quiet(page, dial_khz, sideband):
    """A warm receiver without static, on this dial."""
    ask(page, dial_hz=round(dial_khz * 1000), sideband=sideband, off_hz=0, static_per_min=0, volume_db=0)


def text(page):
    return page.evaluate("[...document.querySelectorAll('#sheet .line')].map(l => l.textContent).join('\\n')")


def turned_by_words(page):
    """Does what the instruction says, by the keys of the dial, until it has said in tune for
    a while; what was said on the way."""
    said, calm = [], 0
    for _ in range(20):
        page.wait_for_timeout(1500)
        words = say(page, "#words")
        if not said or said[-1] != words:
            said.append(words)
        told = re.search(r"turn the dial (\d+) Hz (up|down)", words, re.I)
        calm = calm + 1 if words.lower().startswith("in tune") else 0
        if calm == 4:
            break
        if told:
            page.focus("#dial")
            for _ in range(max(1, round(int(told[1]) / 10))):
                page.keyboard.press("ArrowUp" if told[2] == "up" else "ArrowDown")
            page.wait_for_timeout(1500)
    return said


def check_tuning(report, page):
    # A terminal unit of 2125 and 2295 Hz: its middle is where the tones belong.
    page.select_option("#target", "2210")
    for sideband, away_khz in (("lower", -0.35), ("upper", -0.35)):
        sign = 1 if sideband == "lower" else -1
        quiet(page, MARK_KHZ + sign * 2.125 + away_khz, sideband)
        said = turned_by_words(page)
        dial = float(page.get_attribute("#dial", "aria-valuenow"))
        middle_hz = sign * (dial - MARK_KHZ) * 1000 + sign * 85
        report.near(f"desk: tuned by its words on the {sideband} sideband, middle in Hz", middle_hz, 2210, 60)
        overlap = [words for words in said if words.lower().startswith("two signals")]
        report.check(f"desk: nothing overlaps on the {sideband} sideband", not overlap, ", ".join(said))
        print(f"      it said: {', '.join(said)}", flush=True)


def check_copy(report, page):
    # As it is at switch-on: the dial at 7042.9 kHz on the lower sideband, the receiver up to
    # 60 Hz above that while it warms up, so mark lies at 1700 to 1760 Hz.
    found = until(page, "copy", "document.getElementById('sheet').textContent.includes('Q7LMT')")
    report.check("desk: copy comes on the sheet", found, repr(text(page)[-40:]))
    tuned = "/Mark 17\\d\\d, space 1[89]\\d\\d Hz; shift 170/.test(document.getElementById('pair').textContent)"
    report.check("desk: the pair is that of the dial", until(page, "the pair", tuned), say(page, "#pair"))


def check_hold(report, page):
    pressed = "id => document.getElementById(id).getAttribute('aria-pressed') === 'true'"
    for what in ("pair", "sense", "speed"):
        page.click(f"#hold-{what}")
        report.check(f"desk: {what} is held", until(page, "hold", pressed, argument=f"hold-{what}"))
    page.click("#let-go")
    free = until(page, "letting go", "document.querySelectorAll('.facts [aria-pressed=true]').length === 0")
    report.check("desk: let go", free and page.is_hidden("#let-go"))


def check_reload(report, page):
    before = text(page).split("\n")[0][:20]
    page.reload()
    same = until(page, "the sheet again", "start => document.getElementById('sheet').textContent.includes(start)", argument=before)
    report.check("desk: a reload loses nothing", same, repr(before))


def check_two(report, browser, page, address):
    other = browser.new_page()
    other.goto(address)
    until(other, "the dial", "document.getElementById('receiver').hidden === false")
    page.focus("#dial")
    page.keyboard.press("PageUp")
    page.keyboard.press("PageDown")
    dial = "khz => document.getElementById('dial').getAttribute('aria-valuenow') === khz"
    wanted = page.get_attribute("#dial", "aria-valuenow")
    same = until(other, "the same dial", dial, argument=wanted)
    sheet = until(other, "the same sheet", "start => document.getElementById('sheet').textContent.includes(start)", argument=text(page).split("\n")[0])
    report.check("desk: two browsers see the same", same and sheet, wanted)
    other.close()


def check_loss(report, page):
    page.click("#more summary")
    page.click("#plug")
    gone = until(page, "the alert", "/No sound/.test(document.getElementById('alerts').textContent)")
    report.check("desk: a pulled plug is told", gone, say(page, "#alerts"))
    page.click("#plug")
    back = until(page, "sound", "!/No sound/.test(document.getElementById('alerts').textContent)")
    report.check("desk: and its return", back)


def check_sizes(report, page):
    for name, width, height in (("phone", 360, 740), ("200 % zoom", 640, 400), ("desk", 1280, 800)):
        page.set_viewport_size({"width": width, "height": height})
        page.wait_for_timeout(200)
        wide = page.evaluate("document.documentElement.scrollWidth")
        size = page.evaluate("parseFloat(getComputedStyle(document.getElementById('words')).fontSize)")
        report.check(f"desk: fits {name}", wide <= width and size >= 28, f"{wide} of {width} px; instruction {size:.0f} px")


def check_nothing_found(report, page, who):
    """What axe-core finds in both schemes, lesser findings too: nothing."""
    from axe_playwright_python.sync_playwright import Axe

    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        page.wait_for_timeout(200)
        violations = Axe().run(page).response["violations"]
        where = "; ".join(f"{v['id']}: {v['nodes'][0]['html'][:70]}" for v in violations)
        report.check(f"{who}: axe-core finds nothing, {scheme}", not violations, where)


def check_access(report, page, who="desk"):
    from axe_playwright_python.sync_playwright import Axe

    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
        page.wait_for_timeout(300)
        violations = Axe().run(page).response["violations"]
        serious = [v for v in violations if v["impact"] in ("serious", "critical")]
        where = "; ".join(f"{v['id']}: {v['nodes'][0]['html'][:70]}" for v in serious)
        report.check(f"{who}: axe-core finds nothing serious, {scheme}", not serious, where or f"{len(violations)} lesser")
    page.emulate_media(color_scheme="light", reduced_motion="no-preference")


def ticks(pid):
    fields = open(f"/proc/{pid}/stat").read().rsplit(")", 1)[1].split()
    return int(fields[11]) + int(fields[12])


def print_figures(program, page, started_s):
    """Speed on this machine, as it is now."""
    first = page.evaluate("(performance.getEntriesByName('first-picture')[0] ?? {}).startTime")
    before, begun = ticks(program.pid), time.monotonic()
    frames = page.evaluate(
        """() => new Promise(done => { let n = 0; const t0 = performance.now();
        const tick = t => { n++; t - t0 < 4000 ? requestAnimationFrame(tick) : done(n * 1000 / (t - t0)); };
        requestAnimationFrame(tick); })"""
    )
    share = (ticks(program.pid) - before) / os.sysconf("SC_CLK_TCK") / (time.monotonic() - begun)
    load = os.getloadavg()[0]
    print(f"      start {started_s:.2f} s, first picture {(first or 0) / 1000:.2f} s after the page was asked for")
    print(f"      {frames:.0f} pictures a second; program {100 * share:.0f} % of a core at {PACE:g} times real time; load {load:.1f}")


def check_page(report, browser, binary):
    """The page itself, on the practice band; nothing of it runs on beside what comes after."""
    with desk(binary) as (program, address, started_s):
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        wrong, elsewhere = [], []
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on("console", lambda line: line.type == "error" and wrong.append(line.text))
        page.on("request", lambda request: request.url.startswith(address) or request.url.startswith("blob:") or elsewhere.append(request.url))
        page.goto(address)
        until(page, "the practice receiver", "document.getElementById('receiver').hidden === false && window.desk")
        check_copy(report, page)
        check_hold(report, page)
        check_reload(report, page)
        check_two(report, browser, page, address)
        check_tuning(report, page)
        check_loss(report, page)
        check_access(report, page)
        check_sizes(report, page)
        print_figures(program, page, started_s)
        report.check("desk: nothing wrong in the browser", not wrong, "; ".join(wrong))
        report.check("desk: nothing from elsewhere", not elsewhere, "; ".join(elsewhere))
        page.close()


@contextlib.contextmanager
def chromium():
    """The browser, until it is left."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield browser
        browser.close()


def checks(report, binary):
    """Everything, in one browser."""
    if CHROMIUM is None:
        report.skip("desk", "no Chromium on this machine")
        return
    import desk_above
    import desk_around
    import desk_contact
    import desk_evenings
    import desk_first_evening
    import desk_hands
    import desk_joint
    import desk_keyboard
    import desk_later
    import desk_layout
    import desk_small
    from desk_machine import check_machine
    from desk_sentences import check_no_input, check_sentences

    parts = [check_page, check_machine, check_sentences, check_no_input, desk_small.checks, desk_around.checks, desk_later.checks, desk_above.checks]
    parts += [desk_layout.checks, desk_evenings.checks, desk_joint.checks, desk_contact.checks, desk_first_evening.checks, desk_hands.checks, desk_keyboard.checks]
    with chromium() as browser:
        for part in parts:
            begun = time.monotonic()
            part(report, browser, binary)
            print(f"      {part.__module__.removeprefix('check_')} {part.__name__}, {time.monotonic() - begun:.0f} s", flush=True)
