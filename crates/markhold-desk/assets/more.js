// Where the manual says more: of each sentence, of what is wrong, of each alert.

const at = (passage) => `/manual/trouble.html#${passage}`;

const SENTENCES = {
  nothing: at("no-tones-heard"),
  turn: at("turn-the-dial"),
  move: at("turn-until-the-pitch-is-higher-or-lower"),
  "one-tone": at("one-tone-only"),
  "steady-tone": at("one-steady-tone"),
  "other-sideband": at("in-tune-mark-and-space-swapped"),
  overlap: at("two-signals-overlap"),
  waiting: at("waiting"),
  "in-tune": at("in-tune"),
};

const FAULTS = {
  "no-input": at("no-sound-input"),
  gone: at("the-sound-input-is-gone"),
  still: at("the-sound-input-gives-nothing"),
  silence: at("no-sound-is-the-cable-in"),
  "too-quiet": at("too-quiet"),
  "too-loud": at("too-loud"),
  behind: at("this-computer-is-too-slow"),
  ended: at("the-sound-has-ended"),
};
const UNANSWERED = at("the-desk-does-not-answer");

const ALERTS = {
  again: "/manual/evenings.html#readings",
  answering: at("the-transmitter"),
  behind: at("this-computer-is-too-slow"),
  cannot: at("that-cannot-be"),
  clock: at("the-clock-was-put-forward-or-back"),
  copied: "/manual/evenings.html#printing-a-page",
  follows: "/manual/tuning.html#the-strip",
  forgotten: "/manual/reliability.html",
  gap: at("sound-was-lost"),
  gone: at("the-sound-input-is-gone"),
  "held-up": "/manual/sending.html#from-the-page",
  imported: at("the-log-of-contacts"),
  kept: at("the-evening-is-not-kept"),
  "kept-contact": at("the-log-of-contacts"),
  later: UNANSWERED,
  lightning: at("static-crashes-come-more-often"),
  line: "/manual/paper.html#from-the-desk",
  log: at("the-log-of-contacts"),
  machines: at("the-settings-file"),
  printed: at("what-goes-to-paper-is-not-kept"),
  printer: at("the-machine-prints-nothing"),
  shelf: at("the-evening-is-not-kept"),
};

/** Where more is said of a sentence: what it tells to do, and which fault it is; without a name, a
 * fault is that the desk does not answer. */
export function ofSentence(what, fault) {
  return what === "fault" ? (FAULTS[fault] ?? UNANSWERED) : SENTENCES[what];
}

/** Where more is said of an alert. */
export function ofAlert(name) {
  return ALERTS[name];
}

/** A link there. It opens beside: leaving the desk's page would end what it does. */
export function link(words, to, of) {
  const a = document.createElement("a");
  a.className = "to-manual";
  a.target = "markhold-manual";
  a.href = to;
  a.textContent = words;
  a.setAttribute("aria-label", `${words}: ${of}, in the manual`);
  return a;
}
