// What the linked views share: rows, filters, the candidate looked at, those pinned, the one pointed at.

import { byPlace } from "./marks.js";

export const MOST_PINS = 4;

export class Selection {
  constructor(data) {
    this.data = data;
    this.metrics = data.metrics;
    this.place = new Map(data.metrics.map((m, k) => [m.name, k]));
    this.rows = data.rows.map((r, number) => ({ ...r, number }));
    this.byId = new Map(this.rows.map((r) => [r.id, r]));
    this.envelopes = new Set(data.envelopes.filter((e) => e.rows).map((e) => e.name));
    this.families = new Set(Object.keys(data.marks));
    this.ranges = new Map();
    this.words = "";
    this.feasibleOnly = false;
    this.by = "family";
    this.selected = null;
    this.pinned = [];
    this.pointed = null;
    this.heard = {};
  }

  on(kind, call, signal) {
    for (const k of kind.split(" ")) {
      (this.heard[k] ||= []).push(call);
      signal?.addEventListener("abort", () => (this.heard[k] = this.heard[k].filter((c) => c !== call)));
    }
  }

  tell(kind) {
    for (const call of this.heard[kind] || []) call();
  }

  metric(name) {
    return this.metrics[this.place.get(name)];
  }

  value(row, name) {
    return row.values[this.place.get(name)];
  }

  get objectives() {
    return this.data.objectives.map((o) => o.metric);
  }

  passes(row) {
    if (!this.envelopes.has(row.envelope) || !this.families.has(row.family)) return false;
    if (this.feasibleOnly && !row.feasible) return false;
    if (this.words && !`${row.id} ${row.family} ${row.envelope}`.toLowerCase().includes(this.words)) return false;
    for (const [name, [low, high]] of this.ranges) {
      const v = this.value(row, name) * this.metric(name).scale;
      if ((low !== null && v < low - 1e-9 * Math.abs(low)) || (high !== null && v > high + 1e-9 * Math.abs(high))) return false;
    }
    return true;
  }

  get visible() {
    return this.rows.filter((r) => this.passes(r));
  }

  // Least and greatest in shown units; null on both sides lifts the filter.
  range(name, low, high) {
    if (low === null && high === null) this.ranges.delete(name);
    else this.ranges.set(name, [low, high]);
    this.tell("filter");
  }

  clear() {
    this.ranges.clear();
    this.words = "";
    this.feasibleOnly = false;
    this.envelopes = new Set(this.data.envelopes.filter((e) => e.rows).map((e) => e.name));
    this.families = new Set(Object.keys(this.data.marks));
    this.tell("filter");
  }

  get filtered() {
    return this.visible.length < this.rows.length;
  }

  select(id) {
    if (!this.byId.has(id) || this.selected === id) return;
    this.selected = id;
    this.tell("select");
  }

  point(id) {
    if (this.pointed === id) return;
    this.pointed = id;
    this.tell("point");
  }

  pin(id) {
    if (this.pinned.includes(id)) this.pinned = this.pinned.filter((p) => p !== id);
    else if (this.pinned.length < MOST_PINS) this.pinned = [...this.pinned, id];
    else return false;
    this.tell("pin");
    return true;
  }

  // Colour and shape by family, or by envelope; the other one shows in how the mark is filled.
  style(row) {
    const place = this.data.envelopes.findIndex((e) => e.name === row.envelope);
    if (this.by === "envelope") return { ...this.envelopeStyle(place), fill: row.feasible ? 0 : 1 };
    const fills = [0, 1, 2, 3];
    return { ...this.data.marks[row.family], fill: fills[place % fills.length] };
  }

  envelopeStyle(place) {
    return byPlace(place);
  }

  remark(row) {
    const e = this.data.envelopes.find((x) => x.name === row.envelope);
    const said = [];
    if (e && e.knee === row.id) said.push("knee");
    for (const o of this.data.objectives) {
      if (e && e.least[o.metric] === row.id) said.push(`${o.sign > 0 ? "least" : "greatest"} ${this.metric(o.metric).title}`);
    }
    return said;
  }
}
