// Draws a candidate's solids in any state of its motion, or its modes, with the graphics interface alone.

import { blended, Eye } from "./matrix.js";

const SOLID = [`#version 300 es
in vec3 at; in float tone; in float lift;
uniform mat4 eye; uniform mat4 pose; uniform float amount; uniform vec3 tones[4];
out vec3 place; out vec3 colour; out float size;
void main() {
  vec4 p = pose * vec4(at + vec3(0.0, 0.0, amount * lift), 1.0);
  place = p.xyz; colour = tones[int(tone + 0.5)]; size = lift;
  gl_Position = eye * p;
}`, `#version 300 es
precision highp float;
in vec3 place; in vec3 colour; in float size;
uniform vec3 toward; uniform float modal; uniform vec3 low; uniform vec3 zero; uniform vec3 high;
out vec4 drawn;
void main() {
  vec3 n = normalize(cross(dFdx(place), dFdy(place)));
  if (dot(n, toward) < 0.0) n = -n;
  float key = max(dot(n, normalize(toward + vec3(0.25, -0.35, 0.75))), 0.0);
  vec3 base = modal > 0.5 ? (size < 0.0 ? mix(zero, low, -size) : mix(zero, high, size)) : colour;
  drawn = vec4(base * (0.66 + 0.38 * key), 1.0);
}`];
const LINE = [`#version 300 es
in vec3 at; in float lift;
uniform mat4 eye; uniform mat4 pose; uniform float amount; uniform float nearer;
void main() {
  gl_Position = eye * (pose * vec4(at + vec3(0.0, 0.0, amount * lift), 1.0));
  gl_Position.z -= nearer * gl_Position.w;
}`, `#version 300 es
precision mediump float;
uniform vec4 ink;
out vec4 drawn;
void main() { drawn = ink; }`];
const STILL_MS = 220;
const STILL = new Float32Array([1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1]);

export function floats(text) {
  return new Float32Array(bytes(text).buffer);
}

export function bytes(text) {
  const raw = atob(text), out = new Uint8Array(raw.length);
  for (let k = 0; k < raw.length; k += 1) out[k] = raw.charCodeAt(k);
  return out;
}

function program(gl, [vertex, fragment]) {
  const made = gl.createProgram();
  for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]]) {
    const part = gl.createShader(kind);
    gl.shaderSource(part, text);
    gl.compileShader(part);
    if (!gl.getShaderParameter(part, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(part));
    gl.attachShader(made, part);
  }
  ["at", "tone", "lift"].forEach((name, k) => gl.bindAttribLocation(made, k, name));
  gl.linkProgram(made);
  const places = {};
  const count = gl.getProgramParameter(made, gl.ACTIVE_UNIFORMS);
  for (let k = 0; k < count; k += 1) {
    const name = gl.getActiveUniform(made, k).name.replace("[0]", "");
    places[name] = gl.getUniformLocation(made, name);
  }
  return { made, places };
}

const rgb = (text) => {
  const n = parseInt(text.trim().slice(1), 16);
  return [(n >> 16) / 255, ((n >> 8) & 255) / 255, (n & 255) / 255];
};

const cornersOf = (low, high) => [0, 1, 2, 3, 4, 5, 6, 7].map((k) => [0, 1, 2].map((n) => ((k >> n) & 1 ? high : low)[n]));

// Corners of each panel's box, in its own axes.
function boxes(panels, positions) {
  return panels.map(({ first, count }) => {
    const low = [Infinity, Infinity, Infinity], high = [-Infinity, -Infinity, -Infinity];
    for (let k = 3 * first; k < 3 * (first + count); k += 1) {
      low[k % 3] = Math.min(low[k % 3], positions[k]);
      high[k % 3] = Math.max(high[k % 3], positions[k]);
    }
    return cornersOf(low, high);
  });
}

export class Stage {
  constructor(canvas, signal) {
    this.canvas = canvas;
    this.gl = canvas.getContext("webgl2", { antialias: false, preserveDrawingBuffer: true });
    if (!this.gl) throw new Error("This browser offers no WebGL 2, which the three-dimensional view needs.");
    this.eye = new Eye();
    this.solid = program(this.gl, SOLID);
    this.line = program(this.gl, LINE);
    this.at = 1;
    this.amount = 0;
    this.seen = { aperture: true, walls: true, allowed: true, keep_out: true };
    this.pose = new Float32Array(16);
    const watch = new ResizeObserver(() => this.ask());
    watch.observe(canvas);
    const dark = matchMedia("(prefers-color-scheme: dark)"), print = matchMedia("print");
    const themed = () => this.ask(), printed = () => this.draw(2); // at once: the printer does not wait for a frame
    dark.addEventListener("change", themed);
    print.addEventListener("change", printed);
    document.addEventListener("themed", themed);
    signal.addEventListener("abort", () => {
      watch.disconnect();
      dark.removeEventListener("change", themed);
      print.removeEventListener("change", printed);
      document.removeEventListener("themed", themed);
      this.gone = true;
      this.gl.getExtension("WEBGL_lose_context")?.loseContext();
    });
    this.turning();
  }

  buffer(values, place, size, kind) {
    const { gl } = this;
    gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
    gl.bufferData(gl.ARRAY_BUFFER, values, gl.STATIC_DRAW);
    gl.enableVertexAttribArray(place);
    gl.vertexAttribPointer(place, size, kind || gl.FLOAT, false, 0, 0);
  }

  array(fill) {
    const { gl } = this, made = gl.createVertexArray();
    gl.bindVertexArray(made);
    fill();
    gl.bindVertexArray(null);
    return made;
  }

  load(scene) {
    const { gl } = this;
    this.s = scene.s;
    this.poses = floats(scene.poses);
    this.panels = scene.panels;
    this.bodies = this.array(() => {
      this.buffer(floats(scene.positions), 0, 3);
      this.buffer(bytes(scene.tones), 1, 1, gl.UNSIGNED_BYTE);
    });
    this.rims = this.array(() => this.buffer(floats(scene.edges), 0, 3));
    this.guides = Object.entries(scene.guides).map(([name, text]) => {
      const values = floats(text);
      return { name, values, count: values.length / 3, array: this.array(() => this.buffer(values, 0, 3)) };
    });
    this.modal = null;
    this.corners = boxes(this.panels, floats(scene.positions));
    const count = this.s.length, some = Math.min(count, 13);
    this.holdStates(Array.from({ length: some }, (_, k) => Math.round((k * (count - 1)) / Math.max(some - 1, 1))), () => true);
    this.ask();
  }

  // Looks at the stowed pack with the walls about it.
  holdWalls() {
    this.holdStates([0], (guide) => guide.name !== "aperture");
  }

  // All of the picture is for the panels in these frames of the motion, and these guides.
  holdStates(frames, guides) {
    const held = [], stride = 12 * this.panels.length, pose = new Float32Array(16);
    for (const f of frames) this.corners.forEach((box, k) => {
      const m = blended(this.poses, f * stride + 12 * k, f * stride + 12 * k, 0, pose);
      for (const [x, y, z] of box) held.push(...[0, 1, 2].map((n) => m[n] * x + m[4 + n] * y + m[8 + n] * z + m[12 + n]));
    });
    for (const g of this.guides) if (guides(g)) held.push(...g.values);
    this.eye.hold(held);
  }

  loadModes(modes) {
    const { gl } = this, points = floats(modes.points);
    this.shapes = modes.shapes.map(floats);
    this.modal = { count: modes.triangles.length, lines: modes.lines.length, lift: gl.createBuffer() };
    const lift = () => {
      gl.bindBuffer(gl.ARRAY_BUFFER, this.modal.lift);
      gl.enableVertexAttribArray(2);
      gl.vertexAttribPointer(2, 1, gl.FLOAT, false, 0, 0);
    };
    const indexed = (numbers) => this.array(() => {
      this.buffer(points, 0, 3);
      lift();
      gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, gl.createBuffer());
      gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, new Uint32Array(numbers), gl.STATIC_DRAW);
    });
    this.modal.bodies = indexed(modes.triangles);
    this.modal.rims = indexed(modes.lines);
    const [low, high] = [[Infinity, Infinity, 0], [-Infinity, -Infinity, 0]];
    for (let k = 0; k < points.length; k += 3) for (const c of [0, 1]) {
      low[c] = Math.min(low[c], points[k + c]);
      high[c] = Math.max(high[c], points[k + c]);
    }
    this.span = Math.max(high[0] - low[0], high[1] - low[1]);
    const swing = 0.09 * this.span;
    this.eye.hold(cornersOf([...low.slice(0, 2), -swing], [...high.slice(0, 2), swing]).flat());
    this.mode(0);
  }

  mode(number) {
    const { gl } = this;
    gl.bindBuffer(gl.ARRAY_BUFFER, this.modal.lift);
    gl.bufferData(gl.ARRAY_BUFFER, this.shapes[number], gl.STATIC_DRAW);
    this.ask();
  }

  // The state of the motion, 0 stowed to 1 deployed.
  move(at) {
    this.at = at;
    this.ask();
  }

  // A frame soon; and once nothing has been asked for a while, one of twice as many points each way, which smooths
  // the edges: software renderers have no time for that while something moves.
  ask() {
    clearTimeout(this.still);
    if (this.gone) return;
    this.still = setTimeout(() => !this.gone && this.draw(2), STILL_MS);
    if (this.asked) return;
    this.asked = true;
    requestAnimationFrame(() => {
      this.asked = false;
      if (!this.gone) this.draw();
    });
  }

  tones() {
    const css = getComputedStyle(document.documentElement);
    const read = (name) => rgb(css.getPropertyValue(name));
    return { tones: ["--solid-face", "--solid-body", "--solid-root", "--solid-fitting"].flatMap(read), ink: read("--solid-ink"), guide: read("--guide"), paper: read("--stage"), low: read("--mode-low"), zero: read("--mode-zero"), high: read("--mode-high") };
  }

  draw(finer = 1) {
    const { gl, canvas } = this;
    const scale = Math.min((devicePixelRatio || 1) * finer, 3);
    const [width, height] = [Math.round(canvas.clientWidth * scale), Math.round(canvas.clientHeight * scale)];
    if (!width || !height || !(this.poses || this.modal)) return;
    if (canvas.width !== width || canvas.height !== height) [canvas.width, canvas.height] = [width, height];
    const colours = this.tones();
    gl.viewport(0, 0, width, height);
    gl.clearColor(...colours.paper, 1);
    gl.enable(gl.DEPTH_TEST);
    gl.enable(gl.POLYGON_OFFSET_FILL);
    gl.polygonOffset(1, 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    const eye = this.eye.matrix(width / height);
    this.use(this.solid, eye);
    gl.uniform3fv(this.solid.places.tones, colours.tones);
    gl.uniform3fv(this.solid.places.toward, this.eye.toward);
    for (const name of ["low", "zero", "high"]) gl.uniform3fv(this.solid.places[name], colours[name]);
    if (this.modal) this.drawModes(eye, colours);
    else this.drawSolids(eye, colours);
    canvas.dataset.drawn = this.at.toFixed(3);
  }

  use(kind, eye) {
    this.gl.useProgram(kind.made);
    this.gl.uniformMatrix4fv(kind.places.eye, false, eye);
  }

  drawSolids(eye, colours) {
    const { gl } = this;
    gl.uniform1f(this.solid.places.modal, 0);
    gl.uniform1f(this.solid.places.amount, 0);
    const posed = this.posed();
    gl.bindVertexArray(this.bodies);
    this.panels.forEach((p, k) => {
      gl.uniformMatrix4fv(this.solid.places.pose, false, posed(k));
      gl.drawArrays(gl.TRIANGLES, p.first, p.count);
    });
    this.use(this.line, eye);
    gl.uniform1f(this.line.places.amount, 0);
    gl.uniform1f(this.line.places.nearer, 2e-5);
    gl.uniform4f(this.line.places.ink, ...colours.ink, 1);
    gl.bindVertexArray(this.rims);
    this.panels.forEach((p, k) => {
      gl.uniformMatrix4fv(this.line.places.pose, false, posed(k));
      gl.drawArrays(gl.LINES, p.line, p.lines);
    });
    gl.uniformMatrix4fv(this.line.places.pose, false, STILL);
    gl.uniform4f(this.line.places.ink, ...colours.guide, 1);
    for (const g of this.guides) if (this.seen[g.name]) {
      gl.bindVertexArray(g.array);
      gl.drawArrays(gl.LINES, 0, g.count);
    }
  }

  drawModes(eye, colours) {
    const { gl, modal } = this, amount = 0.09 * this.span * this.amount;
    gl.uniform1f(this.solid.places.modal, 1);
    gl.uniform1f(this.solid.places.amount, amount);
    gl.uniformMatrix4fv(this.solid.places.pose, false, STILL);
    gl.bindVertexArray(modal.bodies);
    gl.drawElements(gl.TRIANGLES, modal.count, gl.UNSIGNED_INT, 0);
    this.use(this.line, eye);
    gl.uniform1f(this.line.places.amount, amount);
    gl.uniform1f(this.line.places.nearer, 2e-5);
    gl.uniformMatrix4fv(this.line.places.pose, false, STILL);
    gl.uniform4f(this.line.places.ink, ...colours.ink, 1);
    gl.bindVertexArray(modal.rims);
    gl.drawElements(gl.LINES, modal.lines, gl.UNSIGNED_INT, 0);
  }

  // Poses of the panels in the present state: k to its matrix.
  posed() {
    const { s, poses, at } = this, stride = 12 * this.panels.length;
    let f = 0;
    while (f < s.length - 2 && s[f + 1] < at) f += 1;
    const share = s.length > 1 ? Math.min(1, Math.max(0, (at - s[f]) / (s[f + 1] - s[f] || 1))) : 0;
    const [a, b] = [f * stride, Math.min(f + 1, s.length - 1) * stride];
    return (k) => blended(poses, a + 12 * k, b + 12 * k, share, this.pose);
  }

  turning() {
    const { canvas, eye } = this;
    canvas.addEventListener("pointerdown", (e) => {
      canvas.setPointerCapture(e.pointerId);
      let last = [e.clientX, e.clientY];
      const move = (m) => {
        eye.azimuth -= (m.clientX - last[0]) / 150;
        this.tilt((m.clientY - last[1]) / 150);
        last = [m.clientX, m.clientY];
      };
      const drop = () => {
        canvas.removeEventListener("pointermove", move);
        canvas.removeEventListener("pointerup", drop);
        canvas.removeEventListener("pointercancel", drop);
      };
      canvas.addEventListener("pointermove", move);
      canvas.addEventListener("pointerup", drop);
      canvas.addEventListener("pointercancel", drop);
    });
    canvas.addEventListener("wheel", (e) => {
      if (!e.ctrlKey && document.activeElement !== canvas) return;
      e.preventDefault();
      this.closer(Math.exp(-e.deltaY / 600));
    }, { passive: false });
    canvas.addEventListener("keydown", (e) => {
      const done = { ArrowLeft: () => (eye.azimuth -= 0.12), ArrowRight: () => (eye.azimuth += 0.12), ArrowUp: () => this.tilt(0.1), ArrowDown: () => this.tilt(-0.1), "+": () => this.closer(1.15), "=": () => this.closer(1.15), "-": () => this.closer(1 / 1.15), "0": () => this.view(-0.9, 0.55) }[e.key];
      if (!done) return;
      e.preventDefault();
      done();
      this.ask();
    });
  }

  tilt(by) {
    this.eye.elevation = Math.min(1.5707, Math.max(-1.5707, this.eye.elevation + by));
    this.ask();
  }

  closer(by) {
    this.eye.zoom = Math.min(8, Math.max(0.4, this.eye.zoom * by));
    this.ask();
  }

  view(azimuth, elevation) {
    Object.assign(this.eye, { azimuth, elevation, zoom: 1, fitted: null });
    this.ask();
  }
}
