// Who wins where: along one objective, the family with the best of another; and curves of a sweep.

import { h, s, sized } from "./dom.js";
import { byPlace, mark, swatch, tone } from "./marks.js";
import { axis, capital, headed, ticked, words } from "./numbers.js";

export function wins(data, signal) {
  const pairs = [...new Set(data.winners.map((w) => `${w.x}|${w.y}`))];
  return pairs.map((pair) => {
    const [x, y] = pair.split("|").map((name) => data.metrics.find((m) => m.name === name));
    const lines = data.winners.filter((w) => `${w.x}|${w.y}` === pair && w.stretches.length);
    if (!lines.length) return null;
    const holder = h("div", { class: "plot" });
    sized(holder, (width) => holder.replaceChildren(bars(data, lines, x, y, width)), signal);
    return h("section", {}, h("h3", {}, `Best ${y.title} for a given ${x.title}`), holder);
  });
}

function bars(data, lines, x, y, width) {
  const left = Math.min(168, 0.32 * width), right = 16, high = 30;
  const height = lines.length * high + 46;
  const across = axis(lines.flatMap((w) => w.stretches.flatMap((t) => t.x)), left, width - right, width < 520 ? 4 : 8);
  const bottom = lines.length * high + 4;
  const clip = (text) => (text.length > left / 7 ? `${text.slice(0, Math.floor(left / 7))}…` : text);
  return s("svg", { width, height, viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": lines.map((w) => `${w.entry}: ${w.stretches.map((t) => words(t.family)).join(", then ")}`).join("; ") },
    s("g", { class: "axes" }, across.marks.map((t) => [s("line", { class: "grid", x1: t.at, x2: t.at, y1: 2, y2: bottom }), s("text", { x: t.at, y: bottom + 16, "text-anchor": "middle" }, t.text)]), s("text", { class: "title", x: (left + width - right) / 2, y: height - 6, "text-anchor": "middle" }, headed(x))),
    lines.map((w, k) => [s("text", { x: left - 10, y: k * high + 22, "text-anchor": "end", class: "title" }, clip(w.entry)),
      w.stretches.map((t) => {
        const style = data.marks[t.family] || byPlace(7), [a, b] = t.x.map(across.at);
        const [from, to] = [Math.min(a, b), Math.max(a, b, Math.min(a, b) + 3)];
        const text = words(t.family);
        return [s("rect", { class: `stretch ${tone(style.colour)}`, x: from, y: k * high + 7, width: to - from, height: high - 9 }), to - from > 16 ? mark(style, 4.6, 1, { transform: `translate(${from + 10} ${k * high + 18})` }) : null, to - from > 26 + 7 * text.length ? s("text", { class: "on", x: from + 20, y: k * high + 22 }, text) : null];
      })]));
}

export function familyKeys(data) {
  return h("div", { class: "legend" }, h("div", {}, Object.entries(data.marks).map(([f, style]) => h("span", { class: "keyed" }, swatch(style, 0), words(f)))));
}

// For each resource: the best and the knee of every objective against how much of it is allowed.
export function sweeps(data, signal) {
  return data.sweep.map((sweep) => h("section", {}, h("h3", {}, `Against ${sweep.title}`),
    sweep.lines.length > 1 ? h("div", { class: "legend" }, h("div", {}, sweep.lines.map((l, k) => h("span", { class: "keyed" }, swatch(byPlace(k)), words(l.name))))) : null, h("div", { class: "many-plots" }, data.objectives.map((o) => {
    const m = data.metrics.find((x) => x.name === o.metric);
    const holder = h("div", { class: "plot" });
    sized(holder, (width) => holder.replaceChildren(curve(sweep, m, width)), signal);
    return holder;
  }))));
}

function curve(sweep, m, width) {
  const height = 240, left = 60, right = 18, top = 26, bottom = 44;
  const lines = sweep.lines.map((l) => ({ name: l.name, best: l.points.map((p) => [p.x, p.best[m.name] * m.scale]), knee: l.points.map((p) => [p.x, p.knee[m.name] * m.scale]) }));
  const all = lines.flatMap((l) => [...l.best, ...l.knee]);
  const across = axis(all.map((p) => p[0]), left, width - right, 4), up = axis(all.map((p) => p[1]), height - bottom, top, 5);
  const unit = sweep.unit ? ` [${sweep.unit}]` : "";
  const path = (points) => points.map((p, k) => `${k ? "L" : "M"}${across.at(p[0]).toFixed(1)} ${up.at(p[1]).toFixed(1)}`).join("");
  return s("svg", { width, height, viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": `${capital(m.title)} against ${sweep.title}: ${lines.map((l) => `${words(l.name)} ${l.best.map((p) => `${ticked(p[0], 0.1)}: ${p[1].toFixed(m.decimals)}`).join("; ")}`).join(", ")} ${m.unit}` },
    s("g", { class: "axes" }, across.marks.map((t) => [s("line", { class: "grid", x1: t.at, x2: t.at, y1: top, y2: height - bottom }), s("text", { x: t.at, y: height - bottom + 16, "text-anchor": "middle" }, t.text)]), up.marks.map((t) => [s("line", { class: "grid", x1: left, x2: width - right, y1: t.at, y2: t.at }), s("text", { x: left - 7, y: t.at + 4, "text-anchor": "end" }, t.text)]),
      s("path", { class: "rule", d: `M${left} ${top}V${height - bottom}H${width - right}` }), s("text", { class: "title", x: (left + width - right) / 2, y: height - 6, "text-anchor": "middle" }, `${capital(sweep.title)}${unit}`), s("text", { class: "title", x: left, y: 15 }, headed(m))),
    lines.map((l, k) => {
      const style = byPlace(k), at = (p) => ({ transform: `translate(${across.at(p[0])} ${up.at(p[1])})` });
      return [s("path", { class: `curve ${tone(style.colour)}`, "stroke-dasharray": "6 4", d: path(l.knee) }), s("path", { class: `curve ${tone(style.colour)}`, d: path(l.best) }),
        l.knee.map((p) => mark(style, 4, 1, at(p))), l.best.map((p) => mark(style, 4.5, 0, at(p)))];
    }));
}
