// One job: its head with what can be done to it, and beneath it either how it goes or its front.

import { failure, get } from "../api.js";
import { h, replace } from "../dom.js";
import { act, badge } from "../jobs.js";
import { progress } from "../progress.js";

export async function job(root, shared, front) {
  const { job: id, signal } = shared;
  const head = h("div", { class: "head" }), body = h("div");
  replace(root, head, body);
  let told = null;

  async function read(gone) {
    if (gone === true) {
      location.hash = "#/jobs";
      return;
    }
    told = await get(`/api/v1/jobs/${encodeURIComponent(id)}`, signal);
    draw();
  }

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
    if (front) await front(body, shared);
    else await progress(body, told, { ...shared, changed: read });
  } catch (fault) {
    if (!signal.aborted) replace(body, failure(fault, () => job(root, shared, front)));
  }
}
