// Parallel axes: a line a candidate; drag along an axis to keep a range, double-click it to let go.

import { h, s, sized } from "./dom.js";
import { dash, tone } from "./marks.js";
import { axis, capital } from "./numbers.js";

const TOP = 44, BOTTOM = 18, HEIGHT = 270;

export function parallel(selection, names, signal) {
  const holder = h("div", { class: "plot parallel" });
  let width = 0, drawn = null;

  function draw(now = width) {
    width = now;
    if (!width) return;
    const metrics = names().slice(0, Math.max(3, Math.floor(width / 84))).map((n) => selection.metric(n));
    const inset = Math.max(34, Math.min(56, width / (2 * metrics.length)));
    const at = (k) => inset + (k * (width - 2 * inset)) / Math.max(1, metrics.length - 1);
    const value = (row, m) => selection.value(row, m.name) * m.scale;
    // better is up on every axis
    const scales = metrics.map((m) => {
      const ends = m.better === "higher" ? [HEIGHT - BOTTOM, TOP] : [TOP, HEIGHT - BOTTOM];
      return axis(selection.rows.map((r) => value(r, m)), ...ends, 4);
    });
    const lines = s("g", { class: "lines" });
    const nodes = new Map();
    for (const row of selection.rows) {
      const style = selection.style(row);
      const d = metrics.map((m, k) => `${k ? "L" : "M"}${at(k).toFixed(1)} ${scales[k].at(value(row, m)).toFixed(1)}`).join("");
      const node = s("path", { d, class: `line ${tone(style.colour)}`, "stroke-dasharray": dash(style.colour), onpointerenter: () => selection.point(row.id), onpointerleave: () => selection.point(null), onclick: () => selection.select(row.id) });
      nodes.set(row.id, { node, row });
      lines.append(node);
    }
    const front = s("g", { class: "axes" });
    const spacing = metrics.length > 1 ? at(1) - at(0) : width;
    metrics.forEach((m, k) => front.append(oneAxis(m, at(k), scales[k], spacing)));
    const marked = s("g", { class: "chosen", "aria-hidden": "true" });
    drawn = { nodes, marked };
    holder.replaceChildren(s("svg", { width, height: HEIGHT, viewBox: `0 0 ${width} ${HEIGHT}`, role: "img",
      "aria-label": `Parallel axes: ${metrics.map((m) => m.title).join(", ")}. Better is up. The same filters stand as fields above the table.` }, lines, marked, front));
    refresh();
  }

  function oneAxis(m, x, scale, spacing) {
    const words = capital(m.title).split(" ");
    const lines = spacing < 96 && words.length > 1 ? [words.slice(0, Math.ceil(words.length / 2)).join(" "), words.slice(Math.ceil(words.length / 2)).join(" ")] : [words.join(" ")];
    const range = selection.ranges.get(m.name);
    const kept = range ? range.map((v, k) => (v === null ? (k ? HEIGHT - BOTTOM : TOP) : scale.at(v))).sort((a, b) => a - b) : null;
    const clamp = (v) => Math.min(HEIGHT - BOTTOM, Math.max(TOP, v));
    const brush = s("rect", { class: "brush", x: x - 14, y: TOP - 4, width: 28, height: HEIGHT - TOP - BOTTOM + 8 });
    brush.addEventListener("dblclick", () => selection.range(m.name, null, null));
    brush.addEventListener("pointerdown", (e) => drag(e, m, scale, clamp));
    return s("g", {}, s("line", { class: "rule", x1: x, x2: x, y1: TOP, y2: HEIGHT - BOTTOM }),
      scale.marks.map((t) => s("text", { class: "tick", x: x - 6, y: t.at + 4, "text-anchor": "end" }, t.text)),
      lines.map((text, k) => s("text", { class: "title", x, y: (lines.length > 1 ? 11 : 17) + 13 * k, "text-anchor": "middle" }, text)),
      s("text", { class: "tick", x, y: 36, "text-anchor": "middle" }, m.unit ? `[${m.unit}]` : ""),
      kept ? s("rect", { class: "kept", x: x - 6, y: clamp(kept[0]), width: 12, height: Math.max(3, clamp(kept[1]) - clamp(kept[0])) }) : null,
      brush);
  }

  function drag(e, m, scale, clamp) {
    const box = holder.querySelector("svg").getBoundingClientRect();
    const start = clamp(e.clientY - box.top);
    const round = (v) => Number(v.toPrecision(4));
    const move = (to) => {
      const now = clamp(to.clientY - box.top);
      if (Math.abs(now - start) < 4) return;
      const ends = [scale.back(start), scale.back(now)].sort((a, b) => a - b);
      selection.range(m.name, round(ends[0]), round(ends[1]));
    };
    const drop = () => {
      window.removeEventListener("pointermove", move);
      window.removeEventListener("pointerup", drop);
    };
    window.addEventListener("pointermove", move);
    window.addEventListener("pointerup", drop);
    e.preventDefault();
  }

  function refresh() {
    if (!drawn) return;
    for (const { node, row } of drawn.nodes.values()) {
      node.classList.toggle("faint", !selection.passes(row));
      node.classList.toggle("pointed", row.id === selection.pointed);
    }
    drawn.marked.replaceChildren(...[selection.selected, ...selection.pinned].map((id) => drawn.nodes.get(id)).filter(Boolean).map(({ node }, k) => {
      const copy = node.cloneNode();
      copy.setAttribute("class", k === 0 && drawn.nodes.get(selection.selected) ? "line selected" : `${node.getAttribute("class")} bold`);
      return copy;
    }));
  }

  sized(holder, draw, signal);
  selection.on("filter", () => draw());
  selection.on("select point pin", refresh);
  return { node: holder, redraw: () => draw() };
}
