// Two objectives against each other; a third, if asked, as the size of the mark.

import { h, s, sized } from "./dom.js";
import { mark } from "./marks.js";
import { axis, headed, told } from "./numbers.js";

const EDGE = { left: 62, right: 18, top: 14, bottom: 46 };

export function scatter(selection, axes, signal) {
  const note = h("div", { class: "tip", hidden: true });
  const holder = h("div", { class: "plot" }, note);
  let drawn = null;

  function draw(width) {
    const height = Math.round(Math.min(420, Math.max(300, 0.62 * width)));
    const [x, y, z] = axes().map((name) => name && selection.metric(name));
    const value = (row, m) => selection.value(row, m.name) * m.scale;
    const rows = selection.rows;
    const across = axis(rows.map((r) => value(r, x)), EDGE.left, width - EDGE.right, width < 480 ? 4 : 7);
    const up = axis(rows.map((r) => value(r, y)), height - EDGE.bottom, EDGE.top, 6);
    const sizes = z ? rows.map((r) => value(r, z)) : [];
    const [small, large] = [Math.min(...sizes), Math.max(...sizes)];
    const radius = (r) => (z && large > small ? 3.6 + (5.6 * (value(r, z) - small)) / (large - small) : 5);
    const points = s("g", { class: "points" });
    const picture = s("svg", {
      width, height, viewBox: `0 0 ${width} ${height}`, role: "listbox", tabindex: "0",
      "aria-label": `Candidates by ${x.title} and ${y.title}. Arrow keys move between candidates, P pins.`,
      onkeydown: (e) => keys(e, x, y),
      onpointermove: (e) => point(e),
      onpointerleave: () => selection.point(null),
      onclick: () => selection.pointed && selection.select(selection.pointed),
    });
    picture.append(frame(width, height, across, up, x, y), limits(x, y, across, up, width, height), points);
    const ordered = [...rows].sort((a, b) => radius(b) - radius(a));
    const nodes = new Map();
    for (const row of ordered) {
      const style = selection.style(row);
      const node = mark(style, radius(row), style.fill, {
        transform: `translate(${across.at(value(row, x)).toFixed(1)} ${up.at(value(row, y)).toFixed(1)})`,
        role: "option", id: `at-${row.number}`, "aria-selected": "false",
        "aria-label": `${row.id}, ${row.family}, ${told(x, selection.value(row, x.name))}, ${told(y, selection.value(row, y.name))}`,
      });
      nodes.set(row.id, { node, row, x: across.at(value(row, x)), y: up.at(value(row, y)), r: radius(row) });
      points.append(node);
    }
    const halo = s("g", { class: "halo", "aria-hidden": "true" });
    picture.append(halo);
    drawn = { width, nodes, picture, halo, points, x, y, z };
    holder.replaceChildren(picture, note);
    refresh();
  }

  function refresh() {
    if (!drawn) return;
    const { nodes, picture, halo } = drawn;
    halo.replaceChildren();
    for (const { node, row } of nodes.values()) {
      node.classList.toggle("faint", !selection.passes(row));
      node.setAttribute("aria-selected", String(row.id === selection.selected));
    }
    for (const [kind, ids] of [["pinned", selection.pinned], ["selected", [selection.selected]], ["pointed", [selection.pointed]]]) {
      ids.forEach((id, k) => {
        const found = nodes.get(id);
        if (!found) return;
        halo.append(s("circle", { class: kind, cx: found.x, cy: found.y, r: found.r + (kind === "pinned" ? 6 : 4.5) }));
        if (kind === "pinned") halo.append(s("text", { class: "pin-letter", x: found.x + found.r + 7, y: found.y - found.r - 3 }, "ABCD"[k]));
      });
    }
    const chosen = nodes.get(selection.selected);
    if (chosen) picture.setAttribute("aria-activedescendant", chosen.node.id);
    tip();
  }

  function tip() {
    const found = drawn.nodes.get(selection.pointed);
    note.hidden = !found;
    if (!found) return;
    const { row } = found;
    const lines = [drawn.x, drawn.y, drawn.z].filter(Boolean).map((m) => h("div", {}, `${m.title} `, h("b", {}, told(m, selection.value(row, m.name)))));
    note.replaceChildren(h("strong", {}, row.family), ` in ${row.envelope}`, row.feasible ? "" : " (misses a requirement)", lines,
      selection.remark(row).length ? h("div", { class: "remark" }, selection.remark(row).join(", ")) : "");
    note.style.setProperty("left", `${Math.min(found.x + 14, drawn.width - 210)}px`);
    note.style.setProperty("top", `${found.y + 12}px`);
  }

  function nearest(px, py) {
    let best = null, least = 22 ** 2;
    for (const [id, p] of drawn.nodes) {
      const d = (p.x - px) ** 2 + (p.y - py) ** 2;
      if (d < least && selection.passes(p.row)) [best, least] = [id, d];
    }
    return best;
  }

  function point(e) {
    const box = drawn.picture.getBoundingClientRect();
    selection.point(nearest(e.clientX - box.left, e.clientY - box.top));
  }

  function keys(e, x, y) {
    const along = { ArrowRight: [x, 1], ArrowLeft: [x, -1], ArrowUp: [y, 1], ArrowDown: [y, -1] }[e.key];
    if (e.key === "p" || e.key === "P") selection.pin(selection.selected);
    if (!along) return;
    e.preventDefault();
    const [metric, step] = along;
    const order = selection.visible.sort((a, b) => selection.value(a, metric.name) - selection.value(b, metric.name));
    const now = order.findIndex((r) => r.id === selection.selected);
    const next = order[Math.min(order.length - 1, Math.max(0, now < 0 ? 0 : now + step))];
    if (next) selection.select(next.id);
  }

  function limits(x, y, across, up, width, height) {
    const found = s("g", { class: "limits" });
    for (const [m, scale, upright] of [[x, across, true], [y, up, false]]) {
      if (!m.limit) continue;
      const at = scale.at(m.limit.limit * m.scale);
      const [low, high] = upright ? [EDGE.left, width - EDGE.right] : [EDGE.top, height - EDGE.bottom];
      if (!(at > low && at < high)) continue;
      found.append(upright ? s("line", { x1: at, x2: at, y1: EDGE.top, y2: height - EDGE.bottom }) : s("line", { x1: EDGE.left, x2: width - EDGE.right, y1: at, y2: at }),
        s("text", upright ? { x: at - 4, y: EDGE.top + 10, "text-anchor": "end" } : { x: width - EDGE.right - 4, y: at - 4, "text-anchor": "end" }, "limit"));
    }
    return found;
  }

  sized(holder, draw, signal);
  selection.on("filter select point pin", refresh);
  return { node: holder, redraw: () => drawn && draw(drawn.width) };
}

export function frame(width, height, across, up, x, y) {
  const [left, right, top, bottom] = [EDGE.left, width - EDGE.right, EDGE.top, height - EDGE.bottom];
  return s("g", { class: "axes", "aria-hidden": "true" },
    across.marks.map((t) => [s("line", { class: "grid", x1: t.at, x2: t.at, y1: top, y2: bottom }), s("text", { x: t.at, y: bottom + 17, "text-anchor": "middle" }, t.text)]),
    up.marks.map((t) => [s("line", { class: "grid", x1: left, x2: right, y1: t.at, y2: t.at }), s("text", { x: left - 8, y: t.at + 4, "text-anchor": "end" }, t.text)]),
    s("path", { class: "rule", d: `M${left} ${top}V${bottom}H${right}` }),
    s("text", { class: "title", x: (left + right) / 2, y: height - 8, "text-anchor": "middle" }, headed(x) + better(x)),
    s("text", { class: "title", "text-anchor": "middle", transform: `translate(15 ${(top + bottom) / 2}) rotate(-90)` }, headed(y) + better(y)));
}

export const better = (m) => (m.better === "higher" ? " (more is better)" : "");
export { EDGE };
