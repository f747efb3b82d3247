// Curves over evaluations, one an envelope: hypervolume against how many candidates were put forward.

import { h, s, sized } from "./dom.js";
import { byPlace, dash, mark, swatch, tone } from "./marks.js";
import { ticked, ticks } from "./numbers.js";

export function curves(label, named, xTitle, yTitle, signal) {
  const holder = h("div", { class: "plot" });
  let now = named(), width = 0;

  function draw(w = width) {
    width = w;
    if (!width) return;
    const height = 250, left = 58, right = 16, top = 12, bottom = 42;
    const all = now.flatMap((c) => c.points);
    const xMax = Math.max(1, ...all.map((p) => p[0])), yMax = Math.max(1e-9, ...all.map((p) => p[1])) * 1.06;
    const yMin = 0;
    const x = (v) => left + (v / xMax) * (width - left - right), y = (v) => height - bottom - ((v - yMin) / (yMax - yMin)) * (height - top - bottom);
    const [xs, ys] = [ticks(0, xMax, width < 480 ? 4 : 7), ticks(yMin, yMax, 5)];
    const name = (t, list) => ticked(t, list.length > 1 ? list[1] - list[0] : 1);
    const picture = s("svg", { width, height, viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": `${label}: ${now.map((c) => `${c.name} ${c.points.length ? c.points.at(-1)[1].toPrecision(3) : "none"}`).join(", ")}` },
      s("g", { class: "axes" }, xs.map((t) => [s("line", { class: "grid", x1: x(t), x2: x(t), y1: top, y2: height - bottom }), s("text", { x: x(t), y: height - bottom + 17, "text-anchor": "middle" }, name(t, xs))]),
        ys.map((t) => [s("line", { class: "grid", x1: left, x2: width - right, y1: y(t), y2: y(t) }), s("text", { x: left - 8, y: y(t) + 4, "text-anchor": "end" }, name(t, ys))]),
        s("path", { class: "rule", d: `M${left} ${top}V${height - bottom}H${width - right}` }),
        s("text", { class: "title", x: (left + width - right) / 2, y: height - 6, "text-anchor": "middle" }, xTitle), s("text", { class: "title", "text-anchor": "middle", transform: `translate(13 ${(top + height - bottom) / 2}) rotate(-90)` }, yTitle)));
    now.forEach((c, k) => {
      const style = byPlace(k);
      if (!c.points.length) return;
      picture.append(s("path", { class: `curve ${tone(style.colour)}`, "stroke-dasharray": dash(style.colour), d: c.points.map((p, n) => `${n ? "L" : "M"}${x(p[0]).toFixed(1)} ${y(p[1]).toFixed(1)}`).join("") }));
      const end = c.points.at(-1);
      picture.append(mark(style, 5, 0, { transform: `translate(${x(end[0]).toFixed(1)} ${y(end[1]).toFixed(1)})` }));
    });
    holder.replaceChildren(h("div", { class: "legend" }, h("div", {}, now.map((c, k) => h("span", { class: "keyed" }, swatch(byPlace(k)), c.name)))), picture);
  }

  sized(holder, draw, signal);
  return { node: holder, update: () => {
    now = named();
    draw();
  } };
}
