// Answering: text typed ahead, sent by the transmitter that this page has armed.

import { remembered } from "./tools.js";

const $ = (id) => document.getElementById(id);
/** How often this page says that it is there, ms: after three seconds without it is off. */
const HERE = 1000;

/** How it stands, in words. */
export function stands(state, hand) {
  if (!state.set) return "No transmitter is set: [transmitter] in the settings file.";
  const who = `${state.call ?? "No call is set"}, by ${state.set}`;
  if (state.armed_by === null) return `${who}: off.`;
  if (state.armed_by !== hand) return `${who}: armed by another page.`;
  const left = state.left_s < 90 ? `${state.left_s} s` : `${Math.round(state.left_s / 60)} min`;
  const doing = !state.on_the_air ? "not keyed" : state.paused ? "keyed, paused" : "keyed";
  const loops = state.loops ? ", a loop that comes round until you stop it or write" : "";
  return `${who}: armed by this page for ${left}, ${doing}${loops}.`;
}

/** Which tones go out, in words; nothing while it is off. */
export function tonesTold({ words, refused }) {
  if (refused) return `Nothing can be sent: ${refused}.`;
  return words ? `${words[0].toUpperCase()}${words.slice(1)}.` : "";
}

/** How the machine's own keyboard stands, in words. */
export function keyboardStands(keyboard, armed) {
  if (!keyboard) return "";
  const at = `The machine's keyboard, ${keyboard.way}`;
  if (keyboard.error) return `${at}, is not heard: ${keyboard.error}`;
  if (keyboard.open) return `${at}: its line stays in space since a break. Is the loop closed?`;
  const what = armed
    ? "what is typed on it waits here; a break stops at once"
    : "heard, and dropped until somebody arms";
  const counts = [
    [keyboard.taken, "typed"],
    [keyboard.dropped, "dropped"],
    [keyboard.echoes, "of its own printing left out"],
    [keyboard.misread, "misread"],
  ].filter(([count]) => count > 0);
  const told = counts.map(([count, word]) => `${count} ${word}`).join(", ");
  return `${at}: ${what}${told && ` (${told})`}.`;
}

/** What stands in the field once so many characters have gone and others were typed behind it. */
export function followed(text, went, typed, waiting) {
  // Characters, not halves of them.
  const own = Array.from(text);
  const all = Array.from(waiting);
  return own.slice(went).concat(all.slice(Math.max(0, all.length - typed))).join("");
}

export class Answering {
  constructor(link, alerts) {
    this.link = link;
    this.alerts = alerts;
    this.hand = null;
    this.state = null;
    /** Characters that had gone when what stands in the field began. */
    this.gone = 0;
    /** Characters typed at the machine that the field has in it. */
    this.typed = 0;
    this.words = null;
    $("answer-form").addEventListener("submit", (event) => {
      event.preventDefault();
      this.arm();
    });
    $("answer-text").addEventListener("input", () => this.write());
    $("answer-tones").addEventListener("change", () => this.chooseTones());
    for (const what of ["go", "go-and-end", "pause", "finish", "stop"]) {
      $(`answer-${what}`).addEventListener("click", () => this.ask(what));
    }
    setInterval(() => this.isMine() && this.ask("here"), HERE);
  }

  ask(what, value) {
    this.link.ask("answer", value === undefined ? { do: what } : { do: what, with: value });
  }

  /** Which hand this page is: another one with every link, and then nothing is armed by it. */
  setHand(hand) {
    this.hand = hand;
  }

  isMine() {
    return this.state !== null && this.state.armed_by !== null && this.state.armed_by === this.hand;
  }

  arm() {
    const tones = $("answer-tones").value;
    this.ask("arm", { call: $("answer-call").value, minutes: Number($("answer-minutes").value), tones });
  }

  /** Remembered for the next time; from the next over on where this page has it armed. */
  chooseTones() {
    const tones = $("answer-tones").value;
    remembered.set("tones", tones);
    if (this.isMine()) this.ask("tones", tones);
  }

  /** The choice stands as it is armed, and before as it was chosen here last. */
  showTones(state) {
    $("answer-tones-line").hidden = !state.set;
    const off = state.armed_by === null;
    const chosen = off ? (remembered.get("tones") ?? state.tones.from) : state.tones.from;
    if (document.activeElement !== $("answer-tones")) $("answer-tones").value = chosen;
    $("answer-tones").disabled = !off && !this.isMine();
    $("answer-tones-told").textContent = tonesTold(state.tones);
    $("answer-tones-told").classList.toggle("caution", Boolean(state.tones.refused));
  }

  write() {
    if (this.isMine()) this.ask("write", { gone: this.gone, typed: this.typed, text: $("answer-text").value });
  }

  /** A text goes behind what waits, on a line of its own. */
  put(text) {
    const field = $("answer-text");
    const before = field.value && !field.value.endsWith("\n") ? `${field.value}\n` : field.value;
    field.value = before + text;
    field.scrollTop = field.scrollHeight;
    this.write();
  }

  loop(text, every) {
    this.ask("loop", { text, pause_s: every });
  }

  show(state) {
    const was = this.isMine();
    this.state = state;
    const mine = this.isMine();
    $("answer-state").textContent = stands(state, this.hand);
    $("answer-keyboard").textContent = keyboardStands(state.keyboard, state.armed_by !== null);
    this.showTones(state);
    $("answer-form").hidden = !state.set || state.armed_by !== null;
    $("answer-work").hidden = !mine;
    $("answer-go").disabled = state.on_the_air && !state.paused;
    $("answer-go-and-end").disabled = $("answer-go").disabled;
    $("answer-pause").disabled = !state.on_the_air || state.paused;
    $("answer-finish").disabled = !state.on_the_air;
    document.documentElement.classList.toggle("on-the-air", state.on_the_air);
    document.documentElement.classList.toggle("only-practice", state.set?.includes("practice") ?? false);
    if (mine && !was) this.begin(state);
    else if (mine) this.follow(state);
    this.alerts.say("held-up", state.held_up, "caution");
    $("answer-cable").textContent = state.cable ? `${state.cable[0].toUpperCase()}${state.cable.slice(1)}.` : "";
    $("answer-held").textContent = state.held_up ?? "";
    if (state.words !== this.words) {
      this.words = state.words;
      this.alerts.say("answering", state.words, "caution");
    }
  }

  begin(state) {
    this.gone = state.gone;
    this.typed = state.typed;
    $("answer-text").value = state.waiting;
    this.looped = state.loops;
    $("answer-call").value = "";
    $("answer-text").focus();
  }

  /** What has gone leaves the field at its front, what was typed at the machine comes at its end,
   * wherever somebody types in it. */
  follow(state) {
    if (state.loops) {
      // The desk writes what comes round.
      this.gone = state.gone;
      this.typed = state.typed;
      this.looped = true;
      $("answer-text").value = state.waiting;
      return;
    }
    const went = state.gone - this.gone;
    const typed = state.typed - this.typed;
    if (went <= 0 && typed <= 0) return;
    const field = $("answer-text");
    const [from, to] = [field.selectionStart, field.selectionEnd];
    field.value = followed(field.value, went, typed, state.waiting);
    field.setSelectionRange(Math.max(0, from - went), Math.max(0, to - went));
    this.gone = state.gone;
    this.typed = state.typed;
  }
}
