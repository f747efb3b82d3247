// Two to four pinned candidates side by side: one slider moves all, the better figure of each line is marked.

import { button, h, replace } from "./dom.js";
import { data, seed } from "./candidate.js";
import { failure } from "./api.js";
import { capital, micro, percent, told } from "./numbers.js";
import { canvas, player } from "./player.js";
import { Stage } from "./stage.js";
import { swatch } from "./marks.js";

export function beside(job, selection, signal) {
  const holder = h("section", { class: "card beside", "aria-label": "Side by side" });
  let own = null;

  async function draw() {
    own?.abort();
    own = new AbortController();
    const mine = own.signal;
    const ids = selection.pinned;
    if (!ids.length) {
      replace(holder, h("div", { class: "bar" }, h("h2", {}, "Side by side")), h("p", { class: "hint" }, "Pin two to four candidates (button beside a candidate, or P on the keyboard) to see them together."));
      return;
    }
    try {
      const [views, scenes] = await Promise.all([Promise.all(ids.map((id) => data(job, id))), Promise.all(ids.map((id) => data(job, id, "/scene")))]);
      if (mine.aborted) return;
      const stages = [];
      const columns = views.map((view, k) => {
        const surface = canvas(`Deployment of ${view.id}.`);
        const row = selection.byId.get(view.id);
        const style = selection.style(row);
        queueMicrotask(() => {
          const stage = new Stage(surface, mine);
          stage.load(scenes[k]);
          stages.push(stage);
        });
        return h("div", { class: "column" }, h("h3", {}, h("span", { class: "letter" }, "ABCD"[k]), swatch(style, style.fill), view.family.replaceAll("_", " ")), h("p", { class: "id" }, view.id), surface,
          h("div", { class: "actions" }, button("Look at", () => selection.select(view.id), { class: "quiet" }), button("Unpin", () => selection.pin(view.id), { class: "quiet", "aria-label": `Unpin ${view.id}` }), seed(job, view.id)));
      });
      const play = player(() => stages, () => [], mine);
      replace(holder, h("div", { class: "bar" }, h("h2", {}, "Side by side"), h("span", { class: "grow" }), button("Unpin all", () => ids.forEach((id) => selection.pin(id)), { class: "quiet" })),
        h("div", { class: "columns", style: { "--n": views.length } }, columns), play.node, views.length > 1 ? h("p", { class: "hint" }, "▲: the best of these.") : null, compared(views));
      queueMicrotask(() => play.at(0.55));
    } catch (fault) {
      if (!mine.aborted) replace(holder, failure(fault, draw));
    }
  }

  function compared(views) {
    const line = (title, values, texts, better) => {
      const best = better && values.length > 1 ? (better === "higher" ? Math.max(...values) : Math.min(...values)) : null;
      const first = best === null || texts.every((t) => t === texts[0]) ? null : texts[values.indexOf(best)]; // as it is read
      return h("tr", {}, h("th", { scope: "row" }, title), texts.map((t) => h("td", { class: t === first ? "best" : "" }, t, t === first ? h("span", { class: "flag", title: "best of these" }, "\u00a0▲") : null)));
    };
    const metrics = views[0].metrics.filter((m) => m.better || m.name.endsWith("count")).map((m) => {
      const values = views.map((v) => v.metrics.find((x) => x.name === m.name)?.value ?? NaN);
      return line(capital(m.title), values, values.map((v) => told(m, v)), m.better);
    });
    const fields = [...new Set(views.flatMap((v) => v.requirements.map((r) => r.field)))];
    const margins = fields.map((f) => {
      const found = views.map((v) => v.requirements.find((r) => r.field === f));
      const one = found.find(Boolean);
      return line(`Margin: ${one.title.toLowerCase()}`, found.map((r) => r?.margin ?? NaN), found.map((r) => (r ? `${r.margin >= 0 ? "+" : "−"}${percent(Math.abs(r.margin), 1)}` : "not asked")), null);
    });
    const sources = views[0].accuracy.surface.sources.map((p, k) => line(`Surface: ${p.title.toLowerCase()}`, views.map((v) => v.accuracy.surface.sources[k].rms_m), views.map((v) => micro(v.accuracy.surface.sources[k].rms_m)), "lower"));
    return h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Figures side by side, scrolls" }, h("table", { class: "compared" },
      h("thead", {}, h("tr", {}, h("th", { scope: "col", class: "word" }, "Figure"), views.map((v, k) => h("th", { scope: "col" }, `${"ABCD"[k]} ${v.family.replaceAll("_", " ")}`)))), h("tbody", {}, metrics, sources, margins)));
  }

  selection.on("pin", draw);
  signal.addEventListener("abort", () => own?.abort());
  draw();
  return holder;
}
