// Bars: margins of requirements, and error budgets by source.

import { h, s } from "./dom.js";
import { micro, percent } from "./numbers.js";

// Zero in the middle; a margin of 100 % and more fills its half.
export function marginBar(margin) {
  const share = Math.max(-1, Math.min(1, margin));
  const [x, width] = share < 0 ? [50 + 50 * share, -50 * share] : [50, 50 * share];
  return s("svg", { class: `margin ${margin < 0 ? "bad" : margin < 0.02 ? "tight" : "good"}`, viewBox: "0 0 100 10", preserveAspectRatio: "none", "aria-hidden": "true" },
    s("rect", { class: "back", x: 0, y: 3.5, width: 100, height: 3 }), s("rect", { class: "fill", x, y: 1, width: Math.max(width, 0.8), height: 8 }), s("line", { x1: 50, x2: 50, y1: 0, y2: 10 }));
}

export function requirementTable(requirements) {
  return h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Requirements, scrolls" }, h("table", { class: "requirements" },
    h("caption", {}, "Requirements. A margin of zero or more is met: how far the value stays from its limit, as a share of the limit."),
    h("thead", {}, h("tr", {}, ["Requirement", "Value", "", "Limit", "Margin", ""].map((t, k) => h(t ? "th" : "td", t ? { scope: "col", class: k === 0 ? "word" : "" } : {}, t)))),
    h("tbody", {}, requirements.map((r) => h("tr", { class: r.ok ? "" : "bad" },
      h("th", { scope: "row", title: r.field }, r.title), h("td", {}, r.value), h("td", { class: "sign", title: r.direction === "max" ? "at most" : "at least" }, r.direction === "max" ? "≤" : "≥"), h("td", {}, r.limit),
      h("td", {}, h("span", { class: "verdict" }, r.ok ? "" : "✕ "), `${r.margin >= 0 ? "+" : "−"}${percent(Math.abs(r.margin), Math.abs(r.margin) < 0.1 ? 1 : 0)}`), h("td", { class: "barred" }, marginBar(r.margin)))))));
}

// One stacked bar of mean squares (they add up), and under it every source with its rms.
export function budget(title, told) {
  const width = 560, top = 26, height = 30;
  const limit = told.limit_m;
  const used = limit ? (told.rms_m / limit) ** 2 : 1;
  const zoomed = limit && used < 0.25;
  let x = 0;
  const bar = s("svg", { class: "budget", viewBox: `0 0 ${width} ${zoomed ? 78 : 62}`, role: "img", "aria-label": `${title}: ${told.sources.map((p) => `${p.title} ${percent(p.share)}`).join(", ")}` },
    s("defs", {}, s("pattern", { id: "stripe", width: 6, height: 6, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" }, s("rect", { width: 6, height: 6, class: "back" }), s("rect", { width: 2, height: 6, class: "ink" })),
      s("pattern", { id: "cross", width: 5, height: 5, patternUnits: "userSpaceOnUse" }, s("rect", { width: 5, height: 5, class: "back" }), s("circle", { cx: 2.5, cy: 2.5, r: 1.1, class: "ink" }))));
  for (const p of told.sources) {
    const w = p.share * width;
    bar.append(s("rect", { class: `part ${p.key}`, x, y: top, width: Math.max(0, w - 1), height }));
    if (p.share > 0.12) bar.append(s("text", { class: "inside", x: x + w / 2, y: top - 8, "text-anchor": "middle" }, `${p.title.split(" ")[0]} ${percent(p.share)}`));
    x += w;
  }
  if (zoomed) bar.append(s("text", { x: 0, y: 74, class: "small" }, `The whole bar uses ${percent(used, used < 0.01 ? 2 : 1)} of the mean square that the limit allows.`));
  return h("section", { class: "budgeted" }, h("h3", {}, title),
    h("p", { class: "figure" }, h("b", {}, micro(told.rms_m)), limit ? ` of ${micro(limit)} allowed` : " (no limit asked)"), bar,
    h("table", { class: "plain-table" }, h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "Adds up in squares"), h("th", { scope: "col", class: "n" }, "rms"), h("th", { scope: "col", class: "n" }, "Share of square"))),
      h("tbody", {}, told.sources.map((p) => h("tr", {}, h("th", { scope: "row" }, h("span", { class: `key ${p.key}` }), p.title, h("span", { class: "note" }, p.note)), h("td", { class: "n" }, micro(p.rms_m)), h("td", { class: "n" }, percent(p.share, 1)))))));
}

const nano = (metres) => `−${(1e9 * metres).toFixed(1)} nm`;

// Every source, joint and term alone: a bar of its surface rms beside the numbers.
export function alone(told) {
  if (!told.sources.length) return null;
  const table = (title, hint, rows, heads, cells) => {
    const most = Math.max(...rows.map((r) => r.surface_m), 1e-15);
    return h("section", {}, h("h3", {}, title), hint ? h("p", { class: "hint" }, hint) : null, h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": `${title}, scrolls` }, h("table", { class: "full alone" }, h("thead", {}, h("tr", {}, h("th", { scope: "col", class: "word" }, h("span", { class: "away" }, title)), h("td"), heads.map((t) => h("th", { scope: "col" }, t)))),
      h("tbody", {}, rows.map((r) => h("tr", {}, h("th", { scope: "row" }, r.name), h("td", { class: "barred" }, s("svg", { viewBox: "0 0 100 8", preserveAspectRatio: "none", class: "share", "aria-hidden": "true" }, s("rect", { width: (100 * r.surface_m) / most, height: 8 }))), cells(r).map((c) => h("td", {}, c))))))));
  };
  const better = (r) => [micro(r.surface_m), micro(r.in_plane_m), nano(r.bought_surface_m), nano(r.bought_in_plane_m)];
  const heads = ["Surface", "In plane", "Surface, if 10 % less", "In plane, if 10 % less"];
  const list = (title, rows) => h("section", {}, h("h3", {}, title), h("table", { class: "plain-table" }, h("tbody", {}, rows.map(([a, b]) => h("tr", {}, h("th", { scope: "row" }, a), h("td", {}, b))))));
  return h("div", {}, table("Each source alone", "Steady sources add as fields, with their signs: their squares do not add up.", told.sources.filter((r) => r.surface_m || r.in_plane_m || r.slope_rad), ["Surface", "In plane", "Slope"], (r) => [micro(r.surface_m), micro(r.in_plane_m), `${(1e6 * r.slope_rad).toFixed(2)} µrad`]),
    table("Joints that matter", told.joints_left ? `The first ${told.joints.length} of ${told.joints.length + told.joints_left}.` : "", told.joints, heads, better), table("Terms of the misfits", "", told.terms, heads, better),
    h("div", { class: "build" }, list("Surface rms by what is taken off", told.datums.map((d) => [d.name, micro(d.rms_m)])), list("Strain locked in", told.locked_in.map((l) => [l.what, l.found]))));
}

// Parts of a whole as bars of one length scale.
export function shares(rows, whole, text) {
  return h("table", { class: "plain-table shares" }, h("tbody", {}, rows.map((r) => h("tr", {}, h("th", { scope: "row" }, r.name), h("td", { class: "n" }, text(r)), h("td", { class: "barred" },
    s("svg", { viewBox: "0 0 100 8", preserveAspectRatio: "none", class: "share", "aria-hidden": "true" }, s("rect", { x: 0, y: 0, width: Math.max(0.5, (100 * r.kg) / whole), height: 8 })))))));
}
