// Marks that differ in colour and in shape: families as in every printed picture, envelopes by their place.

import { s } from "./dom.js";

const ring = (n, r, turn = 0) => Array.from({ length: n }, (_, k) => {
  const a = (2 * Math.PI * k) / n - Math.PI / 2 + turn;
  return [r * Math.cos(a), r * Math.sin(a)];
});
const path = (points) => `M${points.map((p) => p.map((v) => v.toFixed(2)).join(" ")).join("L")}Z`;
const turned = (points, a) => points.map(([x, y]) => [x * Math.cos(a) - y * Math.sin(a), x * Math.sin(a) + y * Math.cos(a)]);

function plus(r) {
  const t = 0.36 * r;
  return [[-t, -r], [t, -r], [t, -t], [r, -t], [r, t], [t, t], [t, r], [-t, r], [-t, t], [-r, t], [-r, -t], [-t, -t]];
}

const SHAPES = {
  o: (r) => path(ring(24, r)),
  s: (r) => path(ring(4, 1.22 * r, Math.PI / 4)),
  "^": (r) => path(ring(3, 1.32 * r)),
  v: (r) => path(ring(3, 1.32 * r, Math.PI)),
  "<": (r) => path(ring(3, 1.32 * r, -Math.PI / 2)),
  ">": (r) => path(ring(3, 1.32 * r, Math.PI / 2)),
  D: (r) => path(ring(4, 1.25 * r)),
  P: (r) => path(plus(1.2 * r)),
  X: (r) => path(turned(plus(1.25 * r), Math.PI / 4)),
  p: (r) => path(ring(5, 1.2 * r)),
  h: (r) => path(ring(6, 1.16 * r)),
};
const ORDER = ["o", "s", "^", "D", "v", "P", "X", "p", "h", "<", ">"];
export const PALETTE = ["#0072b2", "#d55e00", "#009e73", "#cc79a7", "#e69f00", "#56b4e9", "#8c6d1f", "#4d4d4d"];
const DASHES = ["none", "7 3", "2 2.5", "8 2.5 2 2.5", "12 3", "4 2 1 2 1 2", "3 4", "14 2 2 2"];

export const shape = (mark, r) => (SHAPES[mark] || SHAPES.o)(r);
// The colour as a class, so that dark and light each have a tone of enough contrast.
export const tone = (colour) => `tone-${Math.max(0, PALETTE.indexOf(colour))}`;
export const dash = (colour) => DASHES[Math.max(0, PALETTE.indexOf(colour))];

export function byPlace(k) {
  return { mark: ORDER[k % ORDER.length], colour: PALETTE[k % PALETTE.length] };
}

// fill: 0 solid, 1 hollow, 2 half, 3 dotted in the middle.
export function mark(style, r, fill = 0, props = {}) {
  const outline = shape(style.mark, r);
  const body = s("path", { d: outline, class: fill === 1 || fill === 3 ? "hollow" : fill === 2 ? "half" : "solid" });
  return s("g", { class: `mark ${tone(style.colour)}`, ...props }, body, fill === 3 ? s("circle", { r: 0.36 * r, class: "solid" }) : null);
}

export function swatch(style, fill = 0) {
  return s("svg", { class: "swatch", width: 16, height: 16, viewBox: "-8 -8 16 16", "aria-hidden": "true" }, mark(style, 5, fill));
}
