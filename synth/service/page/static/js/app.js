// The frame of the page: which view an address shows, light and dark.

import { page } from "./api.js";
import { empty, h, replace } from "./dom.js";
import { compare } from "./views/compare.js";
import { front } from "./views/front.js";
import { job } from "./views/job.js";
import { jobs } from "./views/jobs.js";
import { submit } from "./views/submit.js";

const main = document.getElementById("main");
let leaving = new AbortController();

// "#/jobs/ID/front?c=X" to its parts; the query keeps what a view wants to be found again.
function address() {
  const [path, query] = location.hash.replace(/^#/, "").split("?");
  return { parts: path.split("/").filter(Boolean).map(decodeURIComponent), query: new URLSearchParams(query || "") };
}

function link(values) {
  const { query } = address();
  for (const [name, value] of Object.entries(values)) if (value) query.set(name, value);
    else query.delete(name);
  const path = location.hash.split("?")[0] || "#/jobs";
  history.replaceState(null, "", query.size ? `${path}?${query}` : path);
}

function go() {
  if (location.hash === "#main") return;
  const { parts, query } = address();
  leaving.abort();
  leaving = new AbortController();
  const { signal } = leaving;
  const [where, id, what] = parts.length ? parts : ["jobs"];
  for (const a of document.querySelectorAll(".top nav a")) {
    if (a.getAttribute("href") === `#/${where}`) a.setAttribute("aria-current", "page");
    else a.removeAttribute("aria-current");
  }
  const root = h("div");
  const shared = { query, signal, link };
  document.title = "Stowfront";
  replace(main, root);
  if (where === "new") submit(root, shared);
  else if (where === "compare") compare(root, shared);
  else if (where === "jobs" && !id) jobs(root, shared);
  else if (where === "jobs") job(root, { ...shared, job: id }, what === "front" ? front : null);
  else replace(root, empty("No such page", `There is nothing at “${location.hash}”.`, h("p", {}, h("a", { href: "#/jobs" }, "To the jobs"))));
}

function theme(dark) {
  document.documentElement.dataset.theme = dark ? "dark" : "light";
  document.getElementById("theme").setAttribute("aria-pressed", String(dark));
  document.dispatchEvent(new Event("themed"));
}

const system = matchMedia("(prefers-color-scheme: dark)");
const chosen = () => localStorage.getItem("stowfront.theme");
theme(chosen() ? chosen() === "dark" : system.matches);
system.addEventListener("change", () => !chosen() && theme(system.matches));
document.getElementById("theme").addEventListener("click", () => {
  const dark = document.documentElement.dataset.theme !== "dark";
  localStorage.setItem("stowfront.theme", dark ? "dark" : "light");
  theme(dark);
});
page("/me").then((who) => {
  document.getElementById("leave").hidden = who.local;
}, () => {});
window.addEventListener("hashchange", go);
go();
