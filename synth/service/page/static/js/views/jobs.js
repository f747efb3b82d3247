// All jobs: how they stand, what can be done, and which to compare.

import { failure, get } from "../api.js";
import { button, empty, h, keeping, picker, replace } from "../dom.js";
import { words } from "../numbers.js";
import { act, badge, when } from "../jobs.js";

const EVERY_MS = 2000;

export async function jobs(root, { query, signal, link }) {
  document.title = "Jobs";
  const chosen = new Set();
  const pages = [null], clocks = new Map();
  let state = query.get("state") || "", title = query.get("title") || "", last = null;
  const body = h("div"), count = h("p", { class: "count", role: "status" });
  const compare = button("Compare", () => (location.hash = `#/compare?jobs=${[...chosen].join(",")}`), { disabled: true });
  const search = h("input", { type: "search", value: title, placeholder: "title", "aria-label": "Find by title", oninput: () => {
    title = search.value;
    pages.splice(1);
    link({ title });
    read();
  } });
  replace(root, h("div", { class: "head" }, h("h1", {}, "Jobs"), count, h("span", { class: "grow" }), picker("State", [["", "all"], ...["queued", "running", "done", "stopped", "failed"].map((s) => [s, s])], state, (value) => {
    state = value;
    pages.splice(1);
    link({ state });
    read();
  }), search, compare, h("a", { class: "primary", href: "#/new" }, "New job")), body);

  async function read() {
    const asked = new URLSearchParams({ limit: "25" });
    if (state) asked.set("state", state);
    if (title) asked.set("title", title);
    if (pages.at(-1)) asked.set("after", pages.at(-1));
    try {
      const found = await get(`/api/v1/jobs?${asked}`, signal);
      const same = JSON.stringify(found);
      if (same !== last) keeping(body, () => draw(found));
      else for (const job of found.jobs) clocks.get(job.id).textContent = took(job);
      last = same;
    } catch (fault) {
      last = null;
      if (!signal.aborted) replace(body, failure(fault, read));
    }
  }

  function draw(found) {
    const { counts } = found;
    count.textContent = Object.entries(counts).filter(([, n]) => n).map(([s, n]) => `${n} ${s}`).join(", ");
    if (!found.jobs.length) {
      replace(body, state || title ? empty("No such job", "No job passes this filter.") : empty("No jobs yet", "Submit a problem, and its progress and front will stand here.", h("a", { class: "primary", href: "#/new" }, "New job")));
      return;
    }
    replace(body, h("section", { class: "card", "aria-label": "Jobs" }, h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Jobs, scrolls" }, h("table", { class: "jobs" },
      h("thead", {}, h("tr", {}, [["", "Choose"], ["Title"], ["State"], ["Sought"], ["Candidates"], ["Seed"], ["Submitted"], ["Took"], ["", "Actions"]].map(([text, hidden], k) => h("th", { scope: "col", class: k === 4 || k === 5 ? "" : "word" }, text || h("span", { class: "away" }, hidden))))),
      h("tbody", {}, found.jobs.map(row)))),
    h("div", { class: "actions" }, pages.length > 1 ? button("Newer", () => {
      pages.pop();
      read();
    }, { class: "quiet" }) : null, found.next ? button("Older", () => {
      pages.push(found.next);
      read();
    }, { class: "quiet" }) : null)));
  }

  function row(job) {
    const over = ["done", "stopped"].includes(job.state) && job.exit_code !== 2;
    const box = h("input", { type: "checkbox", "aria-label": `Compare ${job.title}, ${job.id}`, checked: chosen.has(job.id), disabled: !over, onchange: () => {
      if (box.checked) chosen.add(job.id);
      else chosen.delete(job.id);
      compare.disabled = !chosen.size;
      compare.textContent = chosen.size ? `Compare ${chosen.size}` : "Compare";
    } });
    const clock = h("td", { class: "word" }, took(job));
    clocks.set(job.id, clock);
    return h("tr", {}, h("td", {}, box), h("th", { scope: "row" }, h("a", { href: `#/jobs/${job.id}` }, job.title), h("span", { class: "id" }, job.id)), h("td", { class: "word" }, badge(job)), h("td", { class: "word wrap" }, job.objectives.map(words).join(", ")), h("td", {}, job.evaluations.toLocaleString("en")), h("td", {}, String(job.seed)), h("td", { class: "word" }, when(job.created)), clock,
      h("td", {}, h("div", { class: "row-actions" }, over ? h("a", { href: `#/jobs/${job.id}/front` }, "Front") : null, act(job, read))));
  }

  await read();
  const timer = setInterval(() => document.visibilityState === "visible" && read(), EVERY_MS);
  signal.addEventListener("abort", () => clearInterval(timer));
}

function took(job) {
  if (!job.started) return "";
  const seconds = ((job.finished ? new Date(job.finished) : new Date()) - new Date(job.started)) / 1000;
  return seconds < 90 ? `${seconds.toFixed(0)} s` : `${(seconds / 60).toFixed(1)} min`;
}
