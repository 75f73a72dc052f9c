// The page printer that prints along: which one, by which way, and how it stands.

const $ = (id) => document.getElementById(id);

/** A number with its noun. */
function count(number, one, many) {
  return number === 1 ? `1 ${one}` : `${number} ${many}`;
}

/** A length of time in words. */
function lasting(seconds) {
  return seconds < 90 ? `${Math.round(seconds)} s` : `${Math.round(seconds / 60)} min`;
}

/** How printing stands, in words. */
export function stands(state) {
  if (!state.machine) return "";
  const words = [];
  if (!state.runs) words.push(`${state.machine} has stopped; its line is in mark.`);
  else if (!state.open) words.push(`${state.machine} is not reached yet.`);
  else words.push(`${state.machine} prints along.`);
  if (state.motor !== null) words.push(state.motor ? "Its motor runs." : "Its motor is off.");
  if (state.waiting) words.push(`${count(state.waiting, "character waits", "characters wait")}, ${lasting(state.waiting_s)} of work.`);
  if (state.sent) words.push(`${count(state.sent, "character", "characters")} sent.`);
  if (state.dropped) words.push(`${count(state.dropped, "character was", "characters were")} not printed; the copy has them.`);
  if (state.unlike) words.push(`${count(state.unlike, "was", "were")} read better after being printed; the copy shows it.`);
  if (state.garbled) words.push(`${count(state.garbled, "character was", "characters were")} left out as garble ran.`);
  if (state.kept) words.push(`What is printed is kept in ${state.kept}.`);
  return words.join(" ");
}

export class Machine {
  constructor(link, alerts) {
    this.link = link;
    this.alerts = alerts;
    this.listing = { machines: [], ways: [], meant: null, problem: null };
    this.state = null;
    $("print-start").addEventListener("click", () => this.start());
    $("print-stop").addEventListener("click", () => link.ask("stop-printing"));
    $("machine").addEventListener("change", () => this.chosen());
    $("patience").addEventListener("change", () => this.patient());
    $("printer").addEventListener("toggle", () => this.opened());
    this.opened();
  }

  opened() {
    if ($("printer").open) this.link.ask("machines");
  }

  /** What may be printed on. */
  set(listing) {
    this.listing = listing;
    const select = $("machine");
    const before = select.value || listing.meant || "";
    select.replaceChildren(...listing.machines.map(({ name, about }) => new Option(`${name}: ${about}`, name)));
    if (listing.machines.some((m) => m.name === before)) select.value = before;
    this.chosen();
    this.alerts.say("machines", listing.problem ? `The settings file: ${listing.problem}` : null, "caution");
  }

  machine() {
    return this.listing.machines.find((m) => m.name === $("machine").value);
  }

  chosen() {
    const machine = this.machine();
    const ways = this.listing.ways.map(({ way, name }) => new Option(name, way));
    if (machine?.way) ways.unshift(new Option(`${machine.way}, its own`, ""));
    const before = $("way").value;
    $("way").replaceChildren(...ways);
    if (!machine?.way && ways.some((option) => option.value === before)) $("way").value = before;
    if (machine && !this.state?.runs) $("patience").value = machine.patience_s;
  }

  start() {
    const patience = Number($("patience").value);
    this.link.ask("print", { machine: $("machine").value, way: $("way").value || null, patience_s: patience, sent: $("print-sent").checked });
  }

  /** Without a machine that runs, patience counts from the next start on. */
  patient() {
    const patience = Number($("patience").value);
    if (this.state?.runs) this.link.ask("patience", patience);
  }

  /** How printing stands. */
  show(state) {
    const before = this.state;
    this.state = state;
    const words = stands(state);
    if ($("printing").textContent !== words) $("printing").textContent = words;
    $("print-stop").hidden = !state.runs;
    $("print-start").textContent = state.runs ? "Start this one instead" : "Start the machine";
    if (state.runs && !before?.runs) {
      $("patience").value = state.patience_s;
      $("printer").open = true;
    }
    const lost = state.runs ? "It is tried again all the time; printing goes on with the character that was being sent, and nothing that waits is lost." : "";
    this.alerts.say("printer", state.error ? `${state.machine}: ${state.error}. ${lost}` : null, "grave");
    this.alerts.say("printed", state.not_kept ? `What goes to paper is not kept: ${state.not_kept}. Printing goes on.` : null, "caution");
  }
}
