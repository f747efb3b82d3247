// A new job: a shipped problem, a file or pasted text; the form and the text say the same; what holds is told live.

import { failure, page, request, send } from "../api.js";
import { button, h, keeping, picker, replace, say } from "../dom.js";
import { problemForm } from "../form.js";
import { words } from "../numbers.js";
import { rooms } from "../rooms.js";

const PAUSE_MS = 350;

export async function submit(root, { query, signal }) {
  document.title = "New job";
  replace(root, h("p", { class: "waiting" }, "Reading the problems …"));
  let vocabulary, start;
  try {
    vocabulary = await page("/form", signal);
    const from = query.get("from");
    start = from ? await (await request(`/api/v1/jobs/${encodeURIComponent(from)}/problem.toml`, { signal })).text() : vocabulary.shipped[0].text;
  } catch (fault) {
    if (!signal.aborted) replace(root, failure(fault, () => submit(root, { query, signal })));
    return;
  }
  if (signal.aborted) return;
  new Desk(root, vocabulary, query.get("from"), signal).begin(start);
}

class Desk {
  constructor(root, vocabulary, from, signal) {
    Object.assign(this, { root, vocabulary, from, signal, text: "", faults: [], turn: 0, line: Promise.resolve(), sweep: { count: "4" } });
    this.formHolder = h("div", { class: "form-holder" });
    this.state = h("div", { class: "state", role: "status" });
    this.bounds = h("div", { class: "bounds-holder" });
    this.area = h("textarea", { class: "mono source", rows: "26", spellcheck: "false", "aria-label": "Problem file (TOML)", oninput: () => this.typed() });
    this.go = button("Submit the job", () => this.submit(), { class: "primary big" });
    this.goSweep = button("Submit the sweep", () => this.submitSweep());
    this.told = h("div");
  }

  begin(text) {
    const file = h("input", { type: "file", id: "file", accept: ".toml,text/plain", class: "away", onchange: async () => {
      if (file.files[0]) this.replaceText(await file.files[0].text());
      file.value = "";
    } });
    const shipped = this.vocabulary.shipped;
    const choose = picker("Start from", [...(this.from ? [["", `job ${this.from}`]] : []), ...shipped.map((p) => [p.name, p.title])], this.from ? "" : shipped[0].name, (name) => {
      const found = shipped.find((p) => p.name === name);
      if (found) this.replaceText(found.text);
    });
    replace(this.root,
      h("div", { class: "head" }, h("h1", {}, this.from ? "New job, cloned" : "New job"), h("span", { class: "grow" })),
      h("div", { class: "card starts" }, choose, h("span", { class: "hint" }, "or"), h("label", { class: "file", for: "file" }, "Upload a file"), file, h("span", { class: "hint" }, "or paste into the text below. Quantities carry their unit (850 mm, 5 um, 2 K); a bare number is SI.")),
      h("div", { class: "desk" },
        h("div", {}, h("section", { class: "card", "aria-label": "Form" }, this.formHolder), h("details", { class: "card" }, h("summary", {}, "The problem file as text"), h("p", { class: "hint" }, "The form changes this text and leaves its comments; what you type here shows in the form."), this.area)),
        h("div", { class: "beside-form" }, h("section", { class: "card", "aria-label": "What holds before any search" }, h("h2", {}, "Before any search"), this.state, this.bounds), h("section", { class: "card", "aria-label": "Submit" }, h("h2", {}, "Submit"), h("div", { class: "actions" }, this.go), this.told, this.sweepBox()))));
    this.replaceText(text);
  }

  replaceText(text) {
    this.text = text;
    this.area.value = text;
    this.ask({});
  }

  // nothing is submitted until what was typed is understood: it would be the text of before
  typed() {
    this.turn += 1;
    this.waits("Checking …");
    this.text = this.area.value;
    clearTimeout(this.pause);
    this.pause = setTimeout(() => this.ask({}), PAUSE_MS);
  }

  // one after the other: each change is made to the text that the one before left
  ask(changes) {
    clearTimeout(this.pause);
    this.turn += 1;
    const turn = this.turn;
    this.waits("Checking …");
    this.line = this.line.then(() => this.change(changes, turn)).catch((fault) => {
      if (turn === this.turn && !this.signal.aborted) replace(this.state, failure(fault, () => this.ask(changes)));
    });
  }

  async change(changes, turn) {
    const { text } = this;
    const answer = await send("/page/data/problem", { text, changes });
    if (text !== this.text || this.signal.aborted) return; // typed into since, or left
    this.text = answer.text;
    if (turn !== this.turn) return;
    if (document.activeElement !== this.area) this.area.value = answer.text;
    this.faults = answer.faults;
    this.form(answer.form);
    if (answer.faults.length) this.wrong();
    else this.bound(turn);
  }

  waits(text) {
    this.allowed(false);
    replace(this.state, h("p", { class: "hint" }, text));
  }

  allowed(yes) {
    this.go.disabled = this.goSweep.disabled = !yes;
  }

  form(form) {
    if (!form) {
      replace(this.formHolder, h("p", { class: "hint" }, "The text is no TOML yet, so there is no form of it."));
      return;
    }
    const at = this.formHolder.contains(document.activeElement) ? document.activeElement : null;
    replace(this.formHolder, problemForm(this.vocabulary, form, this.faults, (field, value) => this.ask({ [field]: value })));
    const again = at?.name ? [...this.formHolder.querySelectorAll("[name]")].find((n) => n.name === at.name && (n.type !== "checkbox" || n.value === at.value)) : null;
    again?.focus();
    if (again && "told" in at.dataset && at.value !== at.dataset.told) again.value = at.value; // half typed
  }

  wrong() {
    const count = this.faults.length;
    replace(this.state, h("div", { class: "failure" }, h("strong", {}, count === 1 ? "One thing to put right" : `${count} things to put right`), h("ul", {}, this.faults.map((f) => h("li", {}, f.field ? h("code", {}, f.field) : null, ` ${f.message}`)))));
    this.bounds.classList.add("stale");
  }

  async bound(turn) {
    this.waits("Working out what holds …");
    this.bounds.classList.add("stale");
    let report;
    try {
      report = await send("/page/data/bounds", { text: this.text });
    } catch (fault) {
      if (turn === this.turn && !this.signal.aborted) replace(this.state, failure(fault, () => this.ask({})));
      return;
    }
    if (turn !== this.turn || this.signal.aborted) return;
    this.allowed(!report.impossible);
    this.bounds.classList.remove("stale");
    replace(this.state, report.impossible ? h("div", { class: "failure" }, h("strong", {}, "Impossible. "), "Bounds rule out every family in every envelope; no search would find a candidate.") : h("p", { class: "fine" }, "✓ The problem is complete."));
    replace(this.bounds, rooms(report, this.signal), report.rooms.map(oneRoom),
      h("h3", {}, "Every candidate must hold"), h("table", { class: "plain-table" }, h("tbody", {}, report.requirements.map((r) => h("tr", {}, h("th", { scope: "row" }, r.title), h("td", { class: "n" }, `${r.sign} ${r.limit}`))))));
    this.sweeps(report.sweeps);
  }

  sweepBox() {
    this.swept = h("div", { class: "sweep" });
    return h("details", {}, h("summary", {}, "Several jobs: sweep one number"), this.swept);
  }

  // what was typed into it stays while the problem changes beside it
  sweeps(fields) {
    const of = (name) => fields.find((f) => f.field === name);
    const asked = this.sweep;
    if (!of(asked.field)) Object.assign(asked, { field: fields[0]?.field, first: fields[0]?.now || "", last: "" });
    const typed = (part, label, more) => h("input", { type: "text", "aria-label": label, value: asked[part], oninput: (e) => (asked[part] = e.target.value), ...more });
    const first = typed("first", "First value"), last = typed("last", "Last value", { placeholder: "last" });
    const count = typed("count", "How many values", { type: "number", min: "2", max: "20" });
    keeping(this.swept, () => replace(this.swept, h("p", { class: "hint" }, "A limit makes a job for each value; a dimension of an envelope makes one job with an envelope for each. Compare shows what more buys."),
      picker("Number", fields.map((f) => [f.field, `${f.title}, now ${f.now}`]), asked.field, (value) => {
        Object.assign(asked, { field: value, first: of(value).now });
        first.value = asked.first;
      }), h("div", { class: "actions" }, "from ", first, " to ", last, " in ", count, this.goSweep)));
  }

  async send(text) {
    return send("/api/v1/jobs", text, "application/toml", "POST", { "Idempotency-Key": crypto.randomUUID?.() || `${Date.now()}-${Math.random()}` });
  }

  async submit() {
    this.allowed(false);
    try {
      const job = await this.send(this.text);
      say(`Job ${job.id} is accepted.`);
      location.hash = `#/jobs/${job.id}`;
    } catch (fault) {
      replace(this.told, failure(fault));
      this.allowed(true);
    }
  }

  async submitSweep() {
    const { field, first, last, count } = this.sweep;
    this.allowed(false);
    try {
      const axis = `${field}=${first}:${last}:${count}`;
      const made = await send("/page/data/sweep", { text: this.text, axis });
      const ids = [];
      for (const one of made) ids.push((await this.send(one.text)).id);
      location.hash = ids.length > 1 ? `#/compare?jobs=${ids.join(",")}` : `#/jobs/${ids[0]}`;
    } catch (fault) {
      replace(this.told, failure(fault));
      this.allowed(true);
    }
  }
}

function oneRoom(room) {
  const out = Object.entries(room.ruled_out);
  return h("section", { class: "room-told" }, h("h3", {}, room.name, h("span", { class: "note" }, room.kind === "round" ? `Ø ${room.size}` : room.size)),
    room.impossible.map((why) => h("p", { class: "fault" }, `Impossible: ${why}`)),
    h("table", { class: "plain-table" }, h("tbody", {}, room.bounds.map((b) => h("tr", {}, h("th", { scope: "row" }, b.what), h("td", { class: "n" }, b.value))))),
    room.impossible.length ? null : h("p", { class: "hint" }, `Left to search: ${room.left.map(words).join(", ") || "none"}.`),
    out.length && !room.impossible.length ? h("details", {}, h("summary", {}, `${out.length} ruled out`), h("ul", {}, out.map(([f, why]) => h("li", {}, h("b", {}, words(f)), `: ${why}`)))) : null);
}

