// A stage with its slider and play button; several stages may share one.

import { button, h } from "./dom.js";

const SECONDS = 6;

export function canvas(label) {
  return h("canvas", { class: "stage", tabindex: "0", role: "img", "aria-label": `${label} Drag or arrow keys turn, plus and minus come closer, 0 resets.` });
}

export function player(stages, stagesOfMotion, signal) {
  let playing = false, last = 0;
  const told = h("output", { class: "now" });
  const slider = h("input", { type: "range", min: "0", max: "1000", step: "1", value: "1000", "aria-label": "State of the deployment, stowed to deployed", oninput: () => {
    stop();
    at(Number(slider.value) / 1000);
  } });
  const play = button("Play", () => (playing ? stop() : start()), { class: "play", "aria-pressed": "false" });

  function at(value) {
    slider.value = String(Math.round(1000 * value));
    for (const stage of stages()) stage.move(value);
    const moving = stagesOfMotion().map((m, k) => [k, m]).filter(([, m]) => value > m.s[0] + 1e-9 && value < m.s[1] - 1e-9).map(([k]) => k);
    const word = value <= 0 ? "stowed" : value >= 1 ? "deployed" : moving.length ? `stage ${moving.join(" and ")} (${stagesOfMotion().length} in all)` : "between stages";
    told.textContent = `${(100 * value).toFixed(0)} % · ${word}`;
    slider.setAttribute("aria-valuetext", told.textContent);
  }

  function start() {
    playing = true;
    last = performance.now();
    if (Number(slider.value) >= 1000) at(0);
    play.textContent = "Pause";
    play.setAttribute("aria-pressed", "true");
    requestAnimationFrame(step);
  }

  function stop() {
    playing = false;
    play.textContent = "Play";
    play.setAttribute("aria-pressed", "false");
  }

  function step(now) {
    if (!playing || signal.aborted) return;
    const next = Math.min(1, Number(slider.dataset.exact || slider.value / 1000) + (now - last) / (1000 * SECONDS));
    last = now;
    at(next);
    slider.dataset.exact = next;
    if (next >= 1) {
      delete slider.dataset.exact;
      stop();
    } else requestAnimationFrame(step);
  }

  slider.addEventListener("input", () => delete slider.dataset.exact);
  const node = h("div", { class: "player" }, play, h("span", { class: "end", "aria-hidden": "true" }, "stowed"), slider, h("span", { class: "end", "aria-hidden": "true" }, "deployed"), told);
  return { node, at, stop };
}
