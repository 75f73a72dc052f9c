"""How the desk's page lies on screens: what must be seen together is, an alert pushes nothing away,
a line keeps its length, doubt has a sign that is seen, what was set is there after a reload, and
practice in one browser is nothing to another.
"""

from check_desk import ask, desk, say, until

# Screens on which sentence, strip, copy and an instrument are seen without scrolling.
SCREENS = [("1440 x 900", 1440, 900), ("1024 x 768", 1024, 768)]
PHONE = (390, 844)
# What of an element is in sight, as a share of its height.
SEEN = """id => { const r = document.getElementById(id).getBoundingClientRect();
  return Math.max(Math.min(r.bottom, innerHeight) - Math.max(r.top, 0), 0) / r.height; }"""
# Lines of more than one row of type.
WRAPPED = """[...document.querySelectorAll('#sheet .line')].filter(l => l.clientHeight > 1.6 * parseFloat(getComputedStyle(l).lineHeight)).length"""
# Contrast of the line under a doubtful character against the paper, as WCAG 2 reckons it.
CONTRAST = """() => {
  const light = rgb => { const [r, g, b] = rgb.match(/[\\d.]+/g).slice(0, 3).map(v => v / (rgb.startsWith('color') ? 1 : 255))
    .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const d = document.querySelector('#sheet .d');
  if (!d) return 0;
  const [a, b] = [light(getComputedStyle(d).borderBottomColor), light(getComputedStyle(document.getElementById('sheet')).backgroundColor)];
  return (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05); }"""


def checks(report, browser, binary):
    with desk(binary) as (_, address, _):
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        heard = []
        page.on("websocket", lambda socket: socket.on("framereceived", lambda data: isinstance(data, bytes) and data[:1] == b"S" and heard.append(len(data))))
        page.goto(address)
        until(page, "copy", "document.querySelectorAll('#sheet .line').length > 4")
        check_screens(report, page)
        check_alert(report, page)
        check_lines(report, page)
        check_doubt(report, page)
        check_sound(report, page, heard)
        check_pointing(report, page)
        check_again(report, page)
        page.close()
    check_rooms(report, browser, binary)


def check_screens(report, page):
    for name, width, height in SCREENS:
        page.set_viewport_size({"width": width, "height": height})
        page.evaluate("scrollTo(0, 0)")
        page.wait_for_timeout(300)
        seen = {what: page.evaluate(SEEN, what) for what in ("words", "strip", "sheet", "level")}
        whole = all(share > 0.99 for share in seen.values())
        report.check(f"desk: all that matters is seen at {name}", whole, ", ".join(f"{what} {100 * share:.0f} %" for what, share in seen.items()))
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    page.evaluate("scrollTo(0, 0)")
    page.wait_for_timeout(300)
    together = [page.evaluate(SEEN, what) for what in ("words", "sheet")]
    page.evaluate("document.getElementById('sheet').scrollIntoView({ block: 'end' })")
    page.wait_for_timeout(300)
    still = page.evaluate(SEEN, "words")
    report.check("desk: sentence and copy are seen together on a phone", min(*together, still) > 0.7, f"{together}, after scrolling {still:.2f}")
    page.set_viewport_size({"width": 1440, "height": 900})
    page.evaluate("scrollTo(0, 0)")


def check_alert(report, page):
    where = "(() => { const r = document.getElementById('sheet').getBoundingClientRect(); return [r.top, r.height]; })()"
    before = page.evaluate(where)
    page.evaluate("window.desk.ask('hold', { rate_baud: 300 })")
    told = until(page, "an alert", "/cannot be/.test(document.getElementById('alerts').textContent)", 6)
    same = page.evaluate(where) == before
    page.click("#alerts button")
    away = page.evaluate("document.querySelectorAll('#alerts .alert').length") == 0
    report.check("desk: an alert pushes nothing away, and is put away", told and same and away, f"{before}")


def check_lines(report, page):
    wrapped = []
    for width in (360, 720, 1024, 1440):
        page.set_viewport_size({"width": width, "height": 800})
        page.wait_for_timeout(250)
        wrapped.append(page.evaluate(WRAPPED))
    page.emulate_media(media="print")
    wrapped.append(page.evaluate(WRAPPED))
    page.emulate_media(media="screen")
    page.set_viewport_size({"width": 1440, "height": 900})
    report.check("desk: a line keeps its length at every width and in print", not any(wrapped), f"lines of two rows: {wrapped}")
    page.wait_for_timeout(250)
    off = page.evaluate(
        """() => { const s = document.getElementById('sheet'), c = getComputedStyle(s);
        const ruler = document.createElement('span'); ruler.textContent = '0'.repeat(69);
        const line = document.createElement('div'); line.className = 'line'; line.append(ruler); s.append(line);
        const wide = ruler.getBoundingClientRect().width; line.remove();
        return 69 * parseFloat(c.fontSize) * parseFloat(getComputedStyle(document.documentElement).getPropertyValue('--advance')) - wide; }"""
    )
    report.near("desk: the scale of columns against 69 typed characters, px off", off, 0.0, 1.0)


def check_doubt(report, page):
    ask(page, static_per_min=120)
    found = until(page, "a doubtful character", "document.querySelectorAll('#sheet .line:not(:last-child) .d').length > 1", 90)
    if not found:
        report.skip("desk: doubt", "nothing doubtful came")
        return
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        contrast = page.evaluate(CONTRAST)
        report.check(f"desk: the sign of doubt has a contrast of 3 to 1, {scheme}", contrast >= 3, f"{contrast:.2f}")
    page.emulate_media(color_scheme="light")
    page.keyboard.press("F8")
    first = page.evaluate("document.activeElement.className")
    page.keyboard.press("Shift+F8")
    why = say(page, "#slip")
    report.check("desk: from doubt to doubt by key, and why", " d" in f" {first}" and "%" in why, f"{first!r}: {why!r}")
    page.click("#doubt-next")
    page.click("#doubt-before")
    report.check("desk: and by button", page.is_visible("#slip"), say(page, "#slip"))


def check_sound(report, page, heard):
    before = len(heard)
    page.click("#ear")
    page.wait_for_timeout(1500)
    on = len(heard)
    page.click("#ear")
    page.wait_for_timeout(500)
    off = len(heard)
    page.wait_for_timeout(1000)
    report.check("desk: the received sound comes when it is asked for, and not else", before == 0 and on > 20 and len(heard) - off < 5, f"{before}, {on}, then {len(heard) - off}")


def check_pointing(report, page):
    box = page.locator("#strip").bounding_box()
    page.mouse.click(box["x"] + box["width"] * (1000 - 200) / 2800, box["y"] + box["height"] / 2)
    held = until(page, "the place", "document.getElementById('hold-pair').getAttribute('aria-pressed') === 'true'", 6)
    page.click("#let-go")
    free = until(page, "letting go", "document.querySelectorAll('.facts [aria-pressed=true]').length === 0", 6)
    report.check("desk: a click on the strip follows what is there, and is let go", held and free)


def check_again(report, page):
    page.evaluate("document.getElementById('type').value = 2; document.getElementById('type').dispatchEvent(new Event('input'))")
    page.evaluate("document.getElementById('how-read').open = true")
    page.select_option("#target", "2210")
    page.wait_for_timeout(500)
    page.reload()
    until(page, "the page again", "document.querySelectorAll('#sheet .line').length > 0")
    kept = "document.getElementById('type').value === '2' && document.getElementById('how-read').open && document.getElementById('target').value === '2210'"
    report.check("desk: size, panels and aim are there after a reload", until(page, "what was set", kept, 10))


def check_rooms(report, browser, binary):
    """Practice in one browser is its own; the other goes on with the radio."""
    with desk(binary, practice=False) as (_, address, _):
        contexts = [browser.new_context(), browser.new_context()]
        one, other = [context.new_page() for context in contexts]
        for page in (one, other):
            page.goto(address)
            until(page, "the inputs", "document.getElementById('input').options.length > 0 && window.desk")
        one.click("#practise")
        practises = until(one, "the practice receiver", "document.getElementById('receiver').hidden === false")
        other.wait_for_timeout(1500)
        alone = other.evaluate("document.getElementById('receiver').hidden && document.getElementById('paper-name').textContent === 'The copy'")
        report.check("desk: who practises takes nobody along", practises and alone)
        copied = until(one, "practice copy", "document.querySelectorAll('#sheet .line').length > 0", 60)
        marked = one.evaluate("document.getElementById('sheet').classList.contains('practice')")
        report.check("desk: practice is marked as what it is", copied and marked)
        one.reload()
        stays = until(one, "practice again", "document.getElementById('receiver').hidden === false", 15)
        report.check("desk: and stays with its page through a reload", stays)
        empty = other.evaluate("document.querySelectorAll('#sheet .line').length") == 0
        report.check("desk: nothing of it stands on the other's sheet", empty)
        for context in contexts:
            context.close()
