// The slip: why a character is doubtful, where it is touched or looked at.

const CAUSES = {
  "fade-of-one-tone": "one tone faded away",
  fade: "the signal faded away",
  crash: "a static crash lay over it",
  neighbour: "another signal fell into it",
  gain: "something strong pushed the receiver's gain down",
  drift: "the tones moved away",
  timing: "its elements are not where they should be",
  "shift-lost": "a letters or figures shift before it may be lost",
};

function percent(p) {
  return `${Math.round(100 * p)} %`;
}

function named(glyph) {
  if (glyph === null) return "a shift";
  return { " ": "a space", "\r": "carriage return", "\n": "line feed", "\u0007": "the bell", "\u0005": "who are you" }[glyph] ?? glyph;
}

/** Whether language made it another character than the signal alone, or would. */
export function byLanguage(character) {
  return character?.language?.changed ?? false;
}

/** What signal and language each say, where they differ. */
function witnesses({ signal, both }) {
  const named_ = (a) => `${named(a.glyph)} ${percent(a.probability)}`;
  return ` By the signal alone it is ${named_(signal)}, with language ${named_(both)}.`;
}

/** A character's doubt in words. */
export function why(character, clock) {
  const others = character.alternatives.filter((a) => a.probability >= 0.01);
  const else_ = others.map((a) => `${named(a.glyph)} ${percent(a.probability)}`).join(", ");
  const cause = CAUSES[character.doubt];
  const first = `${named(character.glyph)} with ${percent(character.probability)}${else_ ? `, or ${else_}` : ""}.`;
  const because = cause ? ` ${cause[0].toUpperCase()}${cause.slice(1)}.` : "";
  const language = byLanguage(character) ? witnesses(character.language) : "";
  return `${first}${because}${language} ${clock.time(character.start, true)} UTC`;
}

export class Slip {
  constructor(clock) {
    this.clock = clock;
    this.element = document.getElementById("slip");
    this.last = null;
  }

  attend(sheet) {
    this.sheet = sheet;
    const paper = sheet.element;
    // Scrolling to a doubtful character moves the paper under a pointer that rests: where it points
    // at none, the one that is looked at stays.
    const pointed = (target) => (this.asks(target) ? target : document.activeElement);
    paper.addEventListener("pointerover", (e) => this.show(pointed(e.target)));
    paper.addEventListener("pointerleave", () => this.show(document.activeElement));
    paper.addEventListener("click", (e) => this.show(e.target));
    paper.addEventListener("focusin", (e) => this.show(e.target));
    paper.addEventListener("focusout", () => this.hide());
    paper.addEventListener("scroll", () => this.show(document.activeElement));
    document.getElementById("doubt-next").addEventListener("click", () => this.step(1));
    document.getElementById("doubt-before").addEventListener("click", () => this.step(-1));
    document.addEventListener("keydown", (e) => {
      if (e.key !== "F8" || e.altKey || e.ctrlKey || e.metaKey) return;
      e.preventDefault();
      this.step(e.shiftKey ? -1 : 1);
    });
    paper.addEventListener("keydown", (e) => this.key(e));
  }

  /** Whether a character says something to who only points at it; what is sure waits to be touched. */
  asks(target) {
    const character = this.sheet.characters.get(target);
    return Boolean(character) && !character.quiet;
  }

  show(target) {
    const character = this.sheet.characters.get(target);
    if (!character) return this.hide();
    this.element.textContent = character.words ?? why(character, this.clock);
    this.element.hidden = false;
    this.last = character;
    target.setAttribute("aria-describedby", "slip");
    const [place, paper] = [target.getBoundingClientRect(), this.element.parentElement.getBoundingClientRect()];
    const left = Math.min(Math.max(place.left - paper.left - 30, 8), paper.width - this.element.offsetWidth - 8);
    this.element.style.left = `${Math.max(left, 4)}px`;
    this.element.style.top = `${place.bottom - paper.top + 6}px`;
  }

  hide() {
    this.element.hidden = true;
  }

  /** Arrow keys go from one doubtful character to the next. */
  key(event) {
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (event.key === "Escape") this.hide();
    if (!step || event.altKey || event.ctrlKey || event.metaKey) return;
    if (this.step(step)) event.preventDefault();
  }

  /** To the next doubtful character, or the one before; from outside the paper to the last one, or
   * to the one where one has been. Whether there is one. */
  step(step) {
    // The line that is being typed is typed anew with each character: it waits until it stands.
    const typed = this.sheet.element.querySelector(".piece:last-child .line:last-child");
    const all = [...this.sheet.element.querySelectorAll(".d")].filter((d) => d.closest(".line") !== typed);
    const focused = all.indexOf(document.activeElement);
    // The line may have been typed anew since.
    const been = (d) => this.sheet.characters.get(d).start === this.last?.start;
    const now = focused < 0 ? all.findIndex(been) : focused;
    const next = all[now < 0 ? all.length - 1 : now + step];
    if (!next) return false;
    next.focus({ preventScroll: true });
    next.scrollIntoView({ block: "center", inline: "nearest" });
    this.show(next);
    return true;
  }
}
