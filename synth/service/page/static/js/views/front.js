// The front of a job: linked views of all candidates, the one looked at, and those pinned.

import { failure, page } from "../api.js";
import { beside } from "../beside.js";
import { candidate } from "../candidate.js";
import { choice, empty, h, picker, replace } from "../dom.js";
import { swatch } from "../marks.js";
import { capital, seconds, words } from "../numbers.js";
import { parallel } from "../parallel.js";
import { scatter } from "../scatter.js";
import { scatter3 } from "../scatter3.js";
import { Selection } from "../selection.js";
import { table } from "../table.js";

export async function front(root, { job, query, signal, link }) {
  replace(root, h("p", { class: "waiting" }, "Reading the front …"));
  let data;
  try {
    data = await page(`/jobs/${encodeURIComponent(job)}/front`, signal);
  } catch (fault) {
    if (!signal.aborted) replace(root, failure(fault, () => front(root, { job, query, signal, link })));
    return;
  }
  if (signal.aborted) return;
  if (!data) {
    replace(root, empty("No front yet", "It is written when the job is done or stopped, and is shown here then.", howItGoes(job)));
    return;
  }
  document.title = `Front: ${data.title}`;
  if (!data.rows.length) {
    replace(root, nothing(data, job));
    return;
  }
  const selection = new Selection(data);
  const start = query.get("c");
  const first = data.envelopes.find((e) => e.knee)?.knee || data.rows[0].id;
  selection.selected = selection.byId.has(start) ? start : first;
  selection.pinned = (query.get("p") || "").split(",").filter((id) => selection.byId.has(id)).slice(0, 4);
  selection.on("select pin", () => link({ c: selection.selected, p: selection.pinned.join(",") || null }));
  replace(root, summary(data), h("div", { class: "split" }, h("div", { class: "stack" }, plots(selection, signal)), h("div", { class: "side" }, candidate(job, selection, signal))),
    table(selection), beside(job, selection, signal));
}

function nothing(data, job) {
  const running = data.state === "running";
  const reasons = data.envelopes.flatMap((e) => Object.entries(e.families).filter(([, f]) => f.reason).map(([f, v]) => [e.name, f, v.reason]));
  return empty(running ? "No front yet" : "No candidate", running ? "The job is still running; its front is written when it is done or stopped." : reasons.length ? "Bounds rule out every family:" : "The run ended without a candidate.",
    reasons.length ? h("ul", {}, reasons.map(([e, f, why]) => h("li", {}, h("b", {}, words(f)), ` in ${e}: ${why}`))) : null,
    howItGoes(job));
}

const howItGoes = (job) => h("p", {}, h("a", { href: `#/jobs/${encodeURIComponent(job)}` }, "See how the job goes"));

function summary(data) {
  return h("div", { class: "facts" }, data.envelopes.map((e) => h("div", { class: "fact" }, h("span", { class: "name" }, e.name), h("span", {}, e.size), h("b", {}, e.feasible ? `${e.feasible} candidates` : e.rows ? "nothing meets everything" : "none"),
    e.hypervolume ? h("span", { title: "Share of the box between the ideal and the reference point that the front dominates" }, `hypervolume ${e.hypervolume.toFixed(3)}`) : null, e.blocks.length ? h("span", { class: "badge bad" }, `blocked by ${e.blocks.map((b) => words(b.split(".").pop())).join(", ")}`) : null)),
  h("div", { class: "fact" }, h("span", { class: "name" }, "run"), h("span", {}, `${data.facts.evaluations.toLocaleString("en")} candidates put forward for each envelope, seed ${data.facts.seed}`), h("span", {}, `${seconds(data.facts.wall_time_s)}, ${data.state}`)));
}

function plots(selection, signal) {
  const names = selection.metrics.map((m) => [m.name, capital(m.title)]);
  const [a, b, c] = [...selection.objectives, ...selection.metrics.map((m) => m.name)];
  const axes = [a, b, ""];
  const third = selection.objectives.length > 2 ? c : "";
  let solid = false;
  const flat = scatter(selection, () => axes, signal);
  const cloud = scatter3(selection, () => [axes[0], axes[1], axes[2] || third || a], signal);
  const holder = h("div", {}, flat.node);
  const lines = parallel(selection, () => [...new Set([...selection.objectives, "longest_stowed_side_m", "collecting_area_m2", "first_mode_hz", "part_count"])].filter((n) => selection.place.has(n)).slice(0, 7), signal);
  const redraw = () => (solid ? cloud : flat).redraw();
  const pick = (label, k, options) => picker(label, options, axes[k], (value) => {
    axes[k] = value;
    redraw();
  });
  const depth = pick("Depth", 2, [["", "none"], ...names]);
  const kind = choice("Scatter", [["2", "flat"], ["3", "in depth"]], "2", (value) => {
    solid = value === "3";
    if (solid && !axes[2]) {
      axes[2] = third || a;
      depth.querySelector("select").value = axes[2];
    }
    replace(holder, (solid ? cloud : flat).node);
    redraw();
  });
  const legendHolder = h("div");
  const by = choice("Colour and shape", [["family", "family"], ["envelope", "envelope"]], "family", (value) => {
    selection.by = value;
    [flat, cloud, lines].forEach((p) => p.redraw());
    selection.tell("restyle");
    replace(legendHolder, legend(selection));
  });
  replace(legendHolder, legend(selection));
  selection.on("filter", () => replace(legendHolder, legend(selection)));
  return [
    h("section", { class: "card", "aria-label": "Scatter" }, h("div", { class: "bar" }, h("h2", {}, "Front"), pick("Across", 0, names), pick("Up", 1, names), depth, kind, by), legendHolder, holder),
    h("section", { class: "card", "aria-label": "Parallel axes" }, h("div", { class: "bar" }, h("h2", {}, "Parallel axes"), h("p", { class: "hint" }, "Better is up. Drag along an axis to keep a range, double-click to let go.")), lines.node),
  ];
}

function legend(selection) {
  const { data } = selection;
  const toggle = (set, name) => {
    if (set.has(name)) set.delete(name);
    else set.add(name);
    selection.tell("filter");
  };
  const count = (key, name) => selection.rows.filter((r) => r[key] === name).length;
  const chip = (set, name, style, fill, n) => h("button", { type: "button", class: "chip", "aria-pressed": String(set.has(name)), onclick: () => toggle(set, name) }, style ? swatch(style, fill) : null, words(name), h("span", { class: "n" }, n));
  const family = selection.by === "family";
  return h("div", { class: "legend" },
    h("div", { role: "group", "aria-label": "Families shown" }, Object.entries(data.marks).map(([name, style]) => chip(selection.families, name, family ? style : null, 0, count("family", name)))),
    h("div", { role: "group", "aria-label": "Envelopes shown" }, data.envelopes.map((e, k) => (e.rows ? chip(selection.envelopes, e.name, family ? { mark: "o", colour: "#4d4d4d" } : selection.envelopeStyle(k), family ? k % 4 : 0, count("envelope", e.name)) : null))));
}

