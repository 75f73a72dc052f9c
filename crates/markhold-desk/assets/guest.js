// For a guest who looks on: what each part of the page is, in words without the trade's own, and what it
// shows just now. Nothing is set or asked of the desk; whoever listens goes on meanwhile.

const $ = (id) => document.getElementById(id);
/** How often the words of just now are looked at, ms. */
const LOOK = 700;
/** Of the latest copy so much is quoted, characters. */
const QUOTED = 40;

const said = (id) => $(id)?.textContent.trim() ?? "";
const follows = () => !$("facts").hidden && said("speed") !== "";

/** The first two numbers that something says; without the trade's words around them. */
const numbers = (id) => said(id).match(/\d+(\.\d+)?/g) ?? [];

/** The latest words of the copy, from a whole word on. */
function latest() {
  const lines = [...document.querySelectorAll("#sheet .line")].map((line) => line.textContent.trim());
  const text = lines.filter(Boolean).slice(-3).join(" ");
  return text.length > QUOTED ? text.slice(-QUOTED).replace(/^\S*/, "\u2026") : text;
}

function doubts() {
  const count = document.querySelectorAll("#sheet .d").length;
  return ["No letter on the sheet is in doubt", "One letter on the sheet is in doubt"][count] ?? `${count} letters on the sheet are in doubt`;
}

/** A part of the page: where, what it is, what it shows just now. */
const PARTS = [
  {
    at: ".instruction",
    what: "Far away somebody types, and every key that is struck goes out on short wave as a pattern of two tones. An old radio receives them, this page listens to the radio and writes down what was typed. Finding the place on the dial is the art of it; the large sentence says which way to turn.",
    now: () => `Just now it says: \u201c${said("words")}\u201d`,
  },
  {
    at: ".recorder",
    what: "This strip is what the radio lets through, low tones on the left, high ones on the right, the newest at the bottom. Two lines side by side that take turns are somebody who sends; grey is the noise of the sky. A line that wanders is the old receiver getting warm.",
    now: () => {
      const [one, other] = numbers("pair");
      return follows() ? `Just now somebody is there: one tone of ${one} swings a second, one of ${other}.` : "Just now nobody is there.";
    },
  },
  {
    at: "#figure",
    what: "The two tones draw here by themselves: one pushes the pen across, the other upright. A clean cross is a clear signal. When the layers high above the earth that carry it move, one arm shrinks: that is fading, seen as it happens.",
    now: () => "",
  },
  {
    at: "#eye",
    what: "All the little pieces of the message, laid over each other: one tone above, the other below. While the middle stays empty there is no question which of the two each piece was.",
    now: () => (follows() ? `Just now ${Math.round(numbers("speed")[0])} of them would fit into a second.` : ""),
  },
  {
    at: "#sheet",
    what: "Here the typing appears. It takes five pieces to make a letter, and noise can turn one letter into another. Where the page is not sure it says so: a line under the letter is a doubt, and a touch on it tells what else it may have been.",
    now: () => (latest() ? `The latest: \u201c${latest()}\u201d ${doubts()}.` : "Nothing has been copied yet."),
  },
  {
    at: "#to-evenings",
    what: "All of it is kept, sound and copy, and can be found again after years by a word that was in it. It can also be printed by a machine of the kind that once stood in every newspaper's office. Ask whoever sits here to show you.",
    now: () => said("kept"),
  },
];

function part(kind, what = {}, ...within) {
  const element = Object.assign(document.createElement(kind), what);
  element.append(...within);
  return element;
}

export class Guest {
  constructor() {
    const step = (words, by) => {
      const button = part("button", { type: "button", textContent: words });
      button.addEventListener("click", () => this.go(this.at + by));
      return button;
    };
    this.name = part("h2", { id: "guest-name" });
    this.what = part("p", { id: "guest-what" });
    this.now = part("p", { id: "guest-now" });
    this.back = step("Before", -1);
    this.on = step("Next", 1);
    const more = part("a", { className: "to-manual", target: "markhold-manual", href: "/manual/guest.html", textContent: "More for a guest" });
    const close = part("button", { type: "button", id: "guest-close", textContent: "Close" });
    close.addEventListener("click", () => this.close());
    this.panel = part("section", { id: "guest-panel", className: "guide guest", hidden: true }, this.name, this.what, this.now, part("div", { className: "turns" }, this.back, this.on, close, more));
    this.panel.setAttribute("aria-labelledby", "guest-name");
    this.what.setAttribute("role", "status");
    document.body.append(this.panel);
    addEventListener("keydown", (event) => event.key === "Escape" && !this.panel.hidden && this.close());
  }

  show() {
    if (!this.panel.hidden) return this.close();
    this.panel.hidden = false;
    this.looks = setInterval(() => this.look(), LOOK);
    this.go(0);
    this.on.focus();
  }

  /** To the part of this number; behind the last it is over. */
  go(to) {
    if (to >= PARTS.length) return this.close();
    this.at = to;
    this.mark(document.querySelector(PARTS[to].at));
    this.name.textContent = `For a guest, ${to + 1} of ${PARTS.length}`;
    this.what.textContent = PARTS[to].what;
    this.back.disabled = to === 0;
    this.on.textContent = to === PARTS.length - 1 ? "Done" : "Next";
    this.look();
    // Above the panel, which lies over the foot of the page.
    this.marked?.scrollIntoView({ block: "center" });
  }

  mark(place) {
    this.marked?.classList.remove("shown-to-guest");
    this.marked = place;
    place?.classList.add("shown-to-guest");
  }

  look() {
    const words = PARTS[this.at].now();
    if (this.now.textContent !== words) this.now.textContent = words;
    document.documentElement.style.setProperty("--guest", `${this.panel.offsetHeight}px`);
  }

  close() {
    clearInterval(this.looks);
    this.panel.hidden = true;
    this.mark(null);
    document.documentElement.style.removeProperty("--guest");
    $("guest").focus();
  }
}
