// Skeds in the page: listed, added, changed and removed.

const $ = (id) => document.getElementById(id);
/** Rules that have a name of their own in the form; all others are written. */
const NAMED = ["", "FREQ=DAILY", "FREQ=WEEKLY"];
/** What a sked has before anything was typed. */
const FRESH = { channels: [], when: { rules: [] } };

/** Words by which the meaning of a frequency may be typed; what has a pitch stays as it was. */
const MEANINGS = { mark: "mark", middle: "middle" };

/** A frequency as it is typed: 7047.5, or 7047.5 mark. */
const word = ({ khz, means }) => `${khz}${means === "mark" ? " mark" : typeof means === "object" ? " carrier" : ""}`;

/** What was typed, piece by piece. */
const pieces = (text) => text.split(",").map((piece) => piece.trim()).filter((piece) => piece);

/** Frequencies as typed; one that says "carrier" is one of those that were there. */
function channels(text, old) {
  return pieces(text).map((piece) => {
    const known = old.find((channel) => word(channel) === piece);
    if (known) return known;
    const [khz, meaning = "middle"] = piece.split(/\s+/);
    if (!(Number(khz) > 0) || !MEANINGS[meaning]) throw new Error(`"${piece}" is no frequency: write 7047.5, or 7047.5 mark`);
    return { khz: Number(khz), means: MEANINGS[meaning] };
  });
}

const number = (text) => (text === "" ? null : Number(text));

function made(name, text) {
  return Object.assign(document.createElement(name), { textContent: text });
}

function button(words, of, pressed) {
  const b = made("button", words);
  b.type = "button";
  b.setAttribute("aria-label", `${words} ${of}`);
  b.addEventListener("click", pressed);
  return b;
}

export class SkedForm {
  /** `called(sked)` names one, `take(tonight)` takes what the desk says after a change. */
  constructor(called, take) {
    Object.assign(this, { called, take, editing: null });
    this.fields = $("sked-form").elements;
    $("sked-form").addEventListener("submit", (event) => {
      event.preventDefault();
      if (window.Notification?.permission === "default") Notification.requestPermission();
      this.tell(() => ({ ask: "put", id: this.editing?.id ?? null, sked: this.typed() }));
    });
    $("sked-new").addEventListener("click", () => this.anew());
    this.fields.repeat.addEventListener("change", () => this.ruled());
  }

  /** The skeds there are. */
  show(skeds) {
    $("sked-list").replaceChildren(...skeds.map((sked) => this.row(sked)));
  }

  row({ id, text, sked }) {
    const li = document.createElement("li");
    const change = button("Change", this.called(sked), () => this.edit(id, sked));
    const remove = button("Remove", this.called(sked), () => this.tell(() => ({ ask: "remove", id })));
    li.append(made("span", text), change, remove);
    return li;
  }

  edit(id, sked) {
    this.editing = { id, sked };
    const f = this.fields;
    const rule = sked.when.rules[0] ?? "";
    const usual = NAMED.includes(rule) && sked.when.rules.length < 2;
    f.name.value = sked.name;
    f.station.value = sked.station;
    f.first.value = sked.when.first.slice(0, 16);
    f.zone.value = sked.when.zone;
    f.repeat.value = usual ? rule : "other";
    f.rule.value = usual ? "" : rule;
    this.ruled();
    f.lasts.value = sked.length_min;
    f.khz.value = sked.channels[0]?.khz ?? "";
    const means = sked.channels[0]?.means ?? "middle";
    f.means.value = typeof means === "string" ? means : Object.keys(means)[0];
    f.place.value = sked.place;
    f.notes.value = sked.notes;
    f.sends.value = sked.sends;
    f.shift.value = sked.shift_hz ?? "";
    f.rate.value = sked.rate_baud ?? "";
    f.mark.value = sked.mark ?? "";
    f.others.value = sked.channels.slice(1).map(word).join(", ");
    f.except.value = sked.when.except.join(", ");
    f.also.value = sked.when.also.join(", ");
    f.print_on.value = sked.print_on ?? "";
    $("sked-what").textContent = `Change ${this.called(sked)}`;
    $("sked-new").hidden = false;
    f.name.focus();
  }

  /** A rule is asked for where it has no name of its own. */
  ruled() {
    this.fields.rule.closest("label").hidden = this.fields.repeat.value !== "other";
  }

  anew() {
    this.editing = null;
    $("sked-form").reset();
    this.ruled();
    $("sked-what").textContent = "Add a sked";
    $("sked-new").hidden = true;
    $("sked-cannot").hidden = true;
  }

  /** The sked as the form has it; what the form does not show stays as it was. */
  typed() {
    const f = this.fields;
    const old = this.editing?.sked ?? FRESH;
    const rule = f.repeat.value === "other" ? f.rule.value.trim() : f.repeat.value;
    const pitch = (name) => old.channels[0]?.means?.[name]?.pitch_hz ?? 2210;
    const carrier = f.means.value.endsWith("carrier");
    const means = carrier ? { [f.means.value]: { pitch_hz: pitch(f.means.value) } } : f.means.value;
    const channel = f.khz.value === "" ? [] : [{ khz: Number(f.khz.value), means }];
    const { id, type, ...kept } = old;
    return {
      ...kept, version: 1, name: f.name.value, station: f.station.value, length_min: Number(f.lasts.value), place: f.place.value.trim(), notes: f.notes.value,
      sends: f.sends.value, shift_hz: number(f.shift.value), rate_baud: number(f.rate.value), mark: f.mark.value || null, print_on: f.print_on.value.trim(),
      channels: [...channel, ...channels(f.others.value, old.channels)],
      when: { zone: f.zone.value, first: f.first.value, except: pieces(f.except.value), also: pieces(f.also.value), rules: [...(rule ? [rule] : []), ...old.when.rules.slice(1)] },
    };
  }

  /** `what()` says what is asked; what it cannot say is shown as an error. */
  async tell(what) {
    try {
      const answer = await fetch("/skeds", { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(what()) });
      const said = await answer.json();
      if (!answer.ok) throw new Error(said.cannot);
      this.anew();
      this.take(said);
    } catch (error) {
      $("sked-cannot").textContent = `That cannot be: ${error.message}`;
      $("sked-cannot").hidden = false;
    }
  }
}
