// Fronts over each other: a mark and a stepped line for each, in any two figures.

import { EDGE, frame } from "./scatter.js";
import { h, s, sized } from "./dom.js";
import { byPlace, dash, mark, tone } from "./marks.js";
import { axis, told } from "./numbers.js";

// The edge that points attain: each better in y than all with less x.
function attained(points, signs) {
  const sorted = [...points].sort((a, b) => signs[0] * (a.x - b.x) || signs[1] * (a.y - b.y));
  const kept = [];
  for (const p of sorted) if (!kept.length || signs[1] * (p.y - kept.at(-1).y) < 0) kept.push(p);
  return kept;
}

export function overlay(data, axes, hidden, signal) {
  const note = h("div", { class: "tip", hidden: true });
  const holder = h("div", { class: "plot" }, note);
  let width = 0;
  const sign = (m) => (m.better === "higher" ? -1 : 1);

  function draw(now = width) {
    width = now;
    if (!width) return;
    const height = Math.round(Math.min(460, Math.max(320, 0.5 * width)));
    const [x, y] = axes().map((name) => data.metrics.find((m) => m.name === name));
    const [kx, ky] = [data.metrics.indexOf(x), data.metrics.indexOf(y)];
    const points = data.rows.filter((r) => !hidden.has(r.entry)).map((r) => ({ ...r, x: r.values[kx] * x.scale, y: r.values[ky] * y.scale }));
    const across = axis(points.map((p) => p.x), EDGE.left, width - EDGE.right, width < 480 ? 4 : 8), up = axis(points.map((p) => p.y), height - EDGE.bottom, EDGE.top, 6);
    const picture = s("svg", { width, height, viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": `Fronts over each other: ${x.title} and ${y.title}. The tables below tell the same in numbers.`, onpointermove: point, onpointerleave: () => (note.hidden = true) }, frame(width, height, across, up, x, y));
    data.entries.forEach((e, k) => {
      if (hidden.has(e.label) || !e.rows) return;
      const style = byPlace(k), own = points.filter((p) => p.entry === e.label), edge = attained(own, [sign(x), sign(y)]);
      const d = edge.map((p, n) => (n ? `H${across.at(p.x).toFixed(1)}V${up.at(p.y).toFixed(1)}` : `M${across.at(p.x).toFixed(1)} ${up.at(p.y).toFixed(1)}`)).join("");
      picture.append(s("path", { class: `curve ${tone(style.colour)}`, "stroke-dasharray": dash(style.colour), d }));
      for (const p of own) picture.append(mark(style, e.knee?.id === p.id ? 8 : 4.6, 0, { transform: `translate(${across.at(p.x).toFixed(1)} ${up.at(p.y).toFixed(1)})` }));
    });
    holder.replaceChildren(picture, note);

    function point(e) {
      const box = picture.getBoundingClientRect();
      let best = null, least = 20 ** 2;
      for (const p of points) {
        const d = (across.at(p.x) - e.clientX + box.left) ** 2 + (up.at(p.y) - e.clientY + box.top) ** 2;
        if (d < least) [best, least] = [p, d];
      }
      note.hidden = !best;
      if (!best) return;
      note.replaceChildren(h("strong", {}, best.entry), h("div", {}, best.family), h("div", {}, told(x, best.values[kx])), h("div", {}, told(y, best.values[ky])));
      note.style.setProperty("left", `${Math.min(across.at(best.x) + 12, width - 200)}px`);
      note.style.setProperty("top", `${up.at(best.y) + 10}px`);
    }
  }

  sized(holder, draw, signal);
  return { node: holder, redraw: () => draw() };
}
