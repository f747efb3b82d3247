// Three objectives as a cloud that turns: drag it, or use the arrow keys with Shift.

import { h, s, sized } from "./dom.js";
import { mark } from "./marks.js";
import { axis, headed, told } from "./numbers.js";

export function scatter3(selection, axes, signal) {
  const holder = h("div", { class: "plot" });
  const note = h("p", { class: "hint" }, "Drag, or press Shift and an arrow key, to turn.");
  let turn = 0.65, tilt = 0.42, width = 0, places = new Map(), picture = null;

  function draw(now = width) {
    width = now;
    if (!width) return;
    const height = Math.round(Math.min(430, Math.max(320, 0.66 * width)));
    const metrics = axes().map((name) => selection.metric(name));
    const value = (row, m) => selection.value(row, m.name) * m.scale;
    const scales = metrics.map((m) => axis(selection.rows.map((r) => value(r, m)), -1, 1, 4));
    const size = 0.29 * Math.min(width, height * 1.25);
    const project = ([a, b, c]) => {
      const u = a * Math.cos(turn) - b * Math.sin(turn), v = a * Math.sin(turn) + b * Math.cos(turn);
      return [width / 2 + size * u, height / 2 - 4 - size * (c * Math.cos(tilt) - v * Math.sin(tilt)), v * Math.cos(tilt) + c * Math.sin(tilt)];
    };
    const line = (p, q, cls) => {
      const [a, b] = [project(p), project(q)];
      return s("line", { class: cls, x1: a[0], y1: a[1], x2: b[0], y2: b[1] });
    };
    const grid = s("g", { class: "axes", "aria-hidden": "true" });
    const [fx, fy] = [Math.sin(turn) > 0 ? 1 : -1, Math.cos(turn) > 0 ? 1 : -1];
    scales[0].marks.forEach((t) => grid.append(line([t.at, -1, -1], [t.at, 1, -1], "grid"), line([t.at, fy, -1], [t.at, fy, 1], "grid")));
    scales[1].marks.forEach((t) => grid.append(line([-1, t.at, -1], [1, t.at, -1], "grid"), line([fx, t.at, -1], [fx, t.at, 1], "grid")));
    scales[2].marks.forEach((t) => grid.append(line([-1, fy, t.at], [1, fy, t.at], "grid"), line([fx, -1, t.at], [fx, 1, t.at], "grid")));
    const label = (p, text, cls = "") => {
      const [x, y] = project(p);
      grid.append(s("text", { x, y: y + 4, "text-anchor": "middle", class: cls }, text));
    };
    scales[0].marks.forEach((t) => label([t.at, -1.14 * fy, -1], t.text));
    scales[1].marks.forEach((t) => label([-1.14 * fx, t.at, -1], t.text));
    const corner = [fx, -fy];
    scales[2].marks.forEach((t) => label([1.13 * corner[0], 1.13 * corner[1], t.at], t.text));
    label([0, -1.42 * fy, -1.04], headed(metrics[0]), "title");
    label([-1.42 * fx, 0, -1.04], headed(metrics[1]), "title");
    label([1.05 * corner[0], 1.05 * corner[1], 1.22], headed(metrics[2]), "title");
    const points = s("g", { class: "points" });
    places = new Map();
    const placed = selection.rows.map((row) => {
      const at = metrics.map((m, k) => scales[k].at(value(row, m)));
      return { row, at, p: project(at) };
    }).sort((a, b) => b.p[2] - a.p[2]);
    for (const { row, at, p } of placed) {
      const style = selection.style(row);
      if ([selection.selected, selection.pointed].includes(row.id)) points.append(line(at, [at[0], at[1], -1], "drop"));
      points.append(mark(style, 5 - 0.8 * p[2], style.fill, {
        transform: `translate(${p[0].toFixed(1)} ${p[1].toFixed(1)})`,
        role: "option", id: `at3-${row.number}`, "aria-selected": String(row.id === selection.selected),
        class: `mark ${mark(style, 1).getAttribute("class").split(" ")[1]}${selection.passes(row) ? "" : " faint"}`,
        "aria-label": `${row.id}, ${row.family}, ${metrics.map((m) => told(m, selection.value(row, m.name))).join(", ")}`,
      }));
      places.set(row.id, p);
    }
    const halo = s("g", { class: "halo", "aria-hidden": "true" });
    for (const [kind, ids] of [["pinned", selection.pinned], ["selected", [selection.selected]], ["pointed", [selection.pointed]]]) {
      ids.forEach((id, k) => {
        const p = places.get(id);
        if (!p) return;
        halo.append(s("circle", { class: kind, cx: p[0], cy: p[1], r: kind === "pinned" ? 11 : 9.5 }));
        if (kind === "pinned") halo.append(s("text", { class: "pin-letter", x: p[0] + 11, y: p[1] - 8 }, "ABCD"[k]));
      });
    }
    const kept = picture && document.activeElement === picture;
    picture = s("svg", {
      width, height, viewBox: `0 0 ${width} ${height}`, role: "listbox", tabindex: "0", class: "turning",
      "aria-label": `Candidates by ${metrics.map((m) => m.title).join(", ")}. Arrow keys move between candidates, with Shift they turn the view, P pins.`,
      onkeydown: keys, onpointerdown: grab, onpointermove: (e) => !e.buttons && point(e),
      onclick: (e) => !moved && (point(e), selection.pointed && selection.select(selection.pointed)),
    }, grid, points, halo);
    holder.replaceChildren(picture, note);
    if (kept) picture.focus();
  }

  let moved = false;
  function grab(e) {
    const start = [e.clientX, e.clientY, turn, tilt];
    moved = false;
    const move = (m) => {
      if (Math.abs(m.clientX - start[0]) + Math.abs(m.clientY - start[1]) > 4) moved = true;
      turn = start[2] + (m.clientX - start[0]) / 160;
      tilt = Math.min(1.5, Math.max(0, start[3] + (m.clientY - start[1]) / 200));
      draw();
    };
    const drop = () => {
      window.removeEventListener("pointermove", move);
      window.removeEventListener("pointerup", drop);
    };
    window.addEventListener("pointermove", move);
    window.addEventListener("pointerup", drop);
  }

  function point(e) {
    const box = picture.getBoundingClientRect();
    let best = null, least = 20 ** 2;
    for (const [id, p] of places) {
      const d = (p[0] - e.clientX + box.left) ** 2 + (p[1] - e.clientY + box.top) ** 2;
      if (d < least && selection.passes(selection.byId.get(id))) [best, least] = [id, d];
    }
    selection.point(best);
  }

  function keys(e) {
    const step = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1 }[e.key];
    if (e.key === "p" || e.key === "P") selection.pin(selection.selected);
    if (!step) return;
    e.preventDefault();
    if (e.shiftKey) {
      if (e.key === "ArrowLeft" || e.key === "ArrowRight") turn += 0.12 * step;
      else tilt = Math.min(1.5, Math.max(0, tilt + 0.08 * step));
      draw();
      return;
    }
    const name = axes()[e.key === "ArrowUp" || e.key === "ArrowDown" ? 1 : 0];
    const order = selection.visible.sort((a, b) => selection.value(a, name) - selection.value(b, name));
    const now = order.findIndex((r) => r.id === selection.selected);
    const next = order[Math.min(order.length - 1, Math.max(0, now < 0 ? 0 : now + step))];
    if (next) selection.select(next.id);
  }

  sized(holder, draw, signal);
  selection.on("filter select point pin", () => draw());
  return { node: holder, redraw: () => draw() };
}
