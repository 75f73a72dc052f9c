// What an instrument shows, beside a good and a bad example: invented signals, drawn by the
// instrument's own code.

import { Clock } from "./clock.js";
import { DriftChart, Quality } from "./charts.js";
import { Eye, Figure } from "./glasses.js";
import { Level } from "./level.js";
import { cells } from "./marks.js";
import { Rule } from "./rule.js";
import { Strip } from "./strip.js";

const TAU = 2 * Math.PI;
/** The usual tones, mark and space on the lower sideband, Hz (common practice). */
const TONES = [2125, 2295];
/** Elements of RY: every one is another than the one before. */
const ELEMENTS = [0, 1, 0, 1, 0, 1, 1, 0, 0, 1, 0, 1, 0, 1];

/** Noise that is the same each time: sums of uniform numbers (Lehmer's generator). */
function noise(seed) {
  let state = seed;
  const next = () => (state = (state * 48271) % 2147483647) / 2147483647 - 0.5;
  return () => next() + next() + next();
}

/** Mark and space at right angles; `space` is how strong the other tone is, `rough` the noise. */
function crossed(space, rough) {
  return (canvas) => {
    const figure = new Figure(canvas.id);
    return () => {
      const random = noise(7);
      figure.wipe();
      figure.last = null;
      for (const mark of ELEMENTS) {
        const points = [];
        for (let k = 0; k < 40; k++) {
          // A filter lets an element swell and fade: each begins and ends in the middle.
          const swell = Math.sin((Math.PI * k) / 39) ** 0.5;
          const [a, b] = [swell * Math.cos((TAU * k) / 13), 0.07 * swell * Math.sin((TAU * k) / 13)];
          const [x, y] = mark ? [a, b] : [b, a * space];
          points.push(115 * (x + rough * random()), 115 * (y + rough * random()));
        }
        figure.draw(points);
      }
    };
  };
}

/** Elements laid over each other, with edges as a filter rounds them. */
function eye(rough) {
  return (canvas) => {
    const glass = new Eye(canvas.id);
    return () => {
      const random = noise(11);
      glass.wipe();
      const traces = ELEMENTS.map((mark, n) => {
        const [before, after] = [ELEMENTS[n - 1] ?? 1, ELEMENTS[n + 1] ?? 1];
        const points = [];
        for (let k = 0; k <= 24; k++) {
          const at = k / 12 - 1;
          const other = at < 0 ? before : after;
          const over = 1 / (1 + Math.exp(-10 * (Math.abs(at) - 0.5)));
          const v = (1 - over) * (mark ? 1 : -1) + over * (other ? 1 : -1);
          points.push(Math.max(-127, Math.min(127, 120 * (v + rough * random()))));
        }
        return { points };
      });
      glass.draw({ length: 0 });
      glass.draw(traces);
    };
  };
}

/** A passband with two tones that take turns; a filter that ends at `edge` Hz. */
function band(edge) {
  return (canvas) => {
    const strip = new Strip(new Clock(), canvas.id);
    return () => {
      const random = noise(5);
      strip.clear();
      for (let row = 0; row < 160; row++) {
        const mark = ELEMENTS[(row >> 2) % ELEMENTS.length];
        const db = Array.from({ length: 256 }, (_, bin) => {
          const hz = (bin * 4000) / 256;
          const through = hz > 300 && hz < edge ? 0 : -50;
          const tone = TONES.reduce((sum, at, n) => Math.max(sum, (n !== mark ? 40 : 14) - Math.abs(hz - at) * 0.8), 0);
          return -90 + through + Math.max(tone, 0) + 9 * random();
        });
        strip.take({ at: row / 30, db });
      }
      strip.draw();
    };
  };
}

function column(level) {
  return (canvas) => {
    const tube = new Level(canvas.id, null);
    return () => {
      for (let k = 0; k < 30; k++) tube.take(level);
      tube.draw();
    };
  };
}

/** The rule below the strip, with the pens at these tones, Hz; the notches are at the usual ones. */
function ruled(tones) {
  return (canvas) => {
    const rule = new Rule(canvas.id);
    rule.set(tones, 0, (TONES[0] + TONES[1]) / 2);
    return () => rule.draw();
  };
}

/** Ten minutes of copy, each five seconds as sure as `share(minutes ago)` says. */
function sureness(share) {
  return (canvas) => {
    const quality = new Quality(canvas.id);
    const random = noise(3);
    for (let s = 0; s < 600; s += 5) quality.take({ start: s, probability: Math.max(0.5, Math.min(1, share(10 - s / 60) + 0.04 * random())) });
    return () => quality.draw(599);
  };
}

/** An hour since switch-on: how far off the receiver is after so many seconds, Hz. */
function drifting(hz, settling) {
  return (canvas) => {
    const chart = new DriftChart(null, canvas.id, null);
    const curve = Array.from({ length: 61 }, (_, minute) => [minute * 60, hz(minute)]);
    chart.set({ curve, settling, hz_per_min: null });
    return () => chart.draw();
  };
}

/** Copy, with the sure share of the characters that are not. */
function copy(text, doubts) {
  return (canvas) => {
    const line = document.createElement("p");
    line.className = "sheet line";
    const marks = doubts.map(([column, probability]) => ({ column, struck: [{ glyph: text[column], early: false, character: { probability, alternatives: [] } }] }));
    line.append(...cells({ text, marks }, new WeakMap()));
    line.querySelectorAll("[role]").forEach((mark) => mark.removeAttribute("role"));
    canvas.replaceWith(line);
    return () => {};
  };
}

const LEGENDS = {
  figure: {
    name: "The crossed tones",
    words: "Mark moves the pen across, space moves it upright.",
    good: ["Two slim ellipses, equally long: both tones come through.", crossed(1, 0.03)],
    bad: ["The upright one is short and all is rough: space has faded, or lies outside of the filter.", crossed(0.3, 0.28)],
    more: "/manual/tuning.html#the-crossed-tones",
  },
  eye: {
    name: "The eye of the elements",
    words: "Every element laid over the others: mark above, space below.",
    good: ["An empty eye between two clear bands: read with ease.", eye(0.06)],
    bad: ["The eye closes: noise. Characters will be doubtful.", eye(0.75)],
    more: "/manual/tuning.html#the-eye",
  },
  strip: {
    name: "The strip",
    words: "What the receiver lets through, low tones on the left, the newest at the bottom. Dark is strong.",
    good: ["Two lines that take turns, both well inside the filter.", band(2700)],
    bad: ["The filter ends between them: one tone only.", band(2210)],
    more: "/manual/tuning.html#the-strip",
  },
  rule: {
    name: "The brass rule",
    words: "The scale of the tones' frequency, below the strip: the pens hang where the tones are, the notches are where they belong.",
    good: ["Each pen over its notch: in tune.", ruled(TONES)],
    bad: ["Both pens away from the notches: turn the dial as the sentence says.", ruled([1480, 1650])],
    more: "/manual/tuning.html#the-brass-rule",
  },
  quality: {
    name: "How sure the copy was",
    words: "Ten minutes of copy, the newest on the right; the taller the surer.",
    good: ["Tall throughout, with a short dip: a fade that came and went.", sureness((ago) => 0.98 - 0.3 * Math.exp(-((ago - 4) ** 2) * 8))],
    bad: ["Lower and lower: the way through the air closes. Leave the dial alone and wait, or try another band.", sureness((ago) => 0.55 + 0.042 * ago)],
    more: "/manual/tuning.html#how-sure-the-copy-was",
  },
  drift: {
    name: "Since switch-on",
    words: "How far the receiver has moved since it was switched on; dashed is what it is expected to do.",
    good: ["It runs out flat: the receiver gets warm and will stand still.", drifting((m) => 80 * Math.exp(-m / 14), { from_hz: 80, time_s: 840, settled_at_s: 3400 })],
    bad: ["It jumps and wanders: a loose connection, or a draught at the set. The copy follows, with doubt at the jumps.", drifting((m) => 30 * Math.sin(m / 6) + (m > 24 ? 45 : 0) - (m > 41 ? 70 : 0), null)],
    more: "/manual/tuning.html#since-switch-on",
  },
  level: {
    name: "The level",
    words: "The column is the mean level, the bar above it the highest peak, in dB below full scale.",
    good: ["Between \u221240 and \u221212 dB.", column({ rms: -24, peak: -12, state: "good" })],
    bad: ["At full scale what is cut off makes tones that nobody sends.", column({ rms: -5, peak: 0, state: "clipping" })],
    more: "/manual/tuning.html#the-level",
  },
  copy: {
    name: "The copy",
    words: "What somebody far away types, as it comes. Nothing is put in its place where it is unsure.",
    good: ["No lines under it: as good as certain.", copy("THE FERRY LEAVES AT NINE", [])],
    bad: ["Dots, dashes, a full line: less and less sure. Touch one and it says why.", copy("THE FERBY LEAXES AT NINE", [[7, 0.7], [13, 0.4], [18, 0.9]])],
    more: "/manual/doubt.html",
  },
};

const $ = (id) => document.getElementById(id);

function part(kind, what = {}, ...within) {
  const element = Object.assign(document.createElement(kind), what);
  element.append(...within);
  return element;
}

/** Where it is shown; made when first wanted. */
function dialog() {
  const there = $("legend");
  if (there) return there;
  const example = (which, called) => {
    const place = part("div", { className: "example" });
    place.dataset.place = which;
    return part("figure", {}, place, part("figcaption", {}, part("strong", { textContent: called }), " ", part("span", { id: `legend-${which}-words` })));
  };
  const more = part("a", { id: "legend-more", className: "to-manual", target: "markhold-manual", textContent: "More in the manual" });
  const close = part("form", { method: "dialog" }, more, part("button", { type: "submit", textContent: "Close" }));
  const all = [part("h2", { id: "legend-name" }), part("p", { id: "legend-what" }), part("div", { className: "examples" }, example("good", "Good"), example("bad", "Bad")), close];
  const made = part("dialog", { id: "legend" }, ...all);
  made.setAttribute("aria-labelledby", "legend-name");
  document.body.append(made);
  return made;
}

function put(which, [words, drawn]) {
  const canvas = part("canvas", { id: `legend-${which}` });
  $("legend").querySelector(`[data-place=${which}]`).replaceChildren(canvas);
  canvas.setAttribute("role", "img");
  canvas.setAttribute("aria-label", `${which} example: ${words}`);
  $(`legend-${which}-words`).textContent = words;
  const draw = drawn(canvas);
  // After the instrument's own look at its size, which wipes it.
  if (canvas.isConnected) new ResizeObserver(draw).observe(canvas);
}

/** Shows what there is to know of an instrument. */
export function show(name) {
  const legend = LEGENDS[name];
  const shown = dialog();
  $("legend-name").textContent = legend.name;
  $("legend-what").textContent = legend.words;
  $("legend-more").href = legend.more;
  shown.dataset.of = name;
  shown.showModal();
  put("good", legend.good);
  put("bad", legend.bad);
}
