"""A page is told the latest of the sheet and comes to the rest by asking for what stands above."""

import json

from check_desk import desk, until

LINES = "[...document.querySelectorAll('#sheet .line, #sheet .gap')].map(e => (e.dataset.time || '') + '|' + e.textContent)"
# What the cut page is told of the sheet at first, rows.
FIRST = 3
# The last lines are typed and decided while they are compared.
TYPED = 3


def cut(message):
    """A message of the desk, but of a whole sheet the last rows only, as of one too large to be told at once."""
    said = json.loads(message)
    if said["is"] != "sheet" or not said["value"].get("layout"):
        return message
    last = said["value"]["pieces"][-1]
    begin = max(len(last["rows"]) - FIRST, 0)
    row = last["from"] + begin
    said["value"]["pieces"] = [{**last, "rows": last["rows"][begin:], "from": row}]
    said["value"]["above"] = {"piece": last["piece"], "row": row}
    return json.dumps(said)


def between(asked):
    """Stands between page and desk; notes what is asked for."""
    def handle(socket):
        server = socket.connect_to_server()
        server.on_message(lambda m: socket.send(cut(m) if isinstance(m, str) else m))

        def up(message):
            if isinstance(message, str) and '"ask":"above"' in message:
                asked.append(message)
            server.send(message)
        socket.on_message(up)
    return handle


def checks(report, browser, binary):
    with desk(binary, pace=8) as (_, address, _):
        whole = browser.new_page()
        whole.goto(address)
        until(whole, "copy", "document.querySelectorAll('#sheet .line').length > 40", 150)
        page, asked, wrong = browser.new_page(), [], []
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.route_web_socket("**/socket", between(asked))
        page.goto(address)
        until(page, "all of the sheet", "count => document.querySelectorAll('#sheet .line').length >= count", 20, len(whole.evaluate(LINES)))
        for _ in range(50):  # both type on, not in the same moment
            one, other = whole.evaluate(LINES), page.evaluate(LINES)
            settled = min(len(one), len(other)) - TYPED
            if one[:settled] == other[:settled]:
                break
            page.wait_for_timeout(200)
        unlike = next((pair for pair in zip(one[:settled], other[:settled]) if pair[0] != pair[1]), "")
        report.check("above: what was not told at once is asked for, and stands as if it had been", asked and settled > 40 - TYPED and one[:settled] == other[:settled] and not wrong,
                     f"{len(one)} and {len(other)} lines, asked {len(asked)} times; {unlike} {'; '.join(wrong)}")
        page.close()
        whole.close()
