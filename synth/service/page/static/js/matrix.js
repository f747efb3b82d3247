// 4 x 4 matrices by columns, as the graphics interface wants them, and the eye that turns about the candidate.

export function multiply(a, b) {
  const out = new Float32Array(16);
  for (let c = 0; c < 4; c += 1) for (let r = 0; r < 4; r += 1) {
    let sum = 0;
    for (let k = 0; k < 4; k += 1) sum += a[4 * k + r] * b[4 * c + k];
    out[4 * c + r] = sum;
  }
  return out;
}

export function perspective(angle, aspect, near, far) {
  const f = 1 / Math.tan(angle / 2), out = new Float32Array(16);
  out[0] = f / aspect;
  out[5] = f;
  out[10] = (far + near) / (near - far);
  out[11] = -1;
  out[14] = (2 * far * near) / (near - far);
  return out;
}

const unit = (v) => {
  const n = Math.hypot(...v) || 1;
  return v.map((x) => x / n);
};
const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];

export function lookAt(eye, target, up) {
  const z = unit([eye[0] - target[0], eye[1] - target[1], eye[2] - target[2]]);
  const x = unit(cross(up, z)), y = cross(z, x);
  return new Float32Array([x[0], y[0], z[0], 0, x[1], y[1], z[1], 0, x[2], y[2], z[2], 0, -dot(x, eye), -dot(y, eye), -dot(z, eye), 1]);
}

// Twelve numbers of a pose (rows of [R t]) between two frames, as a matrix by columns.
export function blended(poses, a, b, share, out) {
  for (let r = 0; r < 3; r += 1) for (let c = 0; c < 4; c += 1) {
    const k = 4 * r + c;
    out[4 * c + r] = poses[a + k] + share * (poses[b + k] - poses[a + k]);
  }
  out[3] = out[7] = out[11] = 0;
  out[15] = 1;
  return out;
}

export class Eye {
  constructor() {
    this.azimuth = -0.9;
    this.elevation = 0.55;
    this.zoom = 1;
    this.centre = [0, 0, 0];
    this.radius = 1;
  }

  hold([low, high]) {
    this.centre = low.map((v, k) => (v + high[k]) / 2);
    this.radius = Math.hypot(...low.map((v, k) => high[k] - v)) / 2 || 1;
  }

  matrix(aspect) {
    const angle = 0.5, room = Math.min(1, aspect);
    const far = (this.radius / Math.sin(angle / 2) / room) * 0.86 / this.zoom;
    const c = Math.cos(this.elevation);
    this.toward = [c * Math.cos(this.azimuth), c * Math.sin(this.azimuth), Math.sin(this.elevation)];
    const eye = this.centre.map((v, k) => v + far * this.toward[k]);
    const up = Math.abs(this.toward[2]) > 0.999 ? [-Math.cos(this.azimuth), -Math.sin(this.azimuth), 0] : [0, 0, 1];
    const near = Math.max(far - 3 * this.radius, far / 200);
    return multiply(perspective(angle, aspect, near, far + 3 * this.radius), lookAt(eye, this.centre, up));
  }
}
