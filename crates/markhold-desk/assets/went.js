// How skeds went: a small picture of the last weeks for each, and one hint where there is one.

const $ = (id) => document.getElementById(id);
const SVG = "http://www.w3.org/2000/svg";
/** Most width of a picture, and its height; above is the share of sure characters, below the sun at both ends. */
const [WIDEST, HIGH, FOOT] = [640, 78, 18];

function element(name, text, kind = "") {
  const made = document.createElement(name);
  made.textContent = text;
  if (kind) made.className = kind;
  return made;
}

function drawn(name, attributes, words = "") {
  const made = document.createElementNS(SVG, name);
  Object.entries(attributes).forEach(([key, value]) => made.setAttribute(key, value));
  if (words) {
    const title = document.createElementNS(SVG, "title");
    title.textContent = words;
    made.append(title);
  }
  return made;
}

const day = (at) => new Intl.DateTimeFormat("en-GB", { weekday: "short", day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" }).format(Date.parse(at));
const whole = (value, unit) => (value === null ? "" : `, ${Math.round(value)} ${unit}`);

/** One run in words: what a finger or a reader gets. */
function said(run) {
  if (run.state === "missed") return `${day(run.begins)}: missed, ${run.cause}`;
  const sure = `${Math.round(run.sure * 100)} % of ${run.characters} characters sure`;
  return `${day(run.begins)}: ${sure}${whole(run.snr_3khz_db, "dB in 3 kHz")}${whole(run.drift_hz, "Hz of drift")}`;
}

/** The sun's height as what it does to the way: up, twilight (to 12 degrees below), down. */
const light = (degrees) => (degrees > -0.8 ? "up" : degrees > -12 ? "twilight" : "down");

function mark(run, x) {
  const y = 6 + (1 - run.sure) * (HIGH - 12);
  if (run.state === "kept") return drawn("circle", { cx: x, cy: y, r: 4.5, class: "kept" }, said(run));
  const [l, r, t, b] = [x - 4, x + 4, HIGH - 10, HIGH - 2];
  const kind = run.listened ? "unheard" : "away";
  return drawn("path", { d: `M${l} ${t}L${r} ${b}M${l} ${b}L${r} ${t}`, class: kind }, said(run));
}

function suns(run, x, names) {
  return names.filter((name) => run[name] !== null).map((name) => {
    const y = HIGH + 2 + 8 * names.indexOf(name);
    const where = name === "sun_here" ? "here" : "at the sender";
    return drawn("rect", { x: x - 4, y, width: 8, height: 6, class: `sun ${light(run[name])}` }, `Sun ${light(run[name])} ${where}`);
  });
}

function picture({ title, runs }, from, until) {
  const names = ["sun_here", "sun_there"].filter((name) => runs.some((run) => run[name] !== null));
  const high = HIGH + 2 + names.length * (FOOT / 2);
  // One unit is one pixel, so that words stay as large on a phone.
  const wide = Math.min(WIDEST, $("went").clientWidth || WIDEST);
  const svg = drawn("svg", { viewBox: `0 0 ${wide} ${high}`, width: wide, height: high, role: "img", "aria-label": `${title}: share of sure characters over the last weeks` });
  for (const share of [0, 0.5, 1]) {
    const y = 6 + (1 - share) * (HIGH - 12);
    svg.append(drawn("line", { x1: 40, x2: wide, y1: y, y2: y, class: "rule" }));
    const words = drawn("text", { x: 34, y: y + 4, "text-anchor": "end" });
    words.textContent = `${share * 100} %`;
    svg.append(words);
  }
  const x = (run) => 46 + ((Date.parse(run.begins) - from) / (until - from)) * (wide - 54);
  runs.forEach((run) => svg.append(mark(run, x(run)), ...suns(run, x(run), names)));
  return svg;
}

function row(sked, from, until) {
  const made = document.createElement("figure");
  const kept = sked.runs.filter((run) => run.state === "kept").length;
  const words = document.createElement("details");
  words.append(element("summary", "In words"));
  const list = document.createElement("ul");
  list.replaceChildren(...sked.runs.slice().reverse().map((run) => element("li", said(run), run.state)));
  words.append(list);
  made.append(element("figcaption", `${sked.title}: ${kept} of ${sked.runs.length} kept`), picture(sked, from, until), words);
  return made;
}

/** Begins where there is the most to see: the first run of all, a fortnight back at least. */
function begin(went) {
  const first = Math.min(...went.skeds.flatMap((sked) => sked.runs.map((run) => Date.parse(run.begins))));
  return Math.max(Date.parse(went.from), Math.min(first, Date.parse(went.until) - 14 * 86400000));
}

async function show() {
  if (!$("went").open) return;
  try {
    const answer = await fetch("/skeds/went");
    if (!answer.ok) return;
    const went = await answer.json();
    const skeds = went?.skeds ?? [];
    $("went-hint").textContent = went?.hint ? `${went.hint}.` : skeds.length ? "Nothing can be said yet that chance may not have made." : "No sked has come yet.";
    const until = Date.parse(went?.until ?? 0);
    $("went-skeds").replaceChildren(...skeds.map((sked) => row(sked, begin(went), until)));
    $("went-legend").hidden = skeds.length === 0;
  } catch {
    // The page says elsewhere that the desk does not answer.
  }
}

export class Went {
  constructor() {
    $("went").addEventListener("toggle", show);
    show();
  }
}
