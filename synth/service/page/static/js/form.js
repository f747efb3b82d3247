// The form of a problem: every field tells its unit, what is wrong with it, and changes the text beside it.

import { button, choice, fresh, h, picker } from "./dom.js";
import { words } from "./numbers.js";

const SIDES = ["x", "y", "z"];

// faults: those of a field or of something inside it.
function faultsOf(faults, name) {
  return faults.filter((f) => f.field === name || f.field.startsWith(`${name}[`));
}

export function entry({ field, label, unit, kind, about, default: usual, words: options }, value, faults, change) {
  const id = fresh("field"), found = faultsOf(faults, field);
  const notes = [about ? `${id}-about` : "", found.length ? `${id}-fault` : ""].filter(Boolean).join(" ") || null;
  const shared = { id, name: field, "aria-describedby": notes, "aria-invalid": found.length ? "true" : null };
  let box;
  if (kind === "flag") box = h("input", { ...shared, type: "checkbox", checked: value === true, onchange: () => change(field, box.checked) });
  else if (kind === "word") box = h("select", { ...shared, onchange: () => change(field, box.value) }, options.map((w) => h("option", { value: w, selected: w === value }, w)));
  else box = h("input", { ...shared, type: "text", value: value ?? "", "data-told": value ?? "", autocomplete: "off", spellcheck: "false", placeholder: usual ? `${usual}, default` : ["name", "title"].includes(field.split(".").pop()) || field.startsWith("envelope") ? null : "not asked", onchange: () => change(field, box.value) });
  return h("div", { class: `entry ${kind}${found.length ? " wrong" : ""}` }, h("label", { for: id }, label, unit ? h("span", { class: "unit" }, ` [${unit}]`) : null), box,
    about ? h("span", { class: "about", id: `${id}-about` }, about) : null,
    found.length ? h("span", { class: "fault", id: `${id}-fault` }, found.map((f) => f.message).join("; ")) : null);
}

export function problemForm(vocabulary, form, faults, change) {
  const group = (title, ...rest) => h("fieldset", { class: "group" }, h("legend", {}, title), rest);
  const [aperture, ...others] = vocabulary.groups;
  const fields = (g) => group(g.title, h("div", { class: "entries" }, g.fields.map((f) => entry(f, form.values[f.field], faults, change))));
  return h("div", { class: "form" },
    h("div", { class: "entry title" }, entry({ field: "title", label: "Title", kind: "text" }, form.title, faults, change)),
    fields(aperture), envelopes(vocabulary, form, faults, change, group), others.map(fields), goals(vocabulary, form, faults, change, group));
}

function goals(vocabulary, form, faults, change, group) {
  const many = (title, field, options, current, hint) => {
    const found = faultsOf(faults, field);
    return group(title, h("p", { class: "hint" }, hint), h("div", { class: "many" }, options.map(([value, text]) => h("label", { class: "tick" },
      h("input", { type: "checkbox", name: field, value, checked: current.includes(value), onchange: (e) => change(field, e.target.checked ? [...current, value] : current.filter((v) => v !== value)) }), text))),
    found.map((f) => h("span", { class: "fault" }, f.message)));
  };
  return [
    many("Objectives", "search.objectives", vocabulary.objectives.map((o) => [o.name, `${o.better} ${words(o.name)}`]), form.objectives, "Two to five; the front trades them against each other."),
    many("Families", "choices.families", vocabulary.families.map((f) => [f, words(f)]), form.families, form.families.length ? "Only these ways of folding." : "None marked: every way of folding may be tried."),
  ];
}

function envelopes(vocabulary, form, faults, change, group) {
  const own = faults.filter((f) => f.field === "envelope");
  return group("Envelopes", form.envelopes.map((room, k) => oneRoom(vocabulary, room, k, faults, change)), own.map((f) => h("span", { class: "fault" }, f.message)),
    button("Add an envelope", () => change("envelope", "+"), { class: "quiet" }));
}

function oneRoom(vocabulary, room, k, faults, change) {
  const at = (part) => `envelope[${k}].${part}`;
  const shape = room.preset ? "preset" : room.diameter || room.height ? "round" : "box";
  const whole = faults.filter((f) => f.field === `envelope[${k}]`);
  const one = (part, label) => entry({ field: at(part), label, unit: part === "name" ? "" : "m", kind: part === "name" ? "text" : "quantity" }, room[part], faults, change);
  const size = Array.isArray(room.size) ? room.size : ["", "", ""];
  const sides = SIDES.map((axis, n) => entry({ field: at(`size[${n}]`), label: `Side ${axis}`, unit: "m", kind: "quantity" }, size[n], n === 0 ? [...faults.filter((f) => f.field === at("size")).map((f) => ({ ...f, field: at("size[0]") })), ...faults] : faults, change));
  return h("fieldset", { class: "room-fields" }, h("legend", {}, `Envelope ${k + 1}`),
    h("div", { class: "entries" }, one("name", "Name"),
      choice("Shape", [["box", "box"], ["round", "round"], ["preset", "preset"]], shape, (value) => value !== shape && change(at("shape"), value)),
      shape === "box" ? sides : shape === "round" ? [one("diameter", "Diameter"), one("height", "Height")] : picker("Preset", vocabulary.presets.map((p) => [p, words(p)]), room.preset, (value) => change(at("preset"), value)),
      one("clearance", "Clearance")),
    whole.map((f) => h("span", { class: "fault" }, f.message)),
    button("Take away", () => change(`envelope[${k}]`, null), { class: "quiet", "aria-label": `Take away envelope ${room.name || k + 1}` }));
}
