// The page: hears what the desk says and gives it to the instruments.

import { Alerts } from "./alerts.js";
import { Around } from "./around.js";
import { relight } from "./canvas.js";
import { CarriageBar } from "./carriagebar.js";
import { DriftChart, Quality } from "./charts.js";
import { Clock } from "./clock.js";
import { Ear, isSound } from "./ear.js";
import { frame } from "./frame.js";
import { Eye, Figure } from "./glasses.js";
import { answered, brought, Later } from "./later.js";
import { Level } from "./level.js";
import { Link } from "./link.js";
import { PracticeReceiver } from "./receiver.js";
import { Rule } from "./rule.js";
import { Sentence } from "./sentence.js";
import { Sheet } from "./sheet.js";
import { SignalCard } from "./signal.js";
import { Slip } from "./slip.js";
import { FROM_HZ, Strip, TO_HZ } from "./strip.js";
import { attendLayout, attendLight, attendTools, here } from "./tools.js";

const $ = (id) => document.getElementById(id);
const PRACTICE = "practice";
const LIGHTNING =
  "Static crashes come more and more often: a thunderstorm may be coming nearer. Think of the aerial in good time; " +
  "disconnect and earth it as your local codes say, and leave it alone once thunder is heard.";

const clock = new Clock();
const alerts = new Alerts();
const strip = new Strip(clock);
const rule = new Rule();
const figure = new Figure();
const eye = new Eye();
const level = new Level();
const sheet = new Sheet(clock, new Slip(clock));
const bar = new CarriageBar();
const driftChart = new DriftChart(clock);
const quality = new Quality();

const sentence = new Sentence((fault) => level.blank(fault));
/** The link is new: this page goes back to the room where it was. */
let returns = false;
const link = new Link(hear, see, (open) => {
  sentence.link(open);
  returns = open;
  if (!open) return;
  ear?.again();
  answered();
});
sheet.ask = (place) => link.ask("above", place);
let ear = new Ear(link);
const card = new SignalCard(link, clock);
const around = new Around(link);
const receiver = new PracticeReceiver(link);
/** What is known now. */
const now = { until: 0, ended: [], followed: [], input: null, inUse: null, tuning: null, keeping: null, place: null, dial: null };
const machine = new Later("printer", () => brought("machine"), ({ Machine }) => new Machine(link, alerts));
const answering = new Later("answer", () => brought("answer"), ({ Answering }) => new Answering(link, alerts));
const contacts = new Later("contact", () => brought("contact"), ({ Contacts }) => new Contacts(alerts, {
  room: () => (now.input === PRACTICE ? "practice" : "radio"),
  dial: () => (now.input === PRACTICE && now.dial ? (now.dial / 1000).toFixed(2) : null),
  put: async (text) => (await answering.come())?.put(text),
  loop: async (text, every) => (await answering.come())?.loop(text, every),
}));

/** The room whose log is shown. */
let room = null;
/** Pictures that came since the last paint. */
let waiting = [];
let lastRow = 0;

function hear(said) {
  sentence.heard();
  const takers = { snapshot, report, sheet: typed, above: (rows) => sheet.takeAbove(rows), drift: (d) => driftChart.set(d), stations: (s) => receiver.setStations(s), practice, inputs, machines, printing, hand: (h) => answering.tell("setHand", h), answering: answers, shared, forgotten, beat: (b) => sentence.beat(b), cannot };
  takers[said.is]?.(said.value);
}

function machines(listing) {
  machine.tell("set", listing, Boolean(listing.problem));
}

function printing(state) {
  machine.tell("show", state, Boolean(state.machine || state.error));
}

function answers(state) {
  answering.tell("show", state, Boolean(state.armed_by !== null || state.on_the_air || state.words));
  sentence.setSending(state.on_the_air);
}

function cannot(why) {
  alerts.mention("cannot", `That cannot be: ${why}.`);
}

/** Whether the local network is let in too. */
function shared(is) {
  $("shared").hidden = !is;
}

function forgotten(count) {
  alerts.mention("forgotten", count === 1 ? "One key is forgotten." : `${count} keys are forgotten.`);
}

/** Everything so far: the page begins anew. */
function snapshot(all) {
  clock.begin(all.anchors);
  now.until = all.until_s;
  now.ended = all.ended;
  strip.clear();
  quality.clear();
  all.strip.forEach(([start, probability]) => quality.take({ start, probability }));
  const last = all.sheet[all.sheet.length - 1];
  if (last) bar.take(last);
  gone(all.gone);
  settings(all.in_use);
  keeping(all.keeping);
  tuning(all.tuning);
  counts(all.counts);
  followed(all.followed);
  around.setTones(all.around);
  card.setBefore(now.ended);
  headings();
}

function report({ report: kind, value }) {
  ({ event, followed, around: (tones) => around.setTones(tones), tuning, input, counts, settings, keeping })[kind]?.(value);
}

function event(e) {
  if (e.type === "signal") {
    sheet.head(e.signal, card.heading(e), card.pitch(e));
  } else if (e.type === "end") {
    now.ended.push(e);
    now.followed = now.followed.filter((f) => f.signal !== e.signal);
    card.setBefore(now.ended);
    followed(now.followed);
    sheet.head(e.signal, card.heading(e), card.pitch(e));
  } else {
    if (e.type === "character") quality.take(e);
    bar.take(e);
  }
}

/** What changed on the sheet. */
function typed(said) {
  sheet.take(said);
  if (said.layout) laidOut(said.layout);
}

function laidOut({ columns, margin_lamp: lamp, overprint, machine: name }) {
  document.documentElement.style.setProperty("--line", String(columns));
  $("line-length").value = columns;
  $("overprint").checked = overprint;
  $("laid-out").textContent = name ? `Laid out as ${name} prints it.` : "";
  bar.setPaper(columns, lamp);
}

function followed(list) {
  now.followed = list;
  const copied = list.filter((f) => f.copied);
  card.set(copied.sort((a, b) => b.until - a.until)[0] ?? null);
  around.setSignals(list);
  headings();
}

function headings() {
  now.ended.concat(now.followed).forEach((s) => sheet.head(s.signal, card.heading(s), card.pitch(s)));
}

function tuning(t) {
  now.tuning = t;
  sentence.set(t);
}

function input(i) {
  if (i.anchor) clock.add(i.anchor);
  if (i.input === "listening") {
    gone(null);
    strip.clear();
    link.ask("inputs");
  } else if (i.input === "gone") gone(i.why);
  else if (i.input === "back") gone(null);
  else if (i.input === "ended") gone(i.why ?? "the sound has ended");
  else if (i.input === "gap") alerts.mention("gap", `The sound card lost ${i.lost_s.toFixed(2)} s of sound.`);
  else if (i.input === "lost") alerts.mention("gap", "The sound card lost some sound; how much is not known.");
  else if (i.input === "behind") alerts.mention("behind", `This computer was too slow and left out ${i.lost_s.toFixed(1)} s of the copy. What is kept is complete.`);
  else if (i.input === "kept") alerts.mention("shelf", i.words, 60);
  else if (i.input === "clock-set") alerts.mention("clock", `This computer's clock was put ${i.by_s < 0 ? "back" : "forward"} by ${span(Math.abs(i.by_s))}. Times here go on as before.`, 60);
}

/** A length of time: 5 s, 12 min, 24 h. */
function span(s) {
  if (s < 90) return `${Math.round(s)} s`;
  return s < 5400 ? `${Math.round(s / 60)} min` : `${Math.round(s / 3600)} h`;
}

/** How the evening is kept now; `null` where it is not. */
function keeping(state) {
  now.keeping = state;
  const since = state?.since ? ` Since ${state.since.slice(11, 16)}.` : "";
  alerts.say("kept", since ? state.words + since : null, "grave");
  keptWords();
}

/** That something is kept is said once it is. */
function keptWords() {
  const { keeping, place } = now;
  const soon = place ? `To be kept in ${place}.` : "Not kept";
  // Practice has a folder somewhere; what it is says more.
  const well = place && keeping && !keeping.since && keeping.words.replace(/ in .*/, ` in ${place}.`);
  $("kept").textContent = well || (keeping?.words ?? soon);
}

function gone(why) {
  alerts.say("gone", why ? `No sound: ${why}` : null, "grave");
}

function counts(c) {
  const rate = Math.round(c.crashes_per_minute);
  $("crashes").textContent = rate === 0 ? "No static crashes this minute." : `${rate} static ${rate === 1 ? "crash" : "crashes"} this minute, ${c.crashes} so far.`;
  alerts.say("lightning", c.lightning_caution ? LIGHTNING : null, "caution");
}

function settings(inUse) {
  now.inUse = inUse;
  card.setHold(inUse.hold);
  $("figures").value = inUse.figures_row ?? "";
  $("language").value = inUse.language;
  $("unshift").value = inUse.unshift_on_space ?? "";
  $("all").checked = inUse.all;
  around.setAll(inUse.all);
  sheet.setSeveral(inUse.all);
  $("sideband-set").value = inUse.sideband ?? "";
  $("target").value = String(inUse.target?.middle ?? inUse.target);
}

function practice(stands) {
  receiver.set(stands);
  now.dial = stands.dial_hz;
  contacts.tell("dialled");
  sentence.setDial(now.input === PRACTICE ? now.dial : null);
}

function inputs({ all, now: chosen, kept }) {
  now.input = chosen;
  const options = all.map(({ id, name }) => new Option(name, id, false, id === chosen));
  $("input").replaceChildren(...options);
  const practising = chosen === PRACTICE;
  if (room !== (practising ? "practice" : "radio")) {
    room = practising ? "practice" : "radio";
    contacts.tell("enter");
  }
  receiver.show(practising);
  $("practise").hidden = practising;
  $("to-evenings").href = practising ? "/practice/evenings" : "/evenings";
  sentence.setDial(practising ? now.dial : null);
  $("set-sideband").hidden = practising;
  now.place = kept;
  keptWords();
  sheet.setPractice(practising);
  const before = here.get("input");
  if (returns && before && (before === PRACTICE) !== practising) link.ask("listen", before);
  returns = false;
}

/** Listens to something in this page; the room it is in stays its own through a reload. */
function listen(id) {
  here.set("input", id);
  link.ask("listen", id);
}

function see(bytes) {
  sentence.heard();
  if (isSound(bytes)) return ear.take(bytes);
  const picture = frame(bytes);
  if (!picture) return location.reload();
  waiting.push(picture);
  if (waiting.length > 100) waiting.shift();
}

/** Which of the two tones as heard, lower first, is mark. */
function markOf(tones) {
  const followed = card.followed;
  if (!followed || !tones) return null;
  return followed.mark === "lower" ? 0 : 1;
}

let painted = 0;
const calm = matchMedia("(prefers-reduced-motion: reduce)");

function paint(time) {
  requestAnimationFrame(paint);
  const pictures = waiting;
  waiting = [];
  if (sheet.paint()) bar.set(sheet.under);
  if (pictures.length) {
    for (const picture of pictures) {
      if (picture.rows.length) lastRow = time;
      strip.add(picture.rows);
      figure.draw(picture.figure);
      eye.draw(picture.eye);
      level.take(picture.level);
    }
    const last = pictures[pictures.length - 1];
    now.until = last.until;
    link.painted = last.number;
    level.draw();
    const tones = now.tuning?.tones_hz ?? null;
    rule.set(tones, markOf(tones), now.tuning?.target_hz ?? null);
    rule.draw();
    if (painted === 0) performance.mark("first-picture");
    if (++painted % 10 === 0) slowly();
  } else if (calm.matches) return;
  strip.draw(calm.matches ? 0 : (time - lastRow) / 1000);
}

/** What need not move with every picture. */
function slowly() {
  quality.draw(now.until);
}

function attend() {
  $("input").addEventListener("change", () => listen($("input").value));
  $("forget-keys").addEventListener("click", () => link.ask("forget-keys"));
  $("practise").addEventListener("click", () => listen(PRACTICE));
  // Only what changed: somebody else may be changing something at another browser.
  const set = (change) => link.ask("change", change);
  $("figures").addEventListener("change", () => set({ figures_row: $("figures").value || null }));
  $("language").addEventListener("change", () => set({ language: $("language").value }));
  $("unshift").addEventListener("change", () => set({ unshift_on_space: { true: true, false: false }[$("unshift").value] ?? null }));
  $("all").addEventListener("change", () => set({ all: $("all").checked }));
  $("sideband-set").addEventListener("change", () => link.ask("sideband", $("sideband-set").value || null));
  $("target").addEventListener("change", () => {
    const middle = Number($("target").value);
    link.ask("target", middle ? { middle } : "passband");
  });
  const layout = () => {
    const { value, validity, min, max } = $("line-length");
    const columns = Number(value);
    if (validity.valid && Number.isInteger(columns)) link.ask("sheet", { columns, overprint: $("overprint").checked });
    else {
      alerts.mention("line", `A line has ${min} to ${max} characters, not ${value || "none"}.`);
      $("line-length").value = sheet.layout.columns;
    }
  };
  $("line-length").addEventListener("change", layout);
  $("overprint").addEventListener("change", layout);
  // Texts ready to go are filled in with the contact.
  $("answer").addEventListener("toggle", () => $("answer").open && contacts.come());
  attendTools(sheet, () => clock.date(now.until), alerts, () => (now.input === PRACTICE ? "practice" : "copy"));
  attendLayout(() => bar.draw());
  for (const id of ["strip", "rule"]) {
    // Who points at something wants to follow what is there; "Let go" finds the strongest again.
    $(id).addEventListener("click", (event) => {
      const { left, width } = $(id).getBoundingClientRect();
      const hz = Math.round(FROM_HZ + ((event.clientX - left) / width) * (TO_HZ - FROM_HZ));
      set({ all: false, hold: { at_hz: hz } });
      alerts.mention("follows", `What is nearest to ${hz} Hz is followed. "Let go" finds the strongest again.`, 6);
    });
  }
  $("sheet").addEventListener("scroll", () => bar.scrolled($("sheet").scrollLeft));
  document.fonts.ready.then(() => {
    bar.advance = sheet.measure();
    bar.draw();
  });
  attendLight(() => {
    relight();
    [rule, bar, driftChart, level].forEach((i) => i.draw());
    [figure, eye].forEach((g) => g.wipe());
    quality.draw();
    receiver.draw();
  });
}

attend();
/** For the person's own tools in the browser's console, and for checks. */
window.desk = link;
requestAnimationFrame(paint);
