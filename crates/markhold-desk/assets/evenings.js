// Evenings on the shelf: found, read with their marks, listened to from any line on, joined.

import { Alerts } from "./alerts.js";
import { Clock } from "./clock.js";
import { Joint } from "./joint.js";
import { how, Hands } from "./hands.js";
import { cells, doubtOf } from "./marks.js";
import { Slip } from "./slip.js";
import { attendLight, toClipboard } from "./tools.js";

const $ = (id) => document.getElementById(id);
/** A passage that is listened to, s; the next one follows by itself. */
const PASSAGE = 60;
/** The sound begins this much ahead of a line, s: an ear needs to find in. */
const AHEAD = 1;
/** How often is looked whether a new reading is there, ms. */
const LOOK = 3000;

/** Practice is kept by itself, below this. */
const BELOW = location.pathname.startsWith("/practice/") ? "/practice" : "";

const alerts = new Alerts();
const clock = new Clock();
const now = { list: [], marked: new Set(), evening: null, joint: null, passage: null };

/** What the slip knows of the paper. */
const paper = { element: $("sheet"), characters: new WeakMap() };
const slip = new Slip(clock);
slip.attend(paper);

const hands = new Hands({ ask, show, attempt, clock, paper: paper.element });

async function ask(path, form) {
  const asked = form ? { method: "POST", body: new URLSearchParams(form) } : {};
  const answer = await fetch(`${BELOW}/evenings${path}`, asked);
  const told = await answer.json().catch(() => ({ cannot: "the desk does not answer" }));
  if (!answer.ok) throw new Error(told.cannot ?? "that cannot be");
  return told;
}

/** Does something, and says in words if it cannot be done. */
async function attempt(work) {
  try {
    return await work();
  } catch (error) {
    alerts.mention("cannot", `That cannot be: ${error.message}.`);
  }
}

function length(s) {
  if (s === null) return "being kept";
  const minutes = Math.round(s / 60);
  if (minutes < 1) return `${Math.round(s)} s`;
  return minutes < 60 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")} min`;
}

function when(iso) {
  const how = { day: "numeric", month: "long", year: "numeric", timeZone: "UTC" };
  return `${new Date(iso).toLocaleDateString("en-GB", how)}, ${iso.slice(11, 16)} UTC`;
}

function sure({ characters, doubtful }) {
  if (!characters) return "nothing copied";
  return `${characters} characters, ${Math.round((100 * doubtful) / characters)} % doubtful`;
}

function item(id, at, parts) {
  const [li, go] = [document.createElement("li"), document.createElement("button")];
  go.type = "button";
  go.dataset.evening = id;
  for (const [kind, words] of parts.filter(([, words]) => words)) {
    const span = document.createElement("span");
    span.className = kind;
    span.textContent = words;
    go.append(span);
  }
  go.addEventListener("click", () => attempt(() => show(id, null, at)));
  li.append(go);
  return li;
}

/** Evenings are marked to be joined. */
function markable(li, id) {
  const [label, box] = [document.createElement("label"), document.createElement("input")];
  box.type = "checkbox";
  box.checked = now.marked.has(id);
  box.setAttribute("aria-label", `Mark evening ${id}`);
  box.addEventListener("change", () => {
    now.marked[box.checked ? "add" : "delete"](id);
    count();
  });
  label.className = "mark";
  label.append(box);
  li.prepend(label);
  return li;
}

function count() {
  const marked = [...now.marked].sort((a, b) => a - b);
  $("join").disabled = marked.length < 2;
  $("marked").textContent = { 0: "Mark evenings that repeat each other: one copy is made out of them.", 1: "One more at least." }[marked.length] ?? `Evenings ${marked.join(", ")}.`;
}

function listed(evenings) {
  return evenings.map((e) => markable(item(e.id, null, [["", [when(e.begin), e.station].filter(Boolean).join(" \u2013 ")], ["less", `${length(e.length_s)}, ${sure(e)}`], ["less", e.note.split("\n")[0]]]), e.id));
}

async function list(before) {
  const evenings = await ask(`/list${before ? `?before=${encodeURIComponent(before)}` : ""}`);
  now.list = before ? now.list.concat(evenings) : evenings;
  $("list").replaceChildren(...listed(now.list));
  $("said").textContent = now.list.length ? "" : "Nothing has been kept yet.";
  $("older").hidden = evenings.length < 50;
  count();
  current();
}

/** Said of a line that does not print the words: a garbled call is found by what its characters may be. */
function maybe({ maybe }) {
  return maybe === undefined ? "" : `may hold it, ${Math.max(1, Math.round(100 * maybe))} %`;
}

function foundWords(found) {
  if (!found.length) return "No line holds all these words, nor may hold them.";
  const may = found.filter((f) => f.maybe !== undefined).length;
  const count = found.length === 100 ? "The latest 100" : found.length;
  const lines = `${count} ${found.length === 1 ? "line" : "lines"}`;
  if (!may) return `${lines}.`;
  return `${lines}; ${may === found.length ? "none prints" : `${may} of them ${may === 1 ? "does" : "do"} not print`} the words and may hold them by ${may === 1 ? "its" : "their"} doubtful characters.`;
}

async function search(words) {
  if (!words.trim()) return list();
  const found = await ask(`/search?for=${encodeURIComponent(words)}`);
  const about = (f) => [f.direction === "sent" ? "sent " : "", when(f.heard), maybe(f) && `, ${maybe(f)}`].join("");
  $("list").replaceChildren(...found.map((f) => item(f.evening, f.at, [["line-found", f.text], ["less", about(f)]])));
  $("said").textContent = foundWords(found);
  $("older").hidden = true;
}

function current() {
  for (const go of $("list").querySelectorAll("button")) go.setAttribute("aria-current", String(Number(go.dataset.evening) === now.evening?.id));
}

/** Opens an evening, with one of its readings, at a time in it. */
async function show(id, reading, at) {
  const e = await ask(`/${id}${reading ? `?reading=${reading}` : ""}`);
  const same = now.evening?.id === e.id;
  now.evening = e;
  if (now.joint) stop();
  now.joint = null;
  sides();
  clock.begin([{ at_s: 0, utc: e.begin }]);
  history.replaceState(null, "", `#${id}`);
  $("title").textContent = [`Evening ${e.id}, ${when(e.begin)}`, e.station].filter(Boolean).join(" \u2013 ");
  $("about").textContent = `${e.input}; ${length(e.length_s)}; ${e.sound_s ? `${length(e.sound_s)} of sound` : "no sound left"}`;
  $("open").hidden = false;
  const of = (r, k) => new Option(`${k + 1}: ${how(r)}, ${sure(r)}${k + 1 === e.best ? ", stands" : ""}`, String(k + 1), false, k + 1 === e.reading);
  $("reading").replaceChildren(...e.readings.map(of));
  $("again").disabled = !e.sound_s || e.length_s === null;
  if (!same) {
    $("station").value = e.station;
    $("note").value = e.note;
    stop();
  }
  unsure();
  type(e);
  hands.opened(e);
  current();
  if (at !== null && at !== undefined) point(at);
}

/** What belongs to an evening alone, and what to a joint copy. */
function sides() {
  for (const one of document.querySelectorAll("[data-one]")) one.hidden = Boolean(now.joint);
  for (const joint of document.querySelectorAll("[data-joint]")) joint.hidden = !now.joint;
  paper.element.classList.toggle("joint", Boolean(now.joint));
  $("sound-said").textContent = now.joint ? "Touch the letters beside a line, and its sound begins." : "Touch the time beside a line, and the sound begins there.";
  paper.element.setAttribute("aria-label", now.joint ? "Joint copy" : "Copy of the evening");
}

/** Joins evenings and shows what they say together. */
async function join(evenings) {
  $("join").disabled = true;
  $("marked").textContent = "They are being joined.";
  const told = await ask(`/join?of=${evenings.join(",")}`).finally(count);
  const joint = new Joint(told, { listen: hear, open: (evening) => attempt(() => show(evening, null, null)) });
  stop();
  Object.assign(now, { evening: null, joint });
  sides();
  history.replaceState(null, "", `#join=${evenings.join(",")}`);
  $("title").textContent = joint.title();
  $("about").textContent = joint.about();
  $("open").hidden = false;
  $("copies").replaceChildren(...joint.copies());
  $("listen-to").replaceChildren(new Option("the best that has the line", ""), ...joint.heard().map(([k, words]) => new Option(words, k)));
  paper.element.style.setProperty("--margin", `${Math.max(3.2, 0.62 * told.copies.length + 1)}rem`);
  paper.element.replaceChildren(...joint.typed(paper.characters, () => $("listen-to").value));
  paper.element.scrollTop = 0;
  document.documentElement.style.setProperty("--line", String(Math.min(Math.max(40, joint.longest()), 80)));
  const filled = (id, items, none) => $(id).replaceChildren(...(items.length ? items : [Object.assign(document.createElement("li"), { textContent: none })]));
  filled("differs", joint.differs(), "Nothing.");
  filled("missing", joint.missing(look), "Nothing that could be told.");
  current();
  $("title").scrollIntoView({ block: "nearest" });
}

/** Brings a place of the joint copy into sight. */
function look(row, place) {
  row?.scrollIntoView({ block: "center" });
  for (const [r] of now.joint.lines) r.classList.toggle("now", r === row);
  row?.querySelector(`[data-place="${place}"]`)?.focus({ preventScroll: true });
}

/** Plays a line of a joint copy by one of its copies. */
function hear(copy, at) {
  if (at === null) {
    $("sound-said").textContent = copy === null ? "No copy with sound has this line." : `${now.joint.name(copy)} does not have this line.`;
    return;
  }
  const { evening, name } = now.joint.told.copies[copy];
  play(evening, Math.max(at - AHEAD, 0), now.joint.clocks[copy], `${name}, evening ${evening}, from `);
  now.passage.copy = copy;
}

/** Types the lines, each with the time where its sound begins, gaps where they are. */
function type(e) {
  const gaps = [...e.gaps];
  const all = [];
  let signal;
  for (const line of e.lines) {
    while (gaps.length && gaps[0].at <= line.at) all.push(words("gap", `\u2013 ${clock.time(gaps[0].at, true)}: ${gaps.shift().words} \u2013`));
    if (line.signal !== signal) {
      signal = line.signal;
      all.push(words("head", signal === null ? "Sent from here" : `Signal ${signal}`));
    }
    all.push(typed(line));
  }
  for (const gap of gaps) all.push(words("gap", `\u2013 ${clock.time(gap.at, true)}: ${gap.words} \u2013`));
  if (!all.length) all.push(words("blank", "Nothing was copied."));
  paper.element.style.removeProperty("--margin");
  paper.element.replaceChildren(...all);
  const longest = Math.max(40, ...e.lines.map((line) => line.text.length));
  document.documentElement.style.setProperty("--line", String(Math.min(longest, 80)));
}

function words(kind, text) {
  const p = document.createElement("p");
  p.className = kind;
  p.textContent = text;
  return p;
}

function typed(line) {
  const row = document.createElement("div");
  row.className = line.signal === null ? "line was-sent" : "line";
  row.dataset.at = line.at;
  const from = document.createElement("button");
  from.type = "button";
  from.className = "from";
  from.textContent = clock.time(line.at, true);
  from.setAttribute("aria-label", `Listen from ${from.textContent}`);
  from.addEventListener("click", () => listen(Math.max(line.at - AHEAD, 0)));
  row.append(from, ...cells(line, paper.characters));
  row.addEventListener("click", () => hands.touched(row));
  return row;
}

/** Brings a time into sight. */
function point(at) {
  const rows = [...paper.element.querySelectorAll(".line")];
  const row = rows.findLast((r) => Number(r.dataset.at) <= at + 0.01) ?? rows[0];
  row?.scrollIntoView({ block: "center" });
  rows.forEach((r) => r.classList.toggle("now", r === row));
}

function stop() {
  const sound = $("sound");
  sound.pause();
  sound.removeAttribute("src");
  now.passage = null;
  $("sound-save").removeAttribute("href");
}

/** Plays the open evening from there on. */
function listen(from) {
  play(now.evening.id, from, clock, "From ");
}

function play(evening, from, clock, said) {
  const place = `${BELOW}/evenings/${evening}/sound?from=${from.toFixed(2)}&length=${PASSAGE}`;
  now.passage = { ...now.passage, evening, from, clock, said };
  $("sound").src = place;
  $("sound-save").href = place;
  $("sound-save").download = `evening-${evening}-${clock.time(from, true).replace(/:/g, "-")}.wav`;
  $("sound-said").textContent = `${said}${clock.time(from, true)} UTC.`;
  $("sound").play().catch(() => {});
}

/** The passage behind the one that ended. */
function goOn() {
  if (!now.passage) return;
  const { evening, from, clock, said } = now.passage;
  play(evening, from + $("sound").duration, clock, said);
}

function follow() {
  if (!now.passage) return;
  const at = now.passage.from + $("sound").currentTime;
  const rows = [...paper.element.querySelectorAll(".line")];
  const heard = now.joint ? now.joint.at(now.passage.copy, at) : rows.findLast((r) => Number(r.dataset.at) <= at);
  if (now.joint || now.passage.evening === now.evening?.id) rows.forEach((r) => r.classList.toggle("now", r === heard));
}

/** The copy as text; marked, doubtful characters between brackets. */
function text(marked) {
  const line = ({ text, marks }) => {
    const glyphs = [...text];
    for (const { column, struck } of marked ? (marks ?? []) : []) if (doubtOf(struck[0].character) > 1) glyphs[column] = `[${glyphs[column]}]`;
    return glyphs.join("").trimEnd();
  };
  if (now.joint) return `${$("title").textContent}\n\n${now.joint.text(marked)}`;
  const e = now.evening;
  return `${$("title").textContent}\n${e.note ? `${e.note}\n` : ""}\n${e.lines.map((l) => `${clock.time(l.at, true)}  ${l.signal === null ? "> " : ""}${line(l)}`).join("\n")}\n`;
}

function unsure() {
  $("sure").hidden = true;
  $("remove").hidden = now.evening.length_s === null;
}

async function again() {
  const { id } = now.evening;
  const before = await ask(`/${id}/again`, {});
  alerts.mention("again", "It is being copied again; the new reading opens when it is done.");
  const look = setInterval(async () => {
    const e = await ask(`/${id}`).catch(() => null);
    if (!e || !e.readings.slice(before).some((r) => r.finished)) return;
    clearInterval(look);
    alerts.mention("again", `Evening ${id} is copied again.`);
    if (now.evening?.id === id) attempt(() => show(id, e.readings.length, null));
  }, LOOK);
}

function attend() {
  $("search").addEventListener("submit", (event) => {
    event.preventDefault();
    attempt(() => search($("words").value));
  });
  $("words").addEventListener("search", () => $("words").value || attempt(() => list()));
  $("join").addEventListener("click", () => attempt(() => join([...now.marked].sort((a, b) => a - b))));
  $("older").addEventListener("click", () => attempt(() => list(now.list[now.list.length - 1].begin)));
  $("reading").addEventListener("change", () => attempt(() => show(now.evening.id, Number($("reading").value), null)));
  $("again").addEventListener("click", () => attempt(again));
  $("sound").addEventListener("timeupdate", follow);
  $("sound").addEventListener("ended", goOn);
  $("sound").addEventListener("error", () => now.passage && ($("sound-said").textContent = "There is no more sound from here on."));
  $("saying").addEventListener("submit", (event) => {
    event.preventDefault();
    attempt(async () => {
      const { id, reading } = now.evening;
      await ask(`/${id}/say`, { station: $("station").value.trim(), note: $("note").value.trim() });
      alerts.mention("kept", "It is kept with the evening.", 4);
      await list();
      await show(id, reading, null);
    });
  });
  $("remove").addEventListener("click", () => {
    $("sure").hidden = false;
    $("remove-not").focus();
  });
  $("remove-not").addEventListener("click", unsure);
  $("remove-sure").addEventListener("click", () => attempt(async () => {
    const { id } = now.evening;
    await ask(`/${id}/remove`, { sure: id });
    stop();
    now.evening = null;
    now.marked.delete(id);
    $("open").hidden = true;
    $("title").textContent = "No evening is open";
    $("about").textContent = `Evening ${id} is off the shelf.`;
    history.replaceState(null, "", "#");
    await list();
  }));
  $("copy").addEventListener("click", () => attempt(async () => {
    await toClipboard(text(false));
    alerts.mention("copied", "The copy is on the clipboard.", 4);
  }));
  $("save").addEventListener("click", () => {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([text(true)], { type: "text/plain;charset=utf-8" }));
    link.download = now.joint ? `joined-${[...new Set(now.joint.told.copies.map((c) => c.evening))].join("-")}.txt` : `evening-${now.evening.id}.txt`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  });
  $("print").addEventListener("click", () => window.print());
  attendLight(() => {});
}

if (BELOW) $("finder-name").textContent = "Practice evenings";
attend();
attempt(async () => {
  const marked = /^#join=([\d,]+)$/.exec(location.hash)?.[1].split(",").map(Number) ?? [];
  marked.forEach((id) => now.marked.add(id));
  await list();
  if (marked.length > 1) return join(marked);
  const asked = Number(location.hash.slice(1)) || now.list[0]?.id;
  if (asked) await show(asked, null, null);
});
