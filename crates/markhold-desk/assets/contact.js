// A contact: taken from the copy by touching words of it, kept in the log; and texts that are
// ready to go, filled in with it.

const $ = (id) => document.getElementById(id);
const FIELDS = ["call", "report_sent", "report_received", "name", "number_received", "khz", "note"];
/** What a report is before anybody gives one. */
const USUAL = "599";

/** Which field a word of the copy fits; `null` for none. */
export function fits(word) {
  if (/^[1-5][1-9N]{1,2}$/.test(word)) return "report_received";
  if (/^\d+$/.test(word)) return "number_received";
  if (/^(?=.*\d)[A-Z0-9]{1,3}[0-9][A-Z0-9/]*[A-Z]$/.test(word)) return "call";
  return /^[A-Z]{2,}$/.test(word) ? "name" : null;
}

const WORDS = { call: "the call", report_received: "the report got", number_received: "the number got", name: "the name" };

/** The word of the copy at this point of the window. */
function wordAt(x, y) {
  const place = document.caretPositionFromPoint?.(x, y);
  const range = place ? null : document.caretRangeFromPoint?.(x, y);
  const [node, offset] = place ? [place.offsetNode, place.offset] : [range?.startContainer, range?.startOffset];
  const line = (node?.nodeType === Node.TEXT_NODE ? node.parentElement : node)?.closest?.(".line");
  if (!line) return null;
  const before = document.createRange();
  before.setStart(line, 0);
  before.setEnd(node, offset);
  const at = before.toString().length;
  const text = line.textContent;
  const from = text.slice(0, at).search(/[^\s,.:;()?"]*$/);
  return text.slice(from).match(/^[^\s,.:;()?"]+/)?.[0].toUpperCase() ?? null;
}

export class Contacts {
  /** `room()` says where we are, `put(text)` gives text to what waits, `loop(text, s)` sends it again and again. */
  constructor(alerts, { room, dial, put, loop }) {
    Object.assign(this, { alerts, room, dial, put, loop, begun: null, latest: [] });
    $("contact-form").addEventListener("submit", (event) => {
      event.preventDefault();
      this.attempt(() => this.keep());
    });
    $("contact-empty").addEventListener("click", () => this.empty());
    $("contact-form").elements.call.addEventListener("input", () => this.before());
    $("contact").addEventListener("toggle", () => $("contact").open && this.attempt(() => this.list()));
    $("contact-import").addEventListener("change", () => this.attempt(() => this.take()));
    $("sheet").addEventListener("click", (event) => this.touched(event));
    this.enter();
    this.attempt(() => this.texts());
  }

  async ask(path, form, kind = {}) {
    const body = form instanceof File ? form : form && new URLSearchParams(form);
    const answer = await fetch(path, form ? { method: "POST", body, ...kind } : {});
    const told = await answer.json().catch(() => ({ cannot: "the desk does not answer" }));
    if (!answer.ok) throw new Error(told.cannot ?? "that cannot be");
    return told;
  }

  async attempt(work) {
    try {
      return await work();
    } catch (error) {
      this.alerts.mention("cannot", `That cannot be: ${error.message}.`);
    }
  }

  path(more = "") {
    return `/contacts/${this.room()}${more}`;
  }

  given() {
    const fields = $("contact-form").elements;
    return Object.fromEntries(FIELDS.map((name) => [name, fields[name].value.trim()]));
  }

  /** Another room has another log. */
  enter() {
    this.empty();
    $("contact-adif").href = this.path("/adif");
    if ($("contact").open) this.attempt(() => this.list());
  }

  empty() {
    const khz = $("contact-form").elements.khz.value;
    $("contact-form").reset();
    const fields = $("contact-form").elements;
    fields.report_sent.value = USUAL;
    fields.khz.value = khz;
    this.dialled();
    this.begun = null;
    this.before();
  }

  /** Where the dial is known it is written down. */
  dialled() {
    const khz = this.dial();
    if (khz) $("contact-form").elements.khz.value = khz;
  }

  /** A word of what was received goes where it fits. */
  touched({ clientX, clientY, target }) {
    if (!$("contact").open || target.closest(".was-sent")) return;
    const word = wordAt(clientX, clientY);
    const field = word && fits(word);
    if (!field) return;
    $("contact-form").elements[field].value = word;
    this.begun ??= new Date().toISOString();
    if (field === "call") this.before();
    $("contact-said").textContent = `${word} is ${WORDS[field]}.`;
  }

  /** Whether the station stands in the log already. */
  before() {
    const { call } = this.given();
    const known = this.latest.filter((c) => c.call === call.toUpperCase());
    $("contact-before").textContent = known.length ? `In the log already: ${known.slice(0, 3).map(when).join(", ")}.` : "";
  }

  async keep() {
    const form = this.given();
    if (this.begun) form.begin = this.begun;
    this.show(await this.ask(this.path(), form));
    this.alerts.mention("kept-contact", `The contact with ${form.call.toUpperCase()} is in the log.`, 6);
    this.empty();
  }

  async list() {
    $("contact-adif").href = this.path("/adif");
    this.show(await this.ask(this.path()));
  }

  show({ contacts, next, troubles }) {
    this.latest = contacts;
    $("contact-count").textContent = next === 1 ? "The log is empty." : `${next - 1} in the log.`;
    if (troubles.length) this.alerts.mention("log", `In the log: ${troubles[0]}.`);
    $("contact-list").replaceChildren(...contacts.slice(0, 20).map((c) => this.item(c)));
    this.before();
  }

  item(contact) {
    const [li, gone] = [document.createElement("li"), document.createElement("button")];
    const parts = [contact.call, when(contact), contact.report_sent && `gave ${contact.report_sent}`, contact.report_received && `got ${contact.report_received}`, contact.name];
    const words = document.createElement("span");
    words.textContent = parts.filter(Boolean).join(", ") + (contact.worked_before ? ` \u2013 as number ${contact.worked_before} before` : "");
    gone.type = "button";
    gone.textContent = "Take out";
    gone.setAttribute("aria-label", `Take the contact with ${contact.call} out of the log`);
    gone.addEventListener("click", () => this.attempt(() => this.remove(contact, gone)));
    li.append(words, " ", gone);
    return li;
  }

  /** The second press does it. */
  async remove(contact, button) {
    if (button.dataset.sure) this.show(await this.ask(this.path("/remove"), { number: contact.number, call: contact.call }));
    button.dataset.sure = "yes";
    button.textContent = "Sure, take it out";
  }

  async take() {
    const [file] = $("contact-import").files;
    if (!file) return;
    const { new: fresh, known, troubles } = await this.ask(this.path("/import"), file, { headers: { "Content-Type": "application/octet-stream" } });
    $("contact-import").value = "";
    this.alerts.mention("imported", `${file.name}: ${fresh} new, ${known} known already${troubles.length ? `; ${troubles[0]}` : ""}.`);
    await this.list();
  }

  async texts() {
    const all = await this.ask("/texts");
    $("ready-list").replaceChildren(...all.map(([name, text]) => {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = name;
      button.title = text;
      button.addEventListener("click", () => this.attempt(() => this.use(text)));
      return button;
    }));
  }

  async use(text) {
    const { call, name, report_sent: report } = this.given();
    const { text: filled } = await this.ask(`/texts/${this.room()}/fill`, { text, call, name, report });
    if ($("ready-loop").checked) this.loop(filled, Number($("ready-every").value));
    else this.put(filled);
  }
}

function when({ begin, band }) {
  return `${begin.slice(0, 10)} ${begin.slice(11, 16)} UTC${band ? ` on ${band}` : ""}`;
}
