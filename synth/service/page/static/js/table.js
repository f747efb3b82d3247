// The front as a table: sorted by any column, filtered by least and greatest, a row picks a candidate.

import { h, replace } from "./dom.js";
import { swatch } from "./marks.js";
import { capital, shown, words as inWords } from "./numbers.js";

const USUAL = ["stowed_volume_m3", "longest_stowed_side_m", "mass_kg", "surface_rms_m", "collecting_area_m2", "first_mode_hz", "stowed_first_mode_hz", "panel_count", "part_count"];

export function table(selection) {
  let all = false, order = null, falling = false;
  const body = h("tbody");
  const head = h("thead");
  const count = h("p", { class: "count", role: "status" });
  const words = h("input", { type: "search", placeholder: "id or family", "aria-label": "Find by id, family or envelope", oninput: () => {
    selection.words = words.value.trim().toLowerCase();
    selection.tell("filter");
  } });
  const feasible = h("input", { type: "checkbox", onchange: () => {
    selection.feasibleOnly = feasible.checked;
    selection.tell("filter");
  } });
  const wide = h("input", { type: "checkbox", onchange: () => {
    all = wide.checked;
    draw();
  } });
  const clear = h("button", { type: "button", class: "quiet", onclick: () => {
    words.value = "";
    feasible.checked = false;
    selection.clear();
    draw();
  } }, "Clear filters");

  const columns = () => {
    const chosen = all ? selection.metrics.map((m) => m.name) : [...new Set([...selection.objectives, ...USUAL])].filter((n) => selection.place.has(n));
    return chosen.map((n) => selection.metric(n));
  };

  function sorted() {
    const rows = selection.visible;
    if (order === null) return rows;
    const key = ["family", "envelope"].includes(order) ? (r) => r[order] : (r) => selection.value(r, order);
    rows.sort((a, b) => (key(a) < key(b) ? -1 : key(a) > key(b) ? 1 : 0) * (falling ? -1 : 1));
    return rows;
  }

  function heading(name, title, unit, about) {
    const state = order === name ? (falling ? "descending" : "ascending") : "none";
    return h("th", { scope: "col", "aria-sort": state, class: name === "family" || name === "envelope" ? "word" : "" },
      h("button", { type: "button", class: "sort", title: about || null, onclick: () => {
        [order, falling] = order === name ? (falling ? [null, false] : [name, true]) : [name, false];
        draw();
      } }, capital(title), unit ? h("span", { class: "unit" }, unit) : null, h("span", { class: "arrow", "aria-hidden": "true" }, order === name ? (falling ? "▾" : "▴") : "")));
  }

  function bound(m, side) {
    const now = selection.ranges.get(m.name) || [null, null];
    const box = h("input", { type: "number", step: "any", inputmode: "decimal", placeholder: side ? "max" : "min", value: now[side] ?? "",
      "aria-label": `${side ? "Greatest" : "Least"} ${m.title}${m.unit ? ` in ${m.unit}` : ""}`, onchange: () => {
        const given = box.value === "" ? null : Number(box.value);
        const other = (selection.ranges.get(m.name) || [null, null])[1 - side];
        selection.range(m.name, ...(side ? [other, given] : [given, other]));
      } });
    return box;
  }

  function draw() {
    const shownColumns = columns();
    replace(head,
      h("tr", {}, h("th", { scope: "col", class: "word" }, h("span", { class: "plain" }, "Candidate")), heading("family", "family", ""), heading("envelope", "envelope", ""), shownColumns.map((m) => heading(m.name, m.title, m.unit, m.about))),
      h("tr", { class: "bounds" }, h("td", { class: "word", colspan: 3 }, h("span", { class: "plain" }, "Keep from, to")), shownColumns.map((m) => h("td", {}, bound(m, 0), bound(m, 1)))));
    rows(shownColumns);
  }

  function rows(shownColumns = columns()) {
    const found = sorted();
    replace(body, found.map((row) => {
      const style = selection.style(row);
      const letter = "ABCD"[selection.pinned.indexOf(row.id)];
      return h("tr", { "data-id": row.id, class: `${row.id === selection.selected ? "selected" : ""} ${row.id === selection.pointed ? "pointed" : ""}`,
        onclick: () => selection.select(row.id), onpointerenter: () => selection.point(row.id), onpointerleave: () => selection.point(null) },
        h("th", { scope: "row" }, h("button", { type: "button", class: "pick", "aria-pressed": String(row.id === selection.selected) }, row.id), letter ? h("span", { class: "letter" }, letter) : null, selection.remark(row).map((t) => h("span", { class: "badge" }, t)), row.feasible ? null : h("span", { class: "badge bad" }, "misses")),
        h("td", { class: "word" }, swatch(style, style.fill), " ", inWords(row.family)), h("td", { class: "word" }, row.envelope),
        shownColumns.map((m) => h("td", {}, shown(m, selection.value(row, m.name)))));
    }));
    if (!found.length) replace(body, h("tr", {}, h("td", { class: "none", colspan: 3 + shownColumns.length }, "No candidate passes these filters.")));
    count.textContent = `${found.length} of ${selection.rows.length} candidates`;
    clear.disabled = !selection.filtered;
  }

  function marked() {
    for (const tr of body.children) {
      tr.classList.toggle("selected", tr.dataset.id === selection.selected);
      tr.classList.toggle("pointed", tr.dataset.id === selection.pointed);
      const pick = tr.querySelector(".pick");
      if (pick) pick.setAttribute("aria-pressed", String(tr.dataset.id === selection.selected));
    }
  }

  draw();
  selection.on("filter", () => (document.activeElement?.closest(".bounds") ? rows() : draw()));
  selection.on("pin restyle", () => rows());
  selection.on("select point", marked);
  return h("section", { class: "card", "aria-label": "Table of candidates" },
    h("div", { class: "bar" }, h("h2", {}, "Table"), count, h("span", { class: "grow" }), words, h("label", { class: "tick" }, feasible, " meets everything"), h("label", { class: "tick" }, wide, " all columns"), clear),
    h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Candidates, scrolls" }, h("table", { class: "rows" }, head, body)));
}
