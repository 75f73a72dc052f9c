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
const date = (ms) => new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "short" }).format(ms);
const whole = (value, unit) => (value === null ? "" : `, ${Math.round(value)} ${unit}`);

/** One run in words: what a finger or a reader gets. */
function said(run) {
  if (run.state === "missed") return `${day(run.begins)}: missed, ${run.cause}`;
  const sure = `${Math.round(run.sure * 100)} % of ${run.characters} characters sure`;
  const paper = run.paper ? `, ${run.paper}` : "";
  return `${day(run.begins)}: ${sure}${whole(run.snr_3khz_db, "dB in 3 kHz")}${whole(run.drift_hz, "Hz of drift")}${paper}`;
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

/** Columns of the picture by hour, and its rows: room for the band, and for the hours below. */
const [BAND_WIDE, ROW_HIGH] = [46, 20];

/** Band by hour of the day: how sure what came then was. */
function byHour(hours) {
  const bands = [...new Set(hours.map(({ band }) => band))].sort((a, b) => b - a);
  const wide = Math.min(WIDEST, $("went").clientWidth || WIDEST);
  const column = (wide - BAND_WIDE) / 24;
  const high = bands.length * ROW_HIGH + 16;
  const svg = drawn("svg", { viewBox: `0 0 ${wide} ${high}`, width: wide, height: high, role: "img", "aria-label": "Share of sure characters by band and hour of the day" });
  const write = (x, y, anchor, words) => {
    const text = drawn("text", { x, y, "text-anchor": anchor });
    text.textContent = words;
    svg.append(text);
  };
  bands.forEach((band, k) => write(BAND_WIDE - 6, k * ROW_HIGH + 14, "end", `${band} MHz`));
  for (let hour = 0; hour < 24; hour++) {
    const x = BAND_WIDE + hour * column;
    bands.forEach((_, k) => svg.append(drawn("rect", { x, y: k * ROW_HIGH, width: column - 1, height: ROW_HIGH - 2, class: "empty" })));
    if (hour % 3 === 0) write(x + column / 2, high - 3, "middle", String(hour).padStart(2, "0"));
  }
  for (const cell of hours) {
    const size = { x: BAND_WIDE + cell.hour * column, y: bands.indexOf(cell.band) * ROW_HIGH, width: column - 1, height: ROW_HIGH - 2 };
    // What was never read is seen too.
    svg.append(drawn("rect", { ...size, class: "hour", "fill-opacity": 0.08 + 0.92 * cell.sure }, inHour(cell)));
  }
  return svg;
}

const inHour = ({ band, hour, runs, sure }) => `${band} MHz, from ${String(hour).padStart(2, "0")} h on: ${runs} ${runs === 1 ? "time" : "times"}, ${Math.round(sure * 100)} % sure`;

/** The same as a figure, with words for who cannot see it. */
function hoursFigure(hours) {
  const made = document.createElement("figure");
  const words = document.createElement("details");
  const list = document.createElement("ul");
  list.append(...hours.map((cell) => element("li", inHour(cell))));
  words.append(element("summary", "In words"), list);
  made.append(element("figcaption", "By band and hour, on your clock"), byHour(hours), words);
  return made;
}

function row(sked, from, until) {
  const made = document.createElement("figure");
  const kept = sked.runs.filter((run) => run.state === "kept").length;
  const words = document.createElement("details");
  words.append(element("summary", "In words"));
  const list = document.createElement("ul");
  list.replaceChildren(...sked.runs.slice().reverse().map((run) => element("li", said(run), run.state)));
  words.append(list);
  const over = `${date(from)} to ${date(until)}`;
  made.append(element("figcaption", `${sked.title}: ${kept} of ${sked.runs.length} kept, ${over}`), picture(sked, from, until), words);
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
    const hours = went?.hours ?? [];
    $("went-skeds").replaceChildren(...skeds.map((sked) => row(sked, begin(went), until)), ...(hours.length ? [hoursFigure(hours)] : []));
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
