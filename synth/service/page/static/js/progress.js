// How a job goes: news as they come, hypervolume over evaluations, feasible share by family, the best so far.

import { page } from "./api.js";
import { curves } from "./curve.js";
import { empty, h, replace, s } from "./dom.js";
import { percent, seconds, words } from "./numbers.js";

const UNITS = { stowed_volume: [1e3, "l"], longest_stowed_side: [1e3, "mm"], mass: [1, "kg"], surface_rms: [1e6, "µm"], in_plane_rms: [1e6, "µm"], blur: [1e6, "µrad"], collecting_area: [1, "m²"], first_mode: [1, "Hz"], part_count: [1, ""], distinct_parts: [1, ""] };

// follow(job) tells it how the job stands, at the start and whenever the service says something new; news only make it
// ask (changed): a stream taken up again tells the past once more, with every stop there ever was.
export function progress(root, first, { signal, changed }) {
  const seen = new Map(); // envelope -> [[evaluations, hypervolume]]
  const top = h("div"), left = h("div"), shares = h("div"), best = h("div");
  const curve = curves("Hypervolume", () => [...seen].map(([name, points]) => ({ name, points })), "candidates put forward", "hypervolume", signal);
  const where = `/jobs/${encodeURIComponent(first.id)}`;
  let latest = null, state = first, source = null, asked = 0, told = false;

  replace(root, top, h("div", { class: "split even" }, h("section", { class: "card", "aria-label": "Hypervolume" }, h("h2", {}, "Hypervolume"), h("p", { class: "hint" }, "Share of the box between the ideal and the reference point, both fixed before the search, that the verified front dominates."), curve.node, left), h("div", {}, h("section", { class: "card", "aria-label": "Best so far" }, h("h2", {}, "Best so far"), best), h("section", { class: "card", "aria-label": "Families" }, h("h2", {}, "Feasible share by family"), shares))));
  signal.addEventListener("abort", () => source?.close());
  follow(first);

  function follow(job) {
    state = job;
    if (["queued", "running"].includes(job.state)) {
      if (!source) listen();
    } else if (!told) {
      if (job.progress) news(job.progress);
      finished();
    }
    soon();
  }

  function listen() {
    seen.clear();
    told = false;
    replace(left);
    source = new EventSource(`/api/v1${where}/events`);
    source.addEventListener("state", () => changed());
    source.addEventListener("progress", (e) => news(JSON.parse(e.data)));
  }

  function soon() {
    if (!asked) asked = requestAnimationFrame(() => {
      asked = 0;
      draw();
    });
  }

  function draw() {
    const running = state.state === "running";
    replace(top, facts(state, latest, running));
    if (!latest) {
      const text = state.state === "queued" ? "The job waits for its turn." : running ? "The first round is under way." : "This job told no figures.";
      for (const node of [best, shares]) replace(node, h("p", { class: "hint" }, text));
      return;
    }
    replace(best, bestTable(latest));
    replace(shares, latest.envelopes.map(families));
    curve.update();
  }

  function news(data) {
    latest = data;
    for (const e of data.envelopes) {
      const points = seen.get(e.name) || [];
      while (points.length && points.at(-1)[0] >= e.evaluations) points.pop(); // resumed from before them
      points.push([e.evaluations, e.hypervolume]);
      seen.set(e.name, points);
    }
    soon();
  }

  async function finished() {
    told = true;
    source?.close();
    source = null;
    try {
      const rows = await page(`${where}/history`, signal);
      if (!rows.length || source) return;
      seen.clear();
      for (const r of rows) if (r.family === "all") {
        if (!seen.has(r.envelope)) seen.set(r.envelope, [[0, 0]]);
        seen.get(r.envelope).push([r.evaluations, r.hypervolume]);
      }
      curve.update();
      replace(left, h("p", {}, h("a", { class: "primary", href: `#/jobs/${first.id}/front` }, "Look at the front")));
    } catch {
      // stopped before it had a front: the news told all there is
    }
  }

  return follow;
}

function facts(job, news, running) {
  const done = news ? news.envelopes.reduce((sum, e) => sum + e.evaluations, 0) : 0;
  const all = news ? news.envelopes.reduce((sum, e) => sum + e.budget, 0) : 0;
  const share = all ? Math.min(1, done / all) : 0;
  const fact = (name, value) => h("div", { class: "fact" }, h("span", { class: "name" }, name), h("b", {}, value));
  return [
    news ? h("div", { class: "gauge", role: "progressbar", "aria-label": "Candidates put forward", "aria-valuemin": "0", "aria-valuemax": String(all), "aria-valuenow": String(done) }, s("svg", { viewBox: "0 0 100 2", preserveAspectRatio: "none", "aria-hidden": "true" }, s("rect", { class: "back", width: 100, height: 2 }), s("rect", { class: "fill", width: 100 * share, height: 2 })), h("span", {}, `${done.toLocaleString("en")} of ${all.toLocaleString("en")}`)) : null,
    h("div", { class: "facts" }, fact("state", job.state), fact("candidates for each envelope", job.evaluations.toLocaleString("en")), fact("seed", String(job.seed)),
      news ? [fact("phase", news.phase), fact("rounds", String(news.rounds)), fact("time", seconds(news.seconds)), news.to_verify ? fact("to verify", String(news.to_verify)) : null, running && news.seconds_left !== null ? fact("left, about", seconds(news.seconds_left)) : null, running ? fact("rate", `${news.rate.toFixed(1)} candidates/s`) : null, fact("workers", String(news.workers)), news.aside ? fact("set aside", String(news.aside)) : null, news.note ? fact("note", news.note) : null] : null),
  ];
}

function bestTable(news) {
  const names = Object.keys(news.envelopes.find((e) => Object.keys(e.best).length)?.best || {});
  if (!names.length) return h("p", { class: "hint" }, "Nothing verified yet meets every requirement.");
  const told = (name, value) => {
    const [scale, unit] = UNITS[name] || [1, ""];
    return value === undefined ? "–" : `${Number((value * scale).toPrecision(4))} ${unit}`;
  };
  return h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Best so far, scrolls" }, h("table", {}, h("thead", {}, h("tr", {}, h("th", { scope: "col", class: "word" }, "Envelope"), names.map((n) => h("th", { scope: "col" }, words(n))), h("th", { scope: "col" }, "on front"), h("th", { scope: "col" }, "hypervolume"))),
    h("tbody", {}, news.envelopes.map((e) => h("tr", {}, h("th", { scope: "row" }, e.name), names.map((n) => h("td", {}, told(n, e.best[n]))), h("td", {}, String(e.on_front)), h("td", {}, e.hypervolume.toFixed(4)))))));
}

function families(e) {
  const rows = Object.entries(e.families).filter(([, f]) => f.evaluations).sort((a, b) => b[1].evaluations - a[1].evaluations);
  if (!rows.length) return empty("", "");
  return h("table", { class: "plain-table shares" }, h("caption", {}, e.name), h("thead", { class: "away" }, h("tr", {}, ["Family", "Feasible of put forward", "Share"].map((t) => h("th", { scope: "col" }, t)))), h("tbody", {}, rows.map(([name, f]) => h("tr", {}, h("th", { scope: "row" }, words(name)), h("td", { class: "n" }, `${f.feasible} of ${f.evaluations}`), h("td", { class: "n" }, percent(f.feasible / f.evaluations)), h("td", { class: "barred" }, s("svg", { class: "share", viewBox: "0 0 100 8", preserveAspectRatio: "none", "aria-hidden": "true" }, s("rect", { class: "back", width: 100, height: 8 }), s("rect", { width: (100 * f.feasible) / f.evaluations, height: 8 })))))));
}
