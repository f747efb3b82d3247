// What can be done to a job, the same in the list and on its own page.

import { failure, send } from "./api.js";
import { button, h, say } from "./dom.js";

const WORDS = { queued: "", running: "live", done: "good", stopped: "", failed: "bad" };

export function badge(job) {
  const text = job.stopping ? "stopping" : job.state === "done" && job.exit_code === 3 ? "done, nothing feasible" : job.state;
  return h("span", { class: `badge ${job.exit_code === 3 ? "bad" : WORDS[job.state]}` }, text);
}

export function when(text) {
  const then = new Date(text), days = (Date.now() - then) / 86_400_000;
  return h("time", { datetime: text, title: then.toISOString() }, days < 0.9 ? then.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" }) : then.toLocaleDateString("en-GB", { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" }));
}

export function act(job, done) {
  const path = `/api/v1/jobs/${job.id}`;
  const todo = (text, run, props = {}) => {
    const node = button(text, async () => {
      node.disabled = true;
      try {
        await run();
        say(`${text}: ${job.title}`);
        await done();
      } catch (fault) {
        node.disabled = false;
        document.getElementById("main").prepend(failure(fault));
      }
    }, { class: "quiet", "aria-label": `${text} ${job.id}`, ...props });
    return node;
  };
  const over = !["queued", "running"].includes(job.state);
  return [
    over ? null : todo("Cancel", () => send(`${path}/cancel`, undefined), { disabled: job.stopping }),
    ["stopped", "failed"].includes(job.state) ? todo("Resume", () => send(`${path}/resume`, undefined)) : null,
    h("a", { class: "as-button", href: `#/new?from=${job.id}`, "aria-label": `Clone ${job.id} with changes` }, "Clone"),
    over ? button("Delete", () => sure(job, async () => {
      await send(path, undefined, "application/json", "DELETE");
      say(`Deleted ${job.title}`);
      await done(true);
    }), { class: "quiet", "aria-label": `Delete ${job.id}` }) : null,
  ];
}

function sure(job, run) {
  const told = h("div");
  const dialog = h("dialog", { "aria-labelledby": "sure-head" }, h("div", { class: "form" }, h("h2", { id: "sure-head" }, "Delete this job?"), h("p", {}, `${job.title} (${job.id}), with its front and all candidate records. This cannot be undone.`), told,
    h("div", { class: "actions" }, button("Keep it", () => dialog.close(), { class: "primary" }), button("Delete", async () => {
      try {
        await run();
        dialog.close();
      } catch (fault) {
        told.replaceChildren(failure(fault));
      }
    }, { class: "danger" }))));
  dialog.addEventListener("close", () => dialog.remove());
  document.body.append(dialog);
  dialog.showModal();
}
