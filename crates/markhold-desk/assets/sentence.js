// The one sentence: what to do with the dial. What must be seen to before that replaces it:
// nothing that was said of the tones is true while the desk does not answer or hears nothing.

import { ofSentence } from "./more.js";

const $ = (id) => document.getElementById(id);

/** The desk says something each second; after so long without a word it does not answer, ms. */
const SILENT = 3000;
/** An input that is there and gave nothing for so long gives nothing, s. */
const STILL_S = 3;
/** How often is looked, ms. */
const LOOK = 500;
/** Least time between two sentences for screen readers, ms: numbers that flicker are not told. */
const SAID = 4000;

/** Two tones in words. */
function tones(hz) {
  if (!hz) return "\u00a0";
  return `Tones at ${Math.round(hz[0])} and ${Math.round(hz[1])} Hz, ${Math.round(hz[1] - hz[0])} Hz apart`;
}

/** What a dial shows: 7 043.04 kHz. */
function dial(hz) {
  return `${(hz / 1000).toFixed(2).replace(/\B(?=(\d{3})+\.)/, "\u202f")} kHz`;
}

export class Sentence {
  /** `changed(fault)` is told whether something is wrong, when that changes. */
  constructor(changed) {
    this.changed = changed;
    this.tuning = null;
    this.open = true;
    this.heardAt = performance.now();
    this.stillS = 0;
    this.fault = null;
    this.dial = null;
    /** Whether this station is sending: the receiver hears nobody meanwhile. */
    this.sends = false;
    /** Where the dial is to be set, Hz, as it was worked out when the turn was asked for. */
    this.goal = null;
    this.said = { do: "", words: "", at: -Infinity };
    setInterval(() => this.show(), LOOK);
  }

  /** The link to the desk opened or was lost. */
  link(open) {
    this.open = open;
    // What was said before may not be true any more.
    this.tuning = null;
    this.stillS = 0;
    this.heard();
    this.show();
  }

  /** Something came from the desk, whatever it was. */
  heard() {
    this.heardAt = performance.now();
  }

  /** The desk said that it is alive. */
  beat({ still_s: still }) {
    this.stillS = still;
    this.show();
  }

  /** This station sends, or no longer. */
  setSending(sends) {
    this.sends = sends;
    this.show();
  }

  /** What the dial shows, Hz, where that is known. */
  setDial(hz) {
    const first = this.dial === null;
    this.dial = hz;
    if (first || hz === null) this.aim();
  }

  /** The number to set stands while the sentence does, however the dial is turned meanwhile. */
  aim() {
    const by = this.tuning?.do === "turn" ? this.tuning.dial_hz : this.tuning?.do === "one-tone" ? this.tuning.turn : null;
    this.goal = this.dial !== null && typeof by === "number" ? Math.round((this.dial + by) / 10) * 10 : null;
  }

  set(tuning) {
    const other = tuning?.words !== this.tuning?.words;
    this.tuning = tuning;
    if (other) this.aim();
    this.show();
  }

  /** What is to be said now: what to do, in one word for the style sheet, in a sentence, and more about it. */
  now() {
    const fault = (words, detail = "\u00a0", name) => ({ do: "fault", words, detail, name });
    const silent = performance.now() - this.heardAt;
    if (!this.open) return fault("The desk does not answer", "It was stopped, or the link is lost. It is tried again all the time.");
    if (silent > SILENT) return fault("The desk does not answer", `Nothing has come from it for ${Math.floor(silent / 1000)} s.`);
    if (!this.tuning) return { do: "nothing", words: "Opening\u2026", detail: "\u00a0" };
    const { do: what = "nothing", words, tones_hz: hz } = this.tuning;
    if (what !== "fault" && this.stillS > STILL_S) return fault("The desk takes in no sound", "Choose the input again, or start markhold again.", "still");
    if (this.sends && what !== "fault") return { do: "waiting", words: "You are sending", detail: "The receiver waits until the over has ended." };
    const sentence = words || "listening for two tones";
    return { do: what, words: sentence[0].toUpperCase() + sentence.slice(1), detail: this.where(what) + tones(hz), name: this.tuning.fault };
  }

  /** Which number is to change: what the dial shows, or, where the sideband is not known, the pitch. */
  where(what) {
    if (this.goal !== null) return `Set the dial to ${dial(this.goal)}. `;
    return what === "turn" ? "So much on the scale of the dial. " : "";
  }

  show() {
    const now = this.now();
    const write = (id, words) => $(id).textContent !== words && ($(id).textContent = words);
    write("words", now.words);
    write("detail", now.detail);
    document.querySelector(".instruction").dataset.do = now.do;
    const more = ofSentence(now.do, now.name);
    if (more && $("words-more").getAttribute("href") !== more) $("words-more").setAttribute("href", more);
    const fault = now.do === "fault";
    if (fault !== this.fault) this.changed(fault);
    this.fault = fault;
    this.tell(now);
  }

  /** To screen readers: what is wrong at once, all else when it stood for a moment; how long a
   * pause has been is not counted aloud. */
  tell(now) {
    const { said } = this;
    const old = now.words === said.words || (now.do === "waiting" && said.do === "waiting");
    if (old || (now.do !== "fault" && performance.now() - said.at < SAID)) return;
    this.said = { do: now.do, words: now.words, at: performance.now() };
    $("words-said").textContent = now.words;
  }
}
