// Tonight: what is on now, what is next, where to set the dial.

import { brought, Later } from "./later.js";

const $ = (id) => document.getElementById(id);
/** How often the desk is asked again, s. Between, the page counts by itself. */
const ASKED_EVERY = 20;

const TITLE = document.title;
/** Things that are over, shown beside what is next; the rest stands under "How it went". */
const OVER = 4;
/** What begins in less than this stands in the title, ms. */
const SOON_MS = 600_000;
/** What rings: the usual pitch of a Morse note, Hz, and for how long, s. */
const [RING_HZ, RING_S] = [700, 0.4];

const state = { tonight: null, offset_ms: 0, rung: new Set(), all: false };

function element(name, text, kind = "") {
  const made = document.createElement(name);
  made.textContent = text;
  if (kind) made.className = kind;
  return made;
}

/** What the desk's clock shows, ms. */
const now = () => Date.now() + state.offset_ms;

/** "3 days", "2 h 05 min", "12 min", "0:40" when it comes close. */
function span(ms) {
  const s = Math.max(0, Math.round(ms / 1000));
  const two = (n) => String(n).padStart(2, "0");
  if (s < 600) return `${Math.floor(s / 60)}:${two(s % 60)}`;
  if (s < 3600) return `${Math.floor(s / 60)} min`;
  if (s < 172800) return `${Math.floor(s / 3600)} h ${two(Math.floor((s / 60) % 60))} min`;
  return `${Math.floor(s / 86400)} days`;
}

/** A day of the week names the next of that name only, ms. */
const WEEK_MS = 6 * 86_400_000;
const clock = (ms, zone) => {
  const date = ms - now() > WEEK_MS ? { day: "numeric", month: "short" } : {};
  return new Intl.DateTimeFormat("en-GB", { weekday: "short", ...date, hour: "2-digit", minute: "2-digit", timeZone: zone }).format(ms);
};
const both = (ms) => (clock(ms) === clock(ms, "UTC") ? `${clock(ms)} UTC` : `${clock(ms)} here, ${clock(ms, "UTC")} UTC`);
const called = (due) => (due.station && due.name ? `${due.name} (${due.station})` : due.name || due.station);

/** Says something of the receiver's dial. */
async function tellDial(said) {
  const asked = { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify({ ask: "dial", ...said }) };
  try {
    const answer = await fetch("/skeds", asked);
    const told = await answer.json();
    if (!answer.ok) $("dial-known").textContent = `That cannot be: ${told.cannot}`;
    else take(told);
  } catch {
    // The page says elsewhere that the desk does not answer.
  }
}

const dialForm = $("dial-form");
dialForm.addEventListener("submit", (event) => {
  event.preventDefault();
  tellDial({ khz: Number(dialForm.elements.khz.value) });
  dialForm.reset();
});
$("dial-on").addEventListener("click", () => tellDial({ switched_on: true }));

/** What is known of where the dial stands: it learns by it from every sked that is copied. */
function dialKnown({ stands, by_itself }) {
  if (stands?.khz == null) return by_itself ? "The radio does not say where its dial stands." : "Say it once an evening: its error is learned.";
  const who = stands.by === "radio" ? "the radio says" : "you said";
  return `It stands at ${stands.khz.toFixed(2)}, ${who} at ${clock(Date.parse(stands.since))}.`;
}

/** Skeds to edit, and how they went. */
const book = new Later("skeds", () => brought("skedform"), ({ SkedForm }) => new SkedForm(called, take));
new Later("went", () => brought("went", true), ({ Went }) => new Went());

/** The countdown of one, anew each second. */
function count(due) {
  const begins = Date.parse(due.begins);
  const ends = Date.parse(due.ends);
  if (now() < begins) return `${called(due)} in ${span(begins - now())}`;
  return `Now: ${called(due)}, ${span(ends - now())} to go`;
}

function switching(due) {
  const at = Date.parse(due.switch_on);
  if (now() >= Date.parse(due.begins)) return "";
  const on = state.tonight.dial?.stands?.on;
  if (on) return `The receiver has been on for ${span(now() - Date.parse(on))}.`;
  return at > now() ? `Switch the receiver on at ${clock(at)}, in ${span(at - now())}.` : "The receiver should be on.";
}

function dial(set) {
  const p = element("p", "");
  if (set.set_khz === null) {
    p.append(`On ${set.khz} kHz.`);
    return p;
  }
  p.append(element("span", `Set ${set.set_khz.toFixed(2)}`, "set"), ` for ${set.khz} kHz: ${set.known}.`);
  const details = document.createElement("details");
  details.append(element("summary", "How that is reckoned"), element("p", set.sums.join("\n"), "sums"));
  const both = document.createElement("div");
  both.append(p, details);
  return both;
}

function item(due, first) {
  const li = element("li", "", first ? "first" : "");
  const when = both(Date.parse(due.begins)) + (first ? `, for ${Math.round(due.length_min)} min` : "");
  li.append(element("p", count(due), "count"), element("p", when, "when"));
  if (first) li.append(element("p", switching(due), "switching"), ...due.dial.map(dial));
  return li;
}

/** One that is on: whether it is heard. */
function going({ title, begins, heard, cause, evenings }) {
  const since = clock(Date.parse(begins));
  const said = heard ? `heard, and kept in evening ${evenings.join(" and ")}` : `due since ${since} and not heard yet`;
  return element("li", `${title}: ${said}${cause ? `; ${cause}` : ""}`, heard ? "heard" : "");
}

/** One that is over: kept, or missed and why. */
function over({ title, begins, state: became, cause, evenings, paper }) {
  const where = (evenings.length ? ` in evening ${evenings.join(" and ")}` : "") + (paper ? `, ${paper}` : "");
  const why = cause ? `: ${cause}` : "";
  return element("li", `${clock(Date.parse(begins))} ${title}, ${became}${where}${why}`, became);
}

/** All of it anew, after the desk told it. */
function show() {
  const { due, skeds, open, past, practice, dial } = state.tonight;
  $("dial-form").hidden = !dial || due.length === 0;
  if (dial) $("dial-known").textContent = dialKnown(dial);
  $("tonight").hidden = false;
  $("tonight-name").textContent = practice ? "Tonight on the practice band" : "Tonight";
  $("tonight-due").replaceChildren(...due.map((d, k) => item(d, k === 0)));
  $("tonight-none").hidden = due.length > 0;
  const last = past.length ? ` ${over(past[0]).textContent}.` : "";
  $("tonight-none").textContent = skeds.length ? `Nothing is due any more.${last}` : "Nothing is due: no skeds yet. Add one under Skeds.";
  $("tonight-open").replaceChildren(...open.map(going));
  $("tonight-open").hidden = open.length === 0;
  $("tonight-past").replaceChildren(...past.slice(0, OVER).map(over));
  $("tonight-past").hidden = past.length === 0;
  $("skeds").hidden = $("went").hidden = practice;
  book.tell("show", skeds);
  tick();
}

/** One line while copy comes or a guide needs the room, unless somebody asked for all of it. */
function fold() {
  const folds = document.querySelector("#sheet .line") !== null || !$("guide").hidden;
  $("tonight").classList.toggle("line", folds && !state.all);
  $("tonight-all").hidden = !folds;
  $("tonight-all").textContent = state.all ? "One line of tonight" : "All of tonight";
  $("tonight-all").setAttribute("aria-expanded", String(state.all));
}

$("tonight-all").addEventListener("click", () => {
  state.all = !state.all;
  fold();
});

function tick() {
  fold();
  const due = state.tonight?.due ?? [];
  [...$("tonight-due").children].forEach((li, k) => {
    li.querySelector(".count").textContent = count(due[k]);
    if (k === 0) li.querySelector(".switching").textContent = switching(due[k]);
    li.classList.toggle("on", now() >= Date.parse(due[k].begins));
  });
  const on = due.filter((d) => Date.parse(d.begins) <= now());
  on.forEach(ring);
  const soon = due.find((d) => Date.parse(d.begins) - now() < SOON_MS);
  document.title = on.length ? `Now: ${called(on[0])}` : soon ? count(soon) : TITLE;
  if (due.length && Date.parse(due[0].ends) <= now()) ask();
}

/** Says once that one begins: to readers, and as a notification where the person allowed those. */
function ring(due) {
  const name = `${due.sked} ${due.begins}`;
  if (state.rung.has(name)) return;
  state.rung.add(name);
  whistle();
  $("tonight-said").textContent = `${called(due)} begins now.`;
  if (window.Notification?.permission === "granted") new Notification("markhold", { body: `${called(due)} begins now.`, tag: name });
}

/** A short tone, where the browser allows one: it wants the page to have been touched before. */
function whistle() {
  if (!navigator.userActivation?.hasBeenActive) return;
  const sound = new AudioContext();
  const tone = new OscillatorNode(sound, { frequency: RING_HZ });
  const level = new GainNode(sound, { gain: 0.2 });
  tone.connect(level).connect(sound.destination);
  tone.start();
  tone.stop(sound.currentTime + RING_S);
  tone.addEventListener("ended", () => sound.close());
}

function take(tonight) {
  state.tonight = tonight;
  if (!tonight) {
    $("tonight").hidden = true;
    return;
  }
  state.offset_ms = Date.parse(tonight.now) - Date.now();
  show();
}

async function ask() {
  try {
    const answer = await fetch("/skeds");
    if (answer.ok) {
      const tonight = await answer.json();
      // What somebody has opened or is typing stays: only what changed is shown anew.
      const { now: told, ...rest } = tonight ?? {};
      if (JSON.stringify(rest) !== state.last) {
        state.last = JSON.stringify(rest);
        take(tonight);
      }
    }
  } catch {
    // The page says elsewhere that the desk does not answer; it is asked again.
  }
}

setInterval(tick, 1000);
setInterval(ask, ASKED_EVERY * 1000);
ask();
