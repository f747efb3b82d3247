// Fronts of several jobs and envelopes over each other: what more buys, who wins where, what binds.

import { failure, get, page } from "../api.js";
import { empty, h, keeping, picker, replace } from "../dom.js";
import { badge } from "../jobs.js";
import { byPlace, swatch } from "../marks.js";
import { capital, percent, words } from "../numbers.js";
import { overlay } from "../overlay.js";
import { familyKeys, sweeps, wins } from "../wins.js";

const EVERY_MS = 2000;

export async function compare(root, { query, signal, link }) {
  document.title = "Compare";
  let ids = (query.get("jobs") || "").split(",").filter(Boolean);
  const chosen = h("div"), body = h("div");
  let turn = 0, listed = "";
  replace(root, h("div", { class: "head" }, h("h1", {}, "Compare fronts")), chosen, body);

  async function choose() {
    let found;
    try {
      found = await get("/api/v1/jobs?limit=100&state=done&state=stopped&state=running&state=queued", signal);
    } catch (fault) {
      if (!signal.aborted) replace(chosen, failure(fault, choose));
      return;
    }
    const known = new Map(found.jobs.map((j) => [j.id, j]));
    const waiting = ids.filter((i) => ["queued", "running"].includes(known.get(i)?.state));
    const same = JSON.stringify([found.jobs, ids]);
    if (same === listed) return waiting;
    listed = same;
    const open = chosen.querySelector("details")?.open ?? !ids.length;
    const boxes = found.jobs.filter((j) => ["done", "stopped"].includes(j.state) || ids.includes(j.id)).map((j) => h("label", { class: "tick" }, h("input", { type: "checkbox", checked: ids.includes(j.id), value: j.id, onchange: (e) => {
      ids = e.target.checked ? [...ids, j.id] : ids.filter((i) => i !== j.id);
      link({ jobs: ids.join(",") });
      show();
    } }), h("span", {}, j.title, " ", h("span", { class: "id" }, j.id), badge(j))));
    keeping(chosen, () => replace(chosen, h("details", { class: "card", open }, h("summary", {}, ids.length ? `${ids.length} ${ids.length === 1 ? "job" : "jobs"} compared: change` : "Choose jobs"), boxes.length ? h("div", { class: "choices" }, boxes) : h("p", { class: "hint" }, "No job is done yet."))));
    return waiting;
  }

  async function show() {
    turn += 1;
    const mine = turn, stale = () => mine !== turn || signal.aborted;
    const waiting = await choose();
    if (stale()) return;
    if (!ids.length) {
      replace(body, empty("Nothing chosen", "Choose one job to set its envelopes against each other, or several to see what their limits cost.", h("a", { class: "primary", href: "#/jobs" }, "To the jobs")));
      return;
    }
    if (waiting?.length) {
      replace(body, h("p", { class: "waiting", role: "status" }, `${waiting.length} of ${ids.length} jobs are still under way; the comparison comes when all are done.`));
      setTimeout(() => !stale() && show(), EVERY_MS);
      return;
    }
    replace(body, h("p", { class: "waiting" }, "Comparing …"));
    try {
      const data = await page(`/compare?${ids.map((i) => `job=${encodeURIComponent(i)}`).join("&")}`, signal);
      if (!stale()) draw(body, data, signal);
    } catch (fault) {
      if (!stale()) replace(body, failure(fault, show));
    }
  }

  await show();
}

function draw(body, data, signal) {
  document.title = `Compare: ${data.title}`;
  if (!data.rows.length) {
    replace(body, empty("No front to compare", "In none of these envelopes does a verified candidate meet every requirement."));
    return;
  }
  const card = (title, ...rest) => h("section", { class: "card", "aria-label": title }, h("h2", {}, title), rest);
  replace(body, data.findings.length ? card("Findings", h("ul", { class: "findings" }, data.findings.map((t) => h("li", {}, t)))) : null,
    over(data, signal), compared(data),
    data.sweep.length ? card("What more buys", h("p", { class: "hint" }, "Solid: best anywhere on the front; dashed, hollow: at its knee."), sweeps(data, signal), table("Steps up", data.steps, 3)) : null,
    data.along && data.along.rows.length ? card("Exchange rates along each front", h("p", { class: "hint" }, "What a little more of one thing buys of another, the rest left free, in equal steps from the least amount to where more buys nothing."), table("Exchange rates", data.along, 5)) : null,
    card("Who wins where", h("p", { class: "hint" }, "A bar ends where more of the amount buys nothing."), familyKeys(data), h("div", { class: "many-plots wide" }, wins(data, signal))),
    data.binding.length ? card("What binds", binding(data)) : null, beaten(data, card),
    h("section", { class: "card" }, h("h2", {}, "Cautions"), h("ul", { class: "findings" }, data.cautions.map((t) => h("li", {}, t)))));
}

function over(data, signal) {
  const axes = data.objectives.slice(0, 2).map((o) => o.metric), hidden = new Set();
  const names = data.metrics.map((m) => [m.name, capital(m.title)]);
  const plot = overlay(data, () => axes, hidden, signal);
  const pick = (label, k) => picker(label, names, axes[k], (value) => {
    axes[k] = value;
    plot.redraw();
  });
  const chips = data.entries.filter((e) => e.rows).map((e) => {
    const node = h("button", { type: "button", class: "chip", "aria-pressed": "true", onclick: () => {
      if (hidden.has(e.label)) hidden.delete(e.label);
      else hidden.add(e.label);
      node.setAttribute("aria-pressed", String(!hidden.has(e.label)));
      plot.redraw();
    } }, swatch(byPlace(data.entries.indexOf(e))), e.label, h("span", { class: "n" }, e.rows));
    return node;
  });
  return h("section", { class: "card", "aria-label": "Fronts over each other" }, h("div", { class: "bar" }, h("h2", {}, "Fronts over each other"), pick("Across", 0), pick("Up", 1)), h("div", { class: "legend" }, h("div", { role: "group", "aria-label": "Fronts shown" }, chips)), plot.node, h("p", { class: "hint" }, "Larger mark: the knee. Line: the edge that a front attains in these two figures."));
}

function compared(data) {
  const rows = data.entries.map((e, k) => h("tr", {}, h("th", { scope: "row" }, swatch(byPlace(k)), " ", e.rows ? h("a", { href: `#/jobs/${encodeURIComponent(data.jobs[k])}/front` }, e.label) : e.label), h("td", { class: "word" }, e.size), h("td", {}, `${(1e3 * e.allowed_volume_m3).toFixed(2)} l`), h("td", { class: "word wrap" }, Object.entries(e.families).map(([f, v]) => `${words(f)} ${v.rows}`).join(", ") || "nothing feasible"), h("td", {}, String(e.rows)), h("td", {}, e.rows ? e.hypervolume.toFixed(4) : "–"), h("td", {}, e.evaluations.toLocaleString("en"))));
  return h("section", { class: "card", "aria-label": "What is compared" }, h("h2", {}, "What is compared"), h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "What is compared, scrolls" }, h("table", { class: "full" }, h("thead", {}, h("tr", {}, [["Front", 1], ["Envelope", 1], ["Room"], ["Families", 1], ["Rows"], ["Hypervolume"], ["Put forward"]].map(([t, word]) => h("th", { scope: "col", class: word ? "word" : "" }, t)))), h("tbody", {}, rows))),
    data.differences ? [h("h3", {}, "What the jobs ask differently"), table("Differences", data.differences, 9)] : null);
}

function table(label, told, wordy) {
  return h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": `${label}, scrolls` }, h("table", { class: "full" }, h("thead", {}, h("tr", {}, told.heads.map((t, k) => h("th", { scope: "col", class: k < wordy ? "word" : "" }, capital(t))))), h("tbody", {}, told.rows.map((row) => h("tr", {}, row.map((c, k) => (k === 0 ? h("th", { scope: "row" }, c) : h("td", { class: k < wordy ? "word" : "" }, c))))))));
}

function binding(data) {
  const names = [...new Set(data.binding.map((b) => b.title))], fronts = data.entries.filter((e) => e.rows).map((e) => e.label);
  const at = (title, entry) => data.binding.find((b) => b.title === title && b.entry === entry);
  return [h("p", { class: "hint" }, `Share of a front's candidates that meet a requirement with less than ${percent(data.binds_at)} to spare. What binds everywhere is what to negotiate first.`),
    h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "What binds, scrolls" }, h("table", { class: "heat full" }, h("thead", {}, h("tr", {}, h("th", { scope: "col", class: "word" }, "Requirement"), fronts.map((f) => h("th", { scope: "col" }, f)))), h("tbody", {}, names.map((n) => h("tr", {}, h("th", { scope: "row" }, n), fronts.map((f) => {
      const b = at(n, f);
      return h("td", {}, h("span", { class: "cell", style: { "--share": b ? b.share : 0 } }, b ? percent(b.share) : "–"));
    }))))))];
}

function beaten(data, card) {
  if (!data.beaten.length) return null;
  const names = [...new Set(data.beaten.map((d) => d.by))];
  const at = (by, of) => data.beaten.find((d) => d.by === by && d.of === of);
  return card("Fronts against each other", h("p", { class: "hint" }, "Line: the front that beats; column: the share of that front's candidates that some candidate of the line beats in every objective (or at least equals)."),
    h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Fronts against each other, scrolls" }, h("table", { class: "heat" }, h("thead", {}, h("tr", {}, h("th", { scope: "col", class: "word" }, "Front"), names.map((n) => h("th", { scope: "col" }, n)))), h("tbody", {}, names.map((by) => h("tr", {}, h("th", { scope: "row" }, by), names.map((of) => {
      const d = at(by, of);
      return h("td", {}, d ? h("span", { class: "cell", style: { "--share": d.dominated } }, `${percent(d.dominated)} (${percent(d.met)})`) : "");
    })))))));
}

