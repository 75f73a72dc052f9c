// Two small charts in ink: how the receiver drifts since switch-on, and how sure the copy was.

import { Surface, colour } from "./canvas.js";

const MARGIN = { right: 10, top: 10, bottom: 22 };
/** Between labels and the edges beside them. */
const GAP = 6;
const FONT = "400 12px Jost, sans-serif";

/** Where the curve goes: on the left the longest label fits, its sign too. */
function frameOf({ context: c, width, height }, labels) {
  c.font = FONT;
  const widest = Math.max(...labels.map(({ words }) => c.measureText(words).width));
  return { x0: Math.ceil(widest) + 2 * GAP, x1: width - MARGIN.right, y0: MARGIN.top, y1: height - MARGIN.bottom };
}

function axes(c, f, labels) {
  c.strokeStyle = colour("hairline");
  c.lineWidth = 1;
  c.beginPath();
  for (const { y } of labels) {
    c.moveTo(f.x0, Math.round(y) + 0.5);
    c.lineTo(f.x1, Math.round(y) + 0.5);
  }
  c.stroke();
  c.fillStyle = colour("faded");
  c.font = FONT;
  c.textAlign = "right";
  for (const { y, words } of labels) c.fillText(words, f.x0 - GAP, y + 4);
}

/** A round step that gives two to five lines. */
function step(span) {
  const rough = span / 3;
  const ten = 10 ** Math.floor(Math.log10(rough));
  return [1, 2, 5, 10].map((k) => k * ten).find((s) => s >= rough);
}

export class DriftChart {
  /** `words` is where its sentence stands, if anywhere. */
  constructor(clock, id = "drift", words = "drift-words") {
    this.clock = clock;
    this.words = document.getElementById(words);
    this.surface = new Surface(id, () => this.draw());
    this.drift = { curve: [], settling: null, hz_per_min: null };
  }

  set(drift) {
    this.drift = drift;
    if (this.words) this.words.textContent = this.said();
    this.draw();
  }

  said() {
    const { curve, settling, hz_per_min: rate } = this.drift;
    if (curve.length < 2) return "How the receiver drifts shows here after a minute of copy.";
    const now = curve[curve.length - 1][0];
    const moving = rate === null ? [] : [`It moves ${Math.abs(rate).toFixed(1)} Hz a minute now.`];
    if (!settling) return [...moving, "There is no warm-up to be seen, or not yet."].join(" ");
    if (settling.settled_at_s <= now) return ["The receiver is warm.", ...moving].join(" ");
    const minutes = Math.max(1, Math.round((settling.settled_at_s - now) / 60));
    const left = Math.abs(settling.left_hz).toFixed(0);
    const when = this.clock.time(settling.settled_at_s);
    return `Warming up: ${left} Hz to go. Settled in about ${minutes} min, at ${when} UTC.`;
  }

  draw() {
    const { context: c, width, height } = this.surface;
    const { curve, settling } = this.drift;
    c.clearRect(0, 0, width, height);
    if (curve.length < 2) return;
    const last = curve[curve.length - 1][0];
    const end = settling ? Math.max(last * 1.1, Math.min(settling.settled_at_s * 1.05, last * 3)) : last * 1.02;
    const model = (t) => settling.from_hz * Math.exp(-t / settling.time_s);
    const all = curve.map((p) => p[1]).concat(settling ? [0, model(curve[0][0])] : []);
    const [low, high] = [Math.min(...all), Math.max(...all)];
    const pad = Math.max((high - low) * 0.1, 1);
    const every = step(high - low + 2 * pad);
    const labels = [];
    for (let hz = Math.ceil((low - pad) / every) * every; hz < high + pad; hz += every) {
      labels.push({ hz, words: `${String(hz).replace("-", "\u2212")} Hz` });
    }
    const f = frameOf(this.surface, labels);
    const x = (t) => f.x0 + (t / end) * (f.x1 - f.x0);
    const y = (hz) => f.y1 - ((hz - low + pad) / (high - low + 2 * pad)) * (f.y1 - f.y0);
    axes(c, f, labels.map(({ hz, words }) => ({ y: y(hz), words })));
    this.line(c, curve.map(([t, hz]) => [x(t), y(hz)]), [], 1.8);
    if (settling) {
      const dots = Array.from({ length: 60 }, (_, k) => (k / 59) * end).map((t) => [x(t), y(model(t))]);
      this.line(c, dots, [4, 4], 1);
    }
    this.times(c, f, x, end);
  }

  line(c, points, dash, wide) {
    c.strokeStyle = dash.length ? colour("rubric") : colour("ink");
    c.lineWidth = wide;
    c.setLineDash(dash);
    c.beginPath();
    points.forEach((p, k) => (k ? c.lineTo : c.moveTo).call(c, ...p));
    c.stroke();
    c.setLineDash([]);
  }

  times(c, f, x, end) {
    c.fillStyle = colour("faded");
    c.textAlign = "center";
    const minutes = step(end / 60) || 1;
    for (let m = 0; m * 60 < end; m += Math.max(minutes, 1)) {
      c.fillText(m === 0 ? "0" : `${m} min`, x(m * 60), f.y1 + 16);
    }
  }
}

/** Ten minutes of copy, five seconds to a stroke; tall is sure. */
export class Quality {
  constructor(id = "quality") {
    this.surface = new Surface(id, () => this.draw());
    this.clear();
  }

  clear() {
    this.slots = new Map();
    this.now = 0;
  }

  take(character) {
    const slot = Math.floor(character.start / 5);
    const [sum, count] = this.slots.get(slot) ?? [0, 0];
    this.slots.set(slot, [sum + character.probability, count + 1]);
    if (this.slots.size > 400) this.slots.delete(this.slots.keys().next().value);
  }

  draw(now = this.now) {
    this.now = now;
    const { context: c, width, height } = this.surface;
    c.clearRect(0, 0, width, height);
    const labels = [[1, "sure"], [0.75, ""], [0.5, "half"]].map(([p, words]) => ({ p, words }));
    const f = { ...frameOf(this.surface, labels), y1: height - 4, y0: 6 };
    const y = (p) => f.y1 - Math.max((p - 0.5) / 0.5, 0) * (f.y1 - f.y0);
    axes(c, f, labels.map(({ p, words }) => ({ y: y(p), words })));
    const last = Math.floor(now / 5);
    const wide = (f.x1 - f.x0) / 120;
    c.fillStyle = colour("ink");
    for (let k = 0; k < 120; k++) {
      const slot = this.slots.get(last - k);
      if (!slot) continue;
      const top = y(slot[0] / slot[1]);
      c.globalAlpha = 0.75;
      c.fillRect(f.x1 - (k + 1) * wide + 0.5, top, Math.max(wide - 1, 1), f.y1 - top + 1);
    }
    c.globalAlpha = 1;
  }
}
