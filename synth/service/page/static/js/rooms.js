// The problem to scale: the clear circle, and every envelope beside it as a box or a drum, all at one scale.

import { h, s, sized } from "./dom.js";

const C = 0.5 * Math.cos(Math.PI / 4);

// Cabinet projection: width and height true, depth at half length under 45 degrees; z of the room is up.
function roomAt(room, scale) {
  const [x, y, z] = room.outside_m.map((v) => v * scale);
  return { wide: x + C * y, high: z + C * y, x, y, z };
}

export function rooms(report, signal) {
  const holder = h("figure", { class: "drawn" });

  function draw(width) {
    const gap = 34, d = report.clear_diameter_m;
    const flat = report.rooms.map((r) => roomAt(r, 1));
    const columns = width < 520 ? 2 : Math.min(4, report.rooms.length + 1);
    const cells = [{ wide: d, high: d }, ...flat];
    const lines = Math.ceil(cells.length / columns);
    const row = (k) => cells.slice(k * columns, (k + 1) * columns);
    const widest = Math.max(...Array.from({ length: lines }, (_, k) => row(k).reduce((sum, c) => sum + c.wide, 0)));
    const tall = Array.from({ length: lines }, (_, k) => Math.max(...row(k).map((c) => c.high)));
    const scale = Math.min((width - gap * (columns + 1)) / widest, 300 / Math.max(...tall));
    const height = tall.reduce((sum, t) => sum + t * scale + 76, 26);
    const picture = s("svg", { width, height, viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": `To scale: the clear circle of ${mm(d)} and ${report.rooms.length} envelopes: ${report.rooms.map((r) => `${r.name} ${r.size}`).join("; ")}` });
    let y = 16;
    for (let k = 0; k < lines; k += 1) {
      let x = gap;
      const floor = y + tall[k] * scale;
      row(k).forEach((cell, n) => {
        const place = k * columns + n;
        picture.append(place === 0 ? circle(x, floor, d * scale, d) : room(x, floor, report.rooms[place - 1], scale));
        x += Math.max(cell.wide * scale, 96) + gap;
      });
      y = floor + 76;
    }
    picture.append(bar(gap, height - 12, scale));
    holder.replaceChildren(picture, h("figcaption", {}, "All at one scale. Dashed: walls less the clearance."));
  }

  sized(holder, draw, signal);
  return holder;
}

const mm = (v) => (v >= 1 ? `${Number(v.toPrecision(4))} m` : `${Number((1000 * v).toPrecision(4))} mm`);

function circle(x, floor, size, d) {
  const r = size / 2, cx = x + r, cy = floor - r;
  return s("g", { class: "room" }, s("circle", { class: "aperture", cx, cy, r }), s("path", { class: "centre", d: `M${x - 6} ${cy}H${x + size + 6}M${cx} ${cy - r - 6}V${cy + r + 6}` }),
    s("text", { class: "title", x: cx, y: floor + 22, "text-anchor": "middle" }, "clear circle"), s("text", { x: cx, y: floor + 39, "text-anchor": "middle" }, `Ø ${mm(d)}`));
}

function room(x, floor, told, scale) {
  const { x: w, y: deep, z: up, wide } = roomAt(told, scale);
  const c = told.clearance_m * scale, k = C * deep;
  const group = s("g", { class: `room${told.impossible && told.impossible.length ? " impossible" : ""}` });
  if (told.kind === "round") {
    const rx = w / 2, ry = C * w * 0.5, cx = x + rx, top = floor - ry - up, low = floor - ry;
    const drum = (r, q, a, b) => `M${cx - r} ${a}V${b}A${r} ${q} 0 0 0 ${cx + r} ${b}V${a}`;
    group.append(s("path", { class: "solid", d: `${drum(rx, ry, top, low)}A${rx} ${ry} 0 0 0 ${cx - rx} ${top}Z` }), s("path", { class: "wall", d: drum(rx, ry, top, low) }), s("ellipse", { class: "wall", cx, cy: top, rx, ry }));
    if (c > 1.2) group.append(s("path", { class: "inner", d: drum(rx - c, ry * (1 - c / rx), top + c, low - c) }), s("ellipse", { class: "inner", cx, cy: top + c, rx: rx - c, ry: ry * (1 - c / rx) }));
  } else {
    const box = (m) => {
      const [a, b, t] = [x + m, floor - m, floor - up + m];
      const [w1, k1] = [w - 2 * m, k * (1 - (2 * m) / Math.max(deep, 1e-9))];
      return { front: `M${a} ${b}H${a + w1}V${t}H${a}Z`, top: `M${a} ${t}l${k1} ${-k1}h${w1}l${-k1} ${k1}Z`, side: `M${a + w1} ${t}l${k1} ${-k1}V${b - k1}l${-k1} ${k1}Z` };
    };
    const walls = box(0);
    for (const face of ["front", "top", "side"]) group.append(s("path", { class: `solid ${face}`, d: walls[face] }), s("path", { class: "wall", d: walls[face] }));
    if (c > 1.2) group.append(s("path", { class: "inner", d: box(c).front }));
  }
  const middle = x + wide / 2, sides = told.size.split(" × ");
  const lines = told.kind === "round" ? [`Ø ${told.size}`] : wide < 150 ? [`${sides[0]} × ${sides[1]}`, `× ${sides[2]}`] : [told.size];
  group.append(s("text", { class: "title", x: middle, y: floor + 22, "text-anchor": "middle" }, told.name), ...lines.map((text, n) => s("text", { x: middle, y: floor + 39 + 15 * n, "text-anchor": "middle" }, text)));
  return group;
}

function bar(x, y, scale) {
  const length = [0.02, 0.05, 0.1, 0.2, 0.5, 1, 2].findLast((v) => v * scale < 150) || 0.01;
  const w = length * scale;
  return s("g", { class: "scale" }, s("path", { d: `M${x} ${y - 4}v8M${x} ${y}h${w}M${x + w} ${y - 4}v8` }), s("text", { x: x + w + 8, y: y + 4 }, mm(length)));
}
