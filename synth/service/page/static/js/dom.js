// Elements by name, properties and children; no markup is ever parsed, so that nothing in a record can become code.

const SVG = "http://www.w3.org/2000/svg";

function fill(node, props, kids) {
  for (const [name, value] of Object.entries(props || {})) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (name === "style") for (const [k, v] of Object.entries(value)) node.style.setProperty(k, v);
    else if (name === "value" && "value" in node) node.value = value;
    else if (name === "checked") node.checked = true;
    else node.setAttribute(name, value === true ? "" : value);
  }
  for (const kid of kids.flat(Infinity)) if (kid !== null && kid !== undefined && kid !== false) node.append(kid);
  return node;
}

export function h(tag, props, ...kids) {
  return fill(document.createElement(tag), props, kids);
}

export function s(tag, props, ...kids) {
  return fill(document.createElementNS(SVG, tag), props, kids);
}

export function replace(node, ...kids) {
  node.replaceChildren(...kids.flat(Infinity).filter((k) => k !== null && k !== undefined && k !== false));
  return node;
}

// Draws anew, and gives the focus back to what it was on, as far as that is still there.
export function keeping(node, draw) {
  const named = (n) => [n.getAttribute("aria-label") || n.name || n.textContent, n.type === "checkbox" ? n.value : ""].join("|");
  const held = node.contains(document.activeElement) ? named(document.activeElement) : null;
  draw();
  if (held === null) return;
  const all = [...node.querySelectorAll("a, button, input, select, [tabindex]")].filter((n) => !n.disabled);
  (all.find((n) => named(n) === held) || all.find((n) => n.tagName === "BUTTON"))?.focus();
}

let numbers = 0;
export function fresh(prefix) {
  numbers += 1;
  return `${prefix}-${numbers}`;
}

// A labelled group of choices of which one holds: real radio buttons, so that keys and readers know them.
export function choice(label, options, current, chosen) {
  const name = fresh("choice");
  return h("fieldset", { class: "choice" }, h("legend", {}, label),
    options.map(([value, text]) => h("label", {},
      h("input", { type: "radio", name, value, checked: value === current, onchange: () => chosen(value) }),
      h("span", {}, text))));
}

export function picker(label, options, current, chosen) {
  const id = fresh("pick");
  const box = h("select", { id, onchange: () => chosen(box.value) },
    options.map(([value, text]) => h("option", { value, selected: value === current }, text)));
  return h("div", { class: "picker" }, h("label", { for: id }, label), box);
}

export function button(text, pressed, props) {
  return h("button", { type: "button", ...props, onclick: pressed }, text);
}

export function empty(title, text, ...more) {
  return h("div", { class: "empty" }, h("h2", {}, title), text && h("p", {}, text), more);
}

export function say(text) {
  document.getElementById("said").textContent = text;
}

// Draws now and whenever the width of the node changes.
export function sized(node, draw, signal) {
  let width = 0;
  const watch = new ResizeObserver(() => {
    const now = Math.round(node.clientWidth);
    if (now > 0 && now !== width) {
      width = now;
      draw(now);
    }
  });
  watch.observe(node);
  signal.addEventListener("abort", () => watch.disconnect());
}
