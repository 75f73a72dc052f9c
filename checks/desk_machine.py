"""A machine fed from the desk, in a real browser: a socket stands in for the machine."""

import contextlib
import re
import socket
import tempfile

import alphabet
from check_desk import desk, until

SETTINGS = """[machine.shack]
kind = "ita2-69-50"
rate_baud = 300
way = "codes:127.0.0.1:{port}"
"""


def received(machine, least):
    """At least so many codes from the machine's end of the socket."""
    codes = b""
    while len(codes) < least:
        more = machine.recv(4096)
        if not more:
            break
        codes += more
    return codes


def check_machine(report, browser, binary):
    with contextlib.ExitStack() as stack:
        listener = stack.enter_context(socket.create_server(("127.0.0.1", 0)))
        listener.settimeout(60)
        port = listener.getsockname()[1]
        settings = stack.enter_context(tempfile.NamedTemporaryFile("w", suffix=".toml"))
        settings.write(SETTINGS.format(port=port))
        settings.flush()
        _, address, _ = stack.enter_context(desk(binary, "--settings", settings.name))
        page = browser.new_page()
        page.goto(address)
        page.click("#printer summary")
        meant = until(page, "the machine", "document.getElementById('machine').value === 'shack'")
        report.check("desk: the machine of the settings file is meant", meant)
        report.check("desk: the caution stands at the control", "can kill" in page.inner_text("#printer"))
        still = "document.getElementById('printing').textContent"
        report.check("desk: nothing moves before it is asked for", page.evaluate(still) == "")
        page.fill("#patience", "0")
        page.click("#print-start")
        machine, _ = listener.accept()
        machine.settimeout(60)
        prints = until(page, "printing", "/shack prints along/.test(document.getElementById('printing').textContent)")
        report.check("desk: the machine prints along", prints, page.inner_text("#printing"))
        on_paper = " ".join(alphabet.decode(received(machine, 260)).split())
        # Both come from the same first readings; the sheet has better ones by and by.
        word = next(iter(re.findall(r"\b[A-QS-X]{4,9}\b", on_paper.rpartition(" ")[0])), "")
        same = until(page, "the same words", "word => document.getElementById('sheet').textContent.includes(word)", argument=word)
        report.check("desk: paper and sheet hold the same words", bool(word) and same, repr(on_paper[-80:]))
        listener.close()
        machine.close()
        lost = until(page, "the loss", "/start the interface/.test(document.getElementById('alerts').textContent)")
        report.check("desk: a lost machine is told with what to do", lost, page.inner_text("#alerts"))
        page.click("#print-stop")
        stopped = until(page, "stopping", "/has stopped; its line is in mark/.test(document.getElementById('printing').textContent)")
        report.check("desk: the machine is stopped", stopped, page.inner_text("#printing"))
        page.close()
