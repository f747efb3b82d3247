// One job: its head with what can be done to it, and beneath it either how it goes or its front.

import { failure, get } from "../api.js";
import { h, keeping, replace } from "../dom.js";
import { act, badge } from "../jobs.js";
import { progress } from "../progress.js";

const EVERY_MS = 3000;
const live = (job) => ["queued", "running"].includes(job.state);

export async function job(root, shared, front) {
  const { job: id, signal } = shared;
  const head = h("div", { class: "head" }), body = h("div");
  replace(root, head, body);
  let told = null, turn = 0, follow = () => {};

  async function read(gone) {
    if (gone === true) {
      location.hash = "#/jobs";
      return;
    }
    turn += 1;
    const mine = turn;
    const found = await get(`/api/v1/jobs/${encodeURIComponent(id)}`, signal);
    if (mine !== turn) return; // asked again since: an older answer may not cover a newer one
    const same = told && JSON.stringify({ ...told, progress: null }) === JSON.stringify({ ...found, progress: null });
    told = found;
    if (!same) keeping(head, draw);
    follow(told);
  }

  // asked because of news, or as time passes: what fails now is asked again soon
  const changed = () => read().catch(() => {});

  function draw() {
    const over = ["done", "stopped"].includes(told.state);
    const tab = (href, text, here) => h("a", { href, "aria-current": here ? "page" : null }, text);
    const base = `#/jobs/${id}`;
    document.title = `${told.title}: ${front ? "front" : told.state}`;
    replace(head, h("p", { class: "crumb" }, h("a", { href: "#/jobs" }, "Jobs"), " / ", h("span", { class: "id" }, id)), h("h1", {}, told.title), badge(told), h("span", { class: "grow" }),
      h("div", { class: "row-actions" }, act(told, read), h("a", { class: "as-button", href: `/api/v1/jobs/${id}/problem.toml`, download: "problem.toml" }, "Problem file"), over ? h("a", { class: "as-button", href: `/api/v1/jobs/${id}/front.csv`, download: `${id}-front.csv` }, "Front as CSV") : null),
      h("nav", { class: "subnav", "aria-label": "Job" }, tab(base, "Progress", !front), tab(`${base}/front`, "Front", Boolean(front)), over ? tab(`#/compare?jobs=${id}`, "Compare", false) : null));
    if (told.message) head.append(h("div", { class: "failure wide" }, h("strong", {}, "It failed. "), told.message));
  }

  try {
    await read();
    if (signal.aborted) return;
    const timer = setInterval(() => live(told) && document.visibilityState === "visible" && changed(), EVERY_MS);
    signal.addEventListener("abort", () => clearInterval(timer));
    if (!front) follow = progress(body, told, { signal, changed });
    else {
      await front(body, shared);
      let waits = live(told);
      follow = (now) => {
        if (waits && !live(now)) front(body, shared);
        waits = live(now);
      };
    }
  } catch (fault) {
    if (!signal.aborted) replace(body, failure(fault, () => job(root, shared, front)));
  }
}
