// What a person does with the readings of an evening: lets one stand, corrects a line, lays two
// beside each other.

const $ = (id) => document.getElementById(id);
/** Lines of two readings that begin so close to each other are of the same sender's line, s. */
const CLOSE = 2;

/** Where two texts differ: pieces of [words of both, only of the first, only of the second]. */
export function differences(a, b) {
  const wide = b.length + 1;
  const cost = new Uint16Array((a.length + 1) * wide);
  for (let i = a.length; i >= 0; i--) {
    for (let k = b.length; k >= 0; k--) {
      const at = i * wide + k;
      if (i === a.length || k === b.length) cost[at] = a.length - i + b.length - k;
      else cost[at] = a[i] === b[k] ? cost[at + wide + 1] : 1 + Math.min(cost[at + wide], cost[at + 1]);
    }
  }
  const pieces = [];
  for (let i = 0, k = 0; i < a.length || k < b.length;) {
    const same = i < a.length && k < b.length && a[i] === b[k];
    const first = !same && i < a.length && (k === b.length || cost[(i + 1) * wide + k] <= cost[i * wide + k + 1]);
    const last = pieces[pieces.length - 1];
    const place = last && Boolean(last[0]) === same ? last : pieces[pieces.push(["", "", ""]) - 1];
    if (same) [place[0], i, k] = [place[0] + a[i], i + 1, k + 1];
    else if (first) place[1] += a[i++];
    else place[2] += b[k++];
  }
  return pieces;
}

/** Lines of two readings side by side, in order of time; `null` where one has none. */
export function beside(a, b) {
  const [left, right] = [[...a], [...b]];
  const pairs = [];
  while (left.length || right.length) {
    const [x, y] = [left[0], right[0]];
    if (x && y && Math.abs(x.at - y.at) < CLOSE) pairs.push([left.shift(), right.shift()]);
    else if (!y || (x && x.at < y.at)) pairs.push([left.shift(), null]);
    else pairs.push([null, right.shift()]);
  }
  return pairs;
}

export class Hands {
  /** `ask` asks the desk, `show` opens an evening with a reading, `attempt` says in words what cannot be. */
  constructor({ ask, show, attempt, clock, paper }) {
    Object.assign(this, { ask, show, attempt, clock, paper });
    this.evening = null;
    this.line = null;
    $("stand").addEventListener("click", () => attempt(() => this.stand()));
    $("beside").addEventListener("change", () => attempt(() => this.compare(Number($("beside").value))));
    $("correction").addEventListener("submit", (event) => {
      event.preventDefault();
      attempt(() => this.keep());
    });
    $("correction-leave").addEventListener("click", () => this.leave());
    $("correct").addEventListener("click", () => this.begin());
  }

  /** An evening is open, with one of its readings. */
  opened(evening) {
    this.evening = evening;
    this.leave();
    $("differences").replaceChildren();
    const { readings, reading, best } = evening;
    const over = evening.length_s !== null;
    $("stand").hidden = !over || reading === best;
    $("correct").hidden = !over || !readings.length;
    $("beside-label").hidden = readings.length < 2;
    const others = readings.map((r, k) => [k + 1, r]).filter(([k]) => k !== reading);
    $("beside").replaceChildren(new Option("none", "0"), ...others.map(([k, r]) => new Option(`${k}: ${how(r)}`, String(k))));
  }

  async stand() {
    const { id, reading } = this.evening;
    await this.ask(`/${id}/choose`, { reading });
    await this.show(id, reading, null);
  }

  /** The line that is marked in the copy, or the first, is written anew. */
  begin() {
    const marked = this.paper.querySelector(".line.now:not(.was-sent)") ?? this.paper.querySelector(".line:not(.was-sent)");
    if (!marked) return;
    this.take(marked);
  }

  take(row) {
    const at = Number(row.dataset.at);
    this.line = this.evening.lines.find((line) => line.signal !== null && line.at === at) ?? null;
    if (!this.line) return;
    for (const other of this.paper.querySelectorAll(".line")) other.classList.toggle("now", other === row);
    $("correction").hidden = false;
    $("correction-at").textContent = this.clock.time(at, true);
    $("correction-text").value = this.line.text.trimEnd();
    $("correction-text").focus();
  }

  /** A line was touched: while one is corrected, this one is. */
  touched(row) {
    if (!$("correction").hidden && !row.classList.contains("was-sent")) this.take(row);
  }

  leave() {
    $("correction").hidden = true;
    this.line = null;
  }

  async keep() {
    const { id, reading } = this.evening;
    const { signal, at } = this.line;
    const kept = await this.ask(`/${id}/correct`, { reading, signal, at, text: $("correction-text").value });
    await this.show(id, kept, at);
    $("correct").focus();
  }

  /** Lays another reading beside the one that is open. */
  async compare(other) {
    const list = $("differences");
    list.replaceChildren();
    if (!other) return;
    const { lines } = await this.ask(`/${this.evening.id}?reading=${other}`);
    const received = (all) => all.filter((line) => line.signal !== null);
    const pairs = beside(received(this.evening.lines), received(lines));
    const differ = pairs.filter(([x, y]) => x?.text.trimEnd() !== y?.text.trimEnd());
    const said = document.createElement("li");
    said.textContent = differ.length ? `${differ.length} of ${pairs.length} lines differ; what only reading ${this.evening.reading} has is struck out, what only reading ${other} has is underlined.` : "Both say the same.";
    list.append(said, ...differ.map(([x, y]) => this.pair(x, y)));
  }

  pair(x, y) {
    const li = document.createElement("li");
    const time = document.createElement("span");
    time.className = "at";
    time.textContent = `${this.clock.time((x ?? y).at, true)} `;
    li.append(time);
    for (const [both, first, second] of differences(x?.text.trimEnd() ?? "", y?.text.trimEnd() ?? "")) {
      for (const [kind, words] of [["", both], ["del", first], ["ins", second]]) {
        if (words) li.append(kind ? Object.assign(document.createElement(kind), { textContent: words }) : words);
      }
    }
    return li;
  }
}

/** How a reading was made. */
export function how(r) {
  if (r.by_hand) return "corrected by a person";
  return r.live ? "live" : r.finished ? "copied again" : "being copied, or broken off";
}
