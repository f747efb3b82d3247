// Tabs as people and screen readers know them: arrow keys move, the panel is filled when first seen.

import { fresh, h, replace } from "./dom.js";

export function tabs(label, entries, start = 0, changed = () => {}) {
  const base = fresh("tab");
  const panel = h("div", { class: "tabpanel", role: "tabpanel", id: `${base}-panel`, tabindex: "0" });
  let current = -1;
  const heads = entries.map(([name], k) => h("button", {
    type: "button", role: "tab", id: `${base}-${k}`, "aria-controls": `${base}-panel`, "aria-selected": "false", tabindex: "-1",
    onclick: () => open(k),
    onkeydown: (e) => {
      const step = { ArrowRight: 1, ArrowLeft: -1 }[e.key];
      if (!step) return;
      e.preventDefault();
      open((k + step + entries.length) % entries.length);
      heads[current].focus();
    },
  }, name));

  function open(k) {
    if (k === current) return;
    current = k;
    heads.forEach((head, n) => {
      head.setAttribute("aria-selected", String(n === k));
      head.setAttribute("tabindex", n === k ? "0" : "-1");
    });
    panel.setAttribute("aria-labelledby", `${base}-${k}`);
    replace(panel, entries[k][1]());
    changed(k);
  }

  const node = h("div", { class: "tabs" }, h("div", { class: "tablist", role: "tablist", "aria-label": label }, heads), panel);
  open(start);
  return node;
}
