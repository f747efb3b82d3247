// One candidate: its motion, stowed pack, plan, requirements, accuracy, modes, and what it is made of.

import { download, failure, page } from "./api.js";
import { alone, budget, requirementTable, shares } from "./bars.js";
import { button, choice, h, replace, say } from "./dom.js";
import { capital, counted, percent, told, words } from "./numbers.js";
import { canvas, player } from "./player.js";
import { Stage } from "./stage.js";
import { tabs } from "./tabs.js";

const kept = new Map();
export function data(job, id, what = "") {
  const path = `/jobs/${encodeURIComponent(job)}/candidates/${encodeURIComponent(id)}${what}`;
  if (!kept.has(path)) {
    const asked = page(path);
    kept.set(path, asked);
    asked.catch(() => kept.delete(path));
    if (kept.size > 60) kept.delete(kept.keys().next().value);
  }
  return kept.get(path);
}

let opened = 0; // the tab stays the same from candidate to candidate

export function candidate(job, selection, signal) {
  const holder = h("section", { class: "card candidate", "aria-label": "Candidate" });
  let own = null;

  async function show() {
    const id = selection.selected;
    own?.abort();
    own = new AbortController();
    const { signal: mine } = own;
    if (!id) {
      replace(holder, h("div", { class: "empty" }, h("h2", {}, "No candidate chosen"), h("p", {}, "Pick a mark, a line or a row to see how it folds.")));
      return;
    }
    const row = selection.byId.get(id);
    try {
      const view = await data(job, id);
      if (mine.aborted) return;
      const pin = button("", () => {
        if (!selection.pin(id)) say("Four are pinned already: take one off first.");
      }, { class: "pin" });
      const pinned = () => {
        pin.textContent = selection.pinned.includes(id) ? "Unpin" : "Pin to compare";
        pin.setAttribute("aria-pressed", String(selection.pinned.includes(id)));
        pin.disabled = !selection.pinned.includes(id) && selection.pinned.length > 3;
      };
      selection.on("pin", pinned, mine);
      pinned();
      const bad = view.requirements.filter((r) => !r.ok).length;
      replace(holder,
        h("div", { class: "bar" }, h("h2", {}, capital(words(view.family))), h("span", { class: "grow" }), pin, seed(job, id)),
        h("p", { class: "lead" }, h("span", { class: "id" }, id), ` · ${counted(view.counts.panels, "panel")}, ${counted(view.counts.hinges, "hinge")}, ${counted(view.counts.latches, "latch", "latches")} in ${view.envelope}; stowed ${view.stowed_size}. `,
          bad ? h("span", { class: "badge bad" }, `misses ${bad}`) : h("span", { class: "badge good" }, "verified, meets everything"), selection.remark(row).map((t) => h("span", { class: "badge" }, t))),
        tabs("Candidate", [
          ["Motion", () => motion(job, view, mine)],
          ["Stowed", () => stowed(job, view, mine)],
          ["Plan", () => drawing(job, id, "deployed", "Deployed plan: fold lines, joints, clear circle and dimensions.")],
          ["Requirements", () => requirementTable(view.requirements)],
          ["Accuracy", () => h("div", {}, budget(`Surface error${view.accuracy.datum ? `, ${view.accuracy.datum} taken off` : ""}`, view.accuracy.surface), budget("In-plane error", view.accuracy.in_plane), alone(view.accuracy))],
          ["Modes", () => modes(job, view, mine)],
          ["Build", () => build(view)],
        ], opened, (k) => {
          opened = k;
        }));
      say(`${id}: ${view.family}, ${view.counts.panels} panels`);
    } catch (fault) {
      if (!mine.aborted) replace(holder, failure(fault, show));
    }
  }

  selection.on("select", show);
  signal.addEventListener("abort", () => own?.abort());
  show();
  return holder;
}

export function seed(job, id) {
  const node = button("Seed package", async () => {
    node.disabled = true;
    node.textContent = "Making it …";
    try {
      await download(`/api/v1/jobs/${encodeURIComponent(job)}/candidates/${encodeURIComponent(id)}/seed.zip`, `seed-${id}.zip`);
      say("The seed package is downloaded.");
    } catch (fault) {
      say(`The seed package could not be made: ${fault.message}`);
      node.after(failure(fault));
    }
    node.disabled = false;
    node.textContent = "Seed package";
  }, { class: "primary", title: "What detailed design starts from: CAD, drawings, motion, analysis network, tables" });
  return node;
}

function waiting(text = "Reading the candidate …") {
  return h("div", { class: "waiting" }, text);
}

function shades(stage) {
  const views = h("div", { class: "views" }, [["Corner", -0.9, 0.55], ["Top", -Math.PI / 2, Math.PI / 2 - 1e-3], ["Front", -Math.PI / 2, 0], ["Side", 0, 0]].map(([name, a, e]) => button(name, () => stage.view(a, e), { class: "quiet" })));
  return views;
}

function motion(job, view, signal) {
  const holder = h("div", {}, waiting());
  data(job, view.id, "/scene").then((scene) => {
    if (signal.aborted) return;
    const surface = canvas(`Deployment of ${view.id}.`);
    const stage = new Stage(surface, signal);
    stage.load(scene);
    const play = player(() => [stage], () => view.stages, signal);
    play.at(1);
    const list = h("ol", { class: "stages" }, view.stages.map((m) => h("li", {}, button(`${percent(m.s[0])} to ${percent(m.s[1])}`, () => {
      play.stop();
      play.at((m.s[0] + m.s[1]) / 2);
    }, { class: "link" }), ` ${m.hinges.length === 1 ? "hinge" : "hinges"} ${m.hinges.length > 12 ? `${m.hinges.slice(0, 12).join(", ")} …` : m.hinges.join(", ")}`, m.freedoms ? h("span", { class: "note" }, `${m.freedoms} ${m.freedoms === 1 ? "drive" : "drives"} needed${m.redundant ? `, over-constraint ${m.redundant}` : ""}`) : null)));
    replace(holder, h("div", { class: "stage-box" }, surface, shades(stage)), play.node,
      h("p", { class: "keys" }, h("span", { class: "key face" }), "receiving face", h("span", { class: "key root" }), "root panel", h("span", { class: "key fitting" }), "hinge hardware", h("span", { class: "key guide" }), "clear circle and envelope"),
      view.stages.length ? [h("h3", {}, "Stages"), list] : null);
    surface.stage = stage;
  }).catch((fault) => !signal.aborted && replace(holder, failure(fault)));
  return holder;
}

function stowed(job, view, signal) {
  const holder = h("div", {}, waiting());
  data(job, view.id, "/scene").then((scene) => {
    if (signal.aborted) return;
    const surface = canvas(`${view.id} stowed in its envelope.`);
    const stage = new Stage(surface, signal);
    stage.load(scene);
    stage.seen.aperture = false;
    const walls = scene.guides.walls ? h("label", { class: "tick" }, h("input", { type: "checkbox", checked: true, onchange: (e) => {
      stage.seen.walls = stage.seen.allowed = e.target.checked;
      stage.ask();
    } }), " walls and clearance") : null;
    stage.holdWalls();
    stage.move(0);
    replace(holder, h("div", { class: "stage-box" }, surface, shades(stage)), walls, drawing(job, view.id, "stowed", "Three views in third angle and one from a corner; dashed: walls less the clearance."));
  }).catch((fault) => !signal.aborted && replace(holder, failure(fault)));
  return holder;
}

function drawing(job, id, kind, caption) {
  const address = `/api/v1/jobs/${encodeURIComponent(job)}/candidates/${encodeURIComponent(id)}/${kind}.svg`;
  const wait = waiting("Drawing …");
  const image = h("img", { src: address, alt: `${caption} Candidate ${id}.`, onload: () => wait.remove(), onerror: () => replace(wait, failure(new Error("The drawing could not be made."), () => replace(holder.parentNode, drawing(job, id, kind, caption)))) });
  const holder = h("figure", { class: "paper" }, wait, h("a", { href: address, target: "_blank", rel: "noopener", title: "Open in its own window" }, image), h("figcaption", {}, caption, " Press to enlarge."));
  return holder;
}

function modes(job, view, signal) {
  const holder = h("div", {}, waiting("Solving for the modes …"));
  data(job, view.id, "/modes").then((found) => {
    if (signal.aborted) return;
    const surface = canvas(`Mode shapes of ${view.id}.`);
    const stage = new Stage(surface, signal);
    stage.loadModes(found);
    let moving = !matchMedia("(prefers-reduced-motion: reduce)").matches;
    stage.amount = 1;
    const step = (now) => {
      if (signal.aborted || !surface.isConnected) return;
      if (moving) {
        stage.amount = Math.sin(now / 420);
        stage.ask();
      }
      requestAnimationFrame(step);
    };
    requestAnimationFrame(step);
    const still = h("label", { class: "tick" }, h("input", { type: "checkbox", checked: moving, onchange: (e) => {
      moving = e.target.checked;
      if (!moving) stage.amount = 1;
      stage.ask();
    } }), " moving");
    const hz = (f) => `${f >= 100 ? f.toFixed(0) : f.toFixed(1)} Hz`;
    const required = view.requirements.find((r) => r.field === "structure.deployed_first_mode_min");
    replace(holder, choice("Mode", found.frequencies_hz.map((f, k) => [String(k), `${k + 1}: ${hz(f)}`]), "0", (k) => stage.mode(Number(k))),
      h("div", { class: "stage-box" }, surface, shades(stage)), still,
      h("p", { class: "note-line" }, `Deployed, on its mount, panels as plates of degree ${found.degree}; size of the motion not to scale. `, required ? `Asked of the first: ≥ ${required.limit}. ` : "", `Stowed first mode: ${stowedMode(view)}.`));
  }).catch((fault) => !signal.aborted && replace(holder, failure(fault)));
  return holder;
}

function stowedMode(view) {
  const m = view.metrics.find((x) => x.name === "stowed_first_mode_hz");
  return m ? told(m, m.value) : "not told";
}

function build(view) {
  const total = view.mass.reduce((sum, p) => sum + p.kg, 0);
  const list = (title, rows) => h("section", {}, h("h3", {}, title), h("table", { class: "plain-table" }, h("tbody", {}, rows.map(([a, b]) => h("tr", {}, h("th", { scope: "row" }, a), h("td", {}, b))))));
  return h("div", { class: "build" },
    list("Made of", view.made_of.map((r) => [r.what, r.of])),
    h("section", {}, h("h3", {}, `Mass, ${total.toFixed(3)} kg with growth`), shares(view.mass, total, (r) => `${r.kg.toFixed(3)} kg`)),
    list("All figures", view.metrics.map((m) => [capital(m.title), told(m, m.value)])),
    list("Variables", view.genes.map((g) => [words(g.name), g.value])),
    h("div", { class: "whole" }, list("Verification", view.verification.map((v) => [v.what, v.found]))));
}

