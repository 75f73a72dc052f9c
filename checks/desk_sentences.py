"""The one sentence of the desk in a real browser: what is said, and that whatever is wrong
replaces it, on a desk of its own that is deafened, stopped and killed.
"""

import json
import signal
import time

from check_desk import ask, desk, say, until

# What the station tells of tuning: the word for the style sheet, the sentence, and what is wrong, if
# anything. The words are those of crates/markhold-station/src/tuning.
TOLD = [
    ("nothing", "no tones heard", None),
    ("turn", "turn the dial 140 Hz up", None),
    ("move", "turn until the pitch is 100 Hz higher", None),
    ("one-tone", "one tone only, at the edge: turn the dial 210 Hz up", None),
    ("steady-tone", "one steady tone: idle, or a carrier", None),
    ("other-sideband", "in tune; mark and space are swapped (other sideband?), copied all the same", None),
    ("overlap", "two signals overlap", None),
    ("waiting", "waiting; last heard 40 s ago", None),
    ("in-tune", "in tune, drifting 2 Hz a minute", None),
    ("fault", "no sound: is the cable in, and the right input chosen?", "silence"),
    ("fault", "this computer is too slow for the copy; the sound is kept", "behind"),
    ("fault", "the sound has ended", "ended"),
]
WORDS = "document.getElementById('words').textContent"
LEVEL = "document.getElementById('level-words').textContent"
# The page looks twice a second, and believes the desk gone after three.
SOON_S = 6


def is_said(page, part, patience_s=SOON_S):
    return until(page, part, f"part => {WORDS}.includes(part)", patience_s, part)


def is_sound_praised(page):
    """Whether anything on the page still says that all is well."""
    return page.evaluate(f"/in tune/i.test({WORDS}) || /good/.test({LEVEL})")


def check_each(report, browser, address):
    """Everything that can be told, put in place of what the real desk tells."""
    page, sockets = browser.new_page(), []

    def between(socket):
        server = socket.connect_to_server()
        sockets.append(socket)

        def passed(message):
            # Anything but tuning: that is the check's.
            if not (isinstance(message, str) and '"report":"tuning"' in message):
                socket.send(message)

        server.on_message(passed)

    page.route_web_socket("**/socket", between)
    page.goto(address)
    until(page, "the level", f"/good/.test({LEVEL})")
    wrong, passages = [], []
    for what, words, fault in TOLD:
        tuning = {"at_s": 1.0, "do": what, "fault": fault, "words": words, "tones_hz": None, "passband_hz": None, "target_hz": 2210.0}
        sockets[-1].send(json.dumps({"is": "report", "value": {"report": "tuning", "value": tuning}}))
        sentence = words[0].upper() + words[1:]
        said = until(page, words, f"words => {WORDS} === words", SOON_S, sentence)
        good = until(page, "the level", f"fault => /good/.test({LEVEL}) !== fault", SOON_S, fault is not None)
        passages.append(page.get_attribute("#words-more", "href"))
        if not (said and good):
            wrong.append(f"{words!r}: {say(page, '#words')!r}, {say(page, '#level-words')!r}")
    report.check("desk: each sentence is shown, none of a fault beside a good level", not wrong, "; ".join(wrong) or f"{len(TOLD)} sentences")
    apart = len(set(passages)) == len(TOLD) and all(p.startswith("/manual/trouble.html#") for p in passages)
    report.check("desk: each sentence leads to a passage of its own", apart, ", ".join(p.partition("#")[2] for p in passages))
    sockets[-1].send(json.dumps({"is": "beat", "value": {"still_s": 4.0}}))
    tuning["do"] = "in-tune"
    sockets[-1].send(json.dumps({"is": "report", "value": {"report": "tuning", "value": tuning}}))
    still = until(page, "still", f"{WORDS}.includes('takes in no sound') || {WORDS}.includes('The sound has ended')", SOON_S)
    report.check("desk: a desk that beats but takes in no sound is told", still, say(page, "#words"))
    page.close()


def check_sound(report, page):
    """What is wrong with the sound, by the knobs of the practice receiver."""
    well = f"!/^(Opening|Too|The sound|No sound)/.test({WORDS}) && /good/.test({LEVEL})"
    for name, turned, part in (
        ("too loud", {"volume_db": 30}, "Too loud"),
        ("too quiet", {"volume_db": -60}, "Too quiet"),
        ("the plug is out", {"plugged": False}, "The sound input is gone"),
    ):
        report.check(f"desk: all is well before: {name}", until(page, "a good level", well))
        ask(page, **turned)
        said = is_said(page, part) and not is_sound_praised(page)
        report.check(f"desk: replaces the sentence: {name}", said, f"{say(page, '#words')}; {say(page, '#level-words')}")
        ask(page, volume_db=0, plugged=True)


def check_beat(report, page, program):
    """The server hangs, then goes on, then is stopped."""
    program.send_signal(signal.SIGSTOP)
    begun = time.monotonic()
    hangs = is_said(page, "The desk does not answer", 10) and not is_sound_praised(page)
    after_s = time.monotonic() - begun
    report.check("desk: a server that hangs is told within 5 s", hangs and after_s < 5, f"after {after_s:.1f} s")
    report.check("desk: and that nothing came from it", "Nothing has come from it" in say(page, "#detail"), say(page, "#detail"))
    program.send_signal(signal.SIGCONT)
    goes_on = until(page, "the desk again", f"!/does not answer/.test({WORDS}) && /good/.test({LEVEL})")
    report.check("desk: and its going on", goes_on, say(page, "#words"))
    program.terminate()
    stopped = is_said(page, "The desk does not answer", 60) and not is_sound_praised(page)
    told = until(page, "why", "/was stopped/.test(document.getElementById('detail').textContent)", SOON_S)
    report.check("desk: a stopped server is told", stopped and told, say(page, "#detail"))


def check_sentences(report, browser, binary):
    with desk(binary) as (program, address, _):
        check_each(report, browser, address)
        page = browser.new_page()
        page.goto(address)
        until(page, "the practice receiver", "document.getElementById('receiver').hidden === false && window.desk")
        check_sound(report, page)
        check_beat(report, page, program)
        page.close()


def check_no_input(report, browser, binary):
    """A machine without a sound input; where there is one, there is nothing to see."""
    with desk(binary, practice=False) as (_, address, _):
        page = browser.new_page()
        page.goto(address)
        opened = until(page, "a sentence", f"!/^(Opening|Listening)/.test({WORDS})", 20)
        if not opened or not page.evaluate("/No sound/.test(document.getElementById('alerts').textContent)"):
            report.skip("desk: no sound input", "this machine has one")
        else:
            said = is_said(page, "No sound input") and not is_sound_praised(page)
            report.check("desk: no sound input is told", said, say(page, "#words"))
        page.close()
