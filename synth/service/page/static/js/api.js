// Requests to the service that this page came from. Who asks is told by the service's own cookie.

import { button, h } from "./dom.js";

export class Refused extends Error {
  constructor(status, told) {
    super(told.detail || told.title || `the service answered ${status}`);
    this.status = status;
    this.told = told;
    this.faults = told.errors || [];
  }
}

export async function request(path, options = {}) {
  let answer;
  try {
    answer = await fetch(path, options);
  } catch (fault) {
    if (fault.name === "AbortError") throw fault;
    throw new Refused(0, { detail: "The service does not answer. Is it still running?" });
  }
  if (answer.ok) return answer;
  let told = {};
  try {
    told = await answer.json();
  } catch {
    told = { detail: `The service answered ${answer.status} without a reason.` };
  }
  if (answer.status === 401) location.assign("/login");
  throw new Refused(answer.status, told);
}

export const get = async (path, signal) => (await request(path, { signal })).json();
export const page = (path, signal) => get(`/page/data${path}`, signal);

export async function send(path, body, type = "application/json", method = "POST", more = {}) {
  const text = type === "application/json" && typeof body !== "string" ? JSON.stringify(body) : body;
  const headers = text === undefined ? more : { "Content-Type": type, ...more };
  const answer = await request(path, { method, body: text, headers });
  return answer.status === 204 ? null : answer.json();
}

// A file made on asking: fetched first, so that what goes wrong is told here.
export async function download(path, name) {
  const answer = await request(path);
  const address = URL.createObjectURL(await answer.blob());
  const link = h("a", { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
}

export function failure(fault, again) {
  const lines = fault.faults && fault.faults.length
    ? h("ul", {}, fault.faults.map((f) => h("li", {}, f.field ? h("code", {}, f.field) : null, f.field ? " " : "", f.detail || "")))
    : null;
  return h("div", { class: "failure", role: "alert" }, h("strong", {}, "That did not work. "), fault.message, lines,
    again ? button("Try again", again, { class: "quiet" }) : null);
}
