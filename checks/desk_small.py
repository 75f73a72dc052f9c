"""Small things of the desk's page, in a real browser: the copy is saved, labels stand whole on
their charts, sentences end once, drawings follow the size of text, and what cannot be is said.
"""

import json

from check_desk import desk, say, until

# Notes what is written on canvases: where, how wide, how aligned, and how large a unit is.
NOTE_WRITING = """
window.written = {};
const write = CanvasRenderingContext2D.prototype.fillText;
CanvasRenderingContext2D.prototype.fillText = function (words, x, y) {
  const wide = this.measureText(words).width;
  const left = { right: x - wide, center: x - wide / 2 }[this.textAlign] ?? x;
  (window.written[this.canvas.id] ??= {})[words] = { left, scale: this.getTransform().a };
  return write.call(this, words, x, y);
};
"""
# Drift from 5 minutes of a receiver that cooled and settled: 1000 Hz below and none any more.
DRIFT = {"curve": [[0.0, -1000.0], [150.0, -300.0], [300.0, 0.0]], "settling": {"from_hz": -1000.0, "time_s": 60.0, "left_hz": 0.0, "settled_at_s": 250.0}, "hz_per_min": None}


def checks(report, browser, binary):
    with desk(binary) as (_, address, _):
        page, sockets = browser.new_page(accept_downloads=True), []
        page.add_init_script(NOTE_WRITING)

        def between(socket):
            server = socket.connect_to_server()
            sockets.append(socket)
            # The check's own drift only.
            server.on_message(lambda m: None if isinstance(m, str) and '"is":"drift"' in m else socket.send(m))

        page.route_web_socket("**/socket", between)
        page.goto(address)
        until(page, "copy", "document.querySelectorAll('#sheet .line').length > 0")
        check_save(report, page)
        check_drift(report, page, sockets[-1])
        check_size(report, page)
        check_line(report, page)
        page.close()


def check_save(report, page):
    with page.expect_download(timeout=20000) as saved:
        page.click("#save")
    name, text = saved.value.suggested_filename, open(saved.value.path(), encoding="utf-8").read()
    report.check("desk: the copy is saved under its time", name.startswith("practice-2") and len(text) > 10, f"{name}, {len(text)} characters")


def check_drift(report, page, socket):
    def drifted(**other):
        socket.send(json.dumps({"is": "drift", "value": DRIFT | other}))

    drifted()
    warm = until(page, "warm", "document.getElementById('drift-words').textContent === 'The receiver is warm.'", 6)
    report.check("desk: a sentence of the drift ends once", warm, say(page, "#drift-words"))
    labels = page.evaluate("Object.entries(window.written.drift ?? {}).filter(([words]) => words.endsWith('Hz'))")
    minus = [words for words, _ in labels if words.startswith("\u2212")]
    cut = [words for words, at in labels if at["left"] < 0]
    report.check("desk: labels of the drift stand whole, signs too", bool(minus) and not cut, f"{', '.join(minus)}; cut: {', '.join(cut) or 'none'}")


def check_size(report, page):
    scale = "window.written.rule?.['1000']?.scale ?? 0"
    until(page, "the rule", f"{scale} > 0")
    before = page.evaluate(scale)
    page.evaluate("document.documentElement.style.fontSize = '200%'")
    doubled = until(page, "larger writing", f"before => {scale} === 2 * before", 6, before)
    report.check("desk: drawings follow the size of text", doubled, f"{before} to {page.evaluate(scale)} dots a unit")
    page.evaluate("document.documentElement.style.fontSize = ''")


def check_line(report, page):
    page.evaluate("document.getElementById('line-length').closest('details').open = true")
    page.fill("#line-length", "5")
    page.press("#line-length", "Enter")
    told = until(page, "why not", "/A line has 20 to 200 characters, not 5/.test(document.getElementById('alerts').textContent)", 6)
    back = page.input_value("#line-length")
    report.check("desk: a line of 5 columns is refused in words", told and back == "69", f"{say(page, '#alerts')}; the line has {back}")
