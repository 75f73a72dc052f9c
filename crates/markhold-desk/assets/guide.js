// The first evening, one step at a time: on the practice band, out of tune at first, until a page is
// kept, found and printed. Each step looks at what is really so; nothing is pressed for the person.

import { here } from "./tools.js";

const $ = (id) => document.getElementById(id);
const PRACTICE = "practice";
/** Where it begins: somebody sends above, and nothing is heard here. */
const BEGIN = { dial_hz: 7040500, sideband: "lower", off_hz: 0, static_per_min: 0, volume_db: 0 };
/** Where the tones are wanted: a receiver whose filter is not known yet aims at the usual ones. */
const AIM = { middle: 2210 };
/** The dial has been turned when it stands so far from there, Hz. */
const TURNED_HZ = 500;
/** How often is looked, ms, and how many looks something must be so. */
const LOOK = 300;
const STANDS = 5;
/** So many characters are a copy. */
const COPY = 90;
/** So many doubts are to be read. */
const DOUBTS = 2;
/** Copy may be too good to doubt: then there is some static, as so often, after so many looks. */
const NO_DOUBT = 20;
const STATIC = 60;

const tuning = () => document.querySelector(".instruction")?.dataset.do ?? "";
const dial = () => 1000 * Number($("dial").getAttribute("aria-valuenow"));
const lines = () => [...document.querySelectorAll("#sheet .line")];
const copied = () => lines().reduce((sum, line) => sum + line.textContent.trim().length, 0);

/** A word of the copy that is sure: it is to be found again. Test rows are no words. */
function sureWord() {
  const text = (line) => [...line.childNodes].map((n) => (n.nodeType === Node.TEXT_NODE ? n.data : "?")).join("");
  const all = lines().flatMap((line) => text(line).split(/[^A-Z?]+/));
  const words = all.filter((word) => /^[A-Z]{5,}$/.test(word) && !word.includes("RYRY"));
  return words.sort((a, b) => b.length - a.length)[0] ?? null;
}

/** Brings what a step is about into sight, where the page is too small for all of it. */
function reveal(id) {
  const place = id && $(id).getBoundingClientRect();
  if (place && (place.top < 0 || place.top + Math.min(place.height, 120) > innerHeight - $("guide").offsetHeight)) $(id).scrollIntoView({ block: "center" });
}

/** A step: on which page, what to do, whether it is done; `see` is what it is about; `begin` once,
 * `look` each time. */
const STEPS = [
  {
    on: "desk",
    see: "receiver",
    words: () => "Somebody sends a little higher. Turn the dial up to about 7042 kHz: drag the brass scale to the left, or press Page Up on it twice. Two lines side by side in the strip are a sender.",
    done: () => Math.abs(dial() - BEGIN.dial_hz) > TURNED_HZ && ["turn", "one-tone", "in-tune", "other-sideband"].includes(tuning()),
  },
  {
    on: "desk",
    see: "receiver",
    words: () => "Now do what the large sentence on top says, until it says \u201cIn tune\u201d. It names the number to set; the arrow keys turn by 10 Hz, with Shift by 100. If it waits, wait with it: the sender pauses.",
    done: () => tuning() === "in-tune",
  },
  {
    on: "desk",
    see: "sheet",
    begin: (state) => (state.had = copied()),
    words: () => "Leave the dial alone and read along. Copy begins when some characters have told the speed; what is lighter is not decided yet.",
    done: (state) => copied() - state.had >= COPY && sureWord() !== null,
  },
  {
    on: "desk",
    see: "sheet",
    begin: (state) => Object.assign(state, { slips: [], looks: 0, stirred: false }),
    look: (state) => {
      const slip = $("slip");
      if (!slip.hidden && slip.textContent && !state.slips.includes(slip.textContent)) state.slips.push(slip.textContent);
      if (document.querySelectorAll("#sheet .d").length > DOUBTS || state.stirred) return;
      if (++state.looks < NO_DOUBT) return;
      state.stirred = true;
      window.desk.ask(PRACTICE, { static_per_min: STATIC });
    },
    words: (state) => `A line under a character means doubt. Press \u201cDoubt before\u201d and \u201cNext doubt\u201d, or touch one, and a slip says what else it may be, and why. Read ${DOUBTS}; ${Math.min(state.slips?.length ?? 0, DOUBTS)} read.${state.stirred ? " The copy was too good: some static crashes come in now." : ""}`,
    done: (state) => (state.slips?.length ?? 0) >= DOUBTS,
    end: (state) => {
      state.word = sureWord();
      window.desk.ask(PRACTICE, { static_per_min: 0 });
    },
  },
  {
    on: "desk",
    see: "to-evenings",
    words: (state) => (state.kept ? "All of it is kept already: sound, copy and doubt, without asking. Open \u201cEvenings\u201d on top of the page." : "Everything is being kept, without asking. A moment, until the copy is on the practice shelf."),
    look: async (state) => {
      if (state.kept) return;
      const answer = await fetch("/practice/evenings/list").catch(() => null);
      const all = answer?.ok ? await answer.json() : [];
      state.kept = all.some((evening) => evening.characters > 0);
    },
    done: () => false,
  },
  {
    on: "shelf",
    words: () => "This is your evening, each line with its time. A moment, until it is open.",
    done: () => lines().length > 0,
    // Of what the shelf holds: the sheet at the desk was a little ahead of it.
    end: (state) => (state.word = sureWord() ?? state.word),
  },
  {
    on: "shelf",
    words: (state) => `Find it again as you would after a year: type ${state.word} into \u201cWords in the copy\u201d, press Search, and touch a line that is found.`,
    done: (state) => {
      const found = document.querySelector("#list .line-found") !== null;
      return found && $("words").value.toUpperCase().includes(state.word) && document.querySelector("#sheet .line.now") !== null;
    },
  },
  {
    on: "shelf",
    begin: (state) => (state.printed = false),
    words: () => "Now print it: press \u201cPrint\u201d. Paper or a PDF file, as you like.",
    done: (state) => state.printed,
  },
  {
    on: "shelf",
    words: () => "That was an evening: tuned, copied, doubted, kept, found and printed. At your own receiver it is the same. Practice goes when markhold ends; your own shelf was not touched.",
    done: () => false,
    last: true,
  },
];

export class Guide {
  constructor() {
    this.page = $("receiver") ? "desk" : "shelf";
    this.stood = 0;
    this.state = JSON.parse(here.get("guide") ?? "null");
    $("guide-leave").addEventListener("click", () => this.leave());
    addEventListener("afterprint", () => this.state && (this.state.printed = true));
    setInterval(() => this.look(), LOOK);
    this.arrive();
    this.show();
  }

  start() {
    this.state = { step: 0, before: $("input").value, begun: false };
    here.set("input", PRACTICE);
    if ($("input").value !== PRACTICE) window.desk.ask("listen", PRACTICE);
    this.keep();
    this.show();
  }

  /** The shelf was opened, or the desk again. */
  arrive() {
    const { state, page } = this;
    if (!state) return;
    const first = STEPS.findIndex((step) => step.on === "shelf");
    if (page === "shelf" && state.step === first - 1) state.step = first;
    // Back at the desk in the middle of the shelf's part: it is found there again.
    if (page === "desk" && state.step >= first) state.step = STEPS[state.step].last ? state.step : first - 1;
    this.keep();
  }

  leave() {
    if (!this.state) return;
    const { before } = this.state;
    this.state = null;
    here.set("guide", "null");
    if (this.page === "desk") window.desk.ask(PRACTICE, { static_per_min: 0 });
    // Who came from the radio goes back there, who came for practice stays.
    here.set("input", before);
    if (this.page === "desk" && before !== PRACTICE) window.desk.ask("listen", before);
    this.show();
    $("first-evening")?.focus();
  }

  keep() {
    here.set("guide", JSON.stringify(this.state));
  }

  get step() {
    return this.state && STEPS[this.state.step];
  }

  async look() {
    const { step, state } = this;
    if (!step || step.on !== this.page || this.busy) return;
    // Not before the room has been entered: what is seen until then is the radio's.
    if (this.page === "desk" && $("input").value !== PRACTICE) return;
    if (!state.begun) {
      state.begun = true;
      window.desk.ask("target", AIM);
      window.desk.ask(PRACTICE, BEGIN);
      return this.keep();
    }
    if (this.entered !== state.step) {
      this.entered = state.step;
      step.begin?.(state);
      reveal(step.see);
    }
    this.busy = true;
    await step.look?.(state);
    this.busy = false;
    if (this.state !== state) return;
    this.stood = step.done(state) ? this.stood + 1 : 0;
    if (this.stood >= STANDS) this.next();
    this.show();
  }

  next() {
    this.step.end?.(this.state);
    this.stood = 0;
    this.state.step += 1;
    this.keep();
  }

  show() {
    const { step, state } = this;
    $("guide").hidden = !step;
    $("to-evenings")?.classList.toggle("wanted", Boolean(step && state.kept && state.step === 4));
    if (step) {
      const write = (id, words) => $(id).textContent !== words && ($(id).textContent = words);
      const elsewhere = this.page === "desk" ? "The last step is behind you: an evening is kept, found and printed." : "The next step is at the desk.";
      write("guide-name", step.last ? "First evening: done" : `First evening, step ${state.step + 1} of ${STEPS.length - 1}`);
      write("guide-do", step.on === this.page ? step.words(state) : elsewhere);
      write("guide-leave", step.last ? "Close" : "Leave");
    }
    document.documentElement.style.setProperty("--guide", `${$("guide").offsetHeight}px`);
  }
}
