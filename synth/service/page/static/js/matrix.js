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

// Looks at points [x, y, z, x, ...] from a direction, so near that they just fill the picture. It stays where it is
// while a person turns it, and is fitted anew to other points, another shape of the picture, or a named view.
export class Eye {
  constructor() {
    this.azimuth = -0.9;
    this.elevation = 0.55;
    this.zoom = 1;
    this.points = [0, 0, 0];
    this.fitted = null;
  }

  hold(points) {
    this.points = points;
    this.fitted = null;
  }

  fit(aspect, [x, y, z], angle) {
    const { points } = this;
    const low = [Infinity, Infinity, Infinity], high = [-Infinity, -Infinity, -Infinity];
    const seen = (k) => [x, y, z].map((axis) => axis[0] * points[k] + axis[1] * points[k + 1] + axis[2] * points[k + 2]);
    for (let k = 0; k < points.length; k += 3) seen(k).forEach((v, n) => {
      low[n] = Math.min(low[n], v);
      high[n] = Math.max(high[n], v);
    });
    const middle = low.map((v, n) => (v + high[n]) / 2), [wide, tall] = [Math.tan(angle / 2) * aspect, Math.tan(angle / 2)];
    let far = 1e-6;
    for (let k = 0; k < points.length; k += 3) {
      const [u, v, w] = seen(k).map((c, n) => c - middle[n]);
      far = Math.max(far, w + 1.06 * Math.max(Math.abs(u) / wide, Math.abs(v) / tall));
    }
    this.fitted = { aspect, far, radius: Math.hypot(...low.map((v, n) => high[n] - v)) / 2 || 1, centre: [0, 1, 2].map((n) => middle[0] * x[n] + middle[1] * y[n] + middle[2] * z[n]) };
  }

  matrix(aspect) {
    const angle = 0.5, c = Math.cos(this.elevation);
    this.toward = [c * Math.cos(this.azimuth), c * Math.sin(this.azimuth), Math.sin(this.elevation)];
    const up = Math.abs(this.toward[2]) > 0.999 ? [-Math.cos(this.azimuth), -Math.sin(this.azimuth), 0] : [0, 0, 1];
    const x = unit(cross(up, this.toward));
    if (this.fitted?.aspect !== aspect) this.fit(aspect, [x, cross(this.toward, x), this.toward], angle);
    const { centre, radius } = this.fitted, far = this.fitted.far / this.zoom;
    const eye = centre.map((v, k) => v + far * this.toward[k]);
    const near = Math.max(far - 3 * radius, far / 200);
    return multiply(perspective(angle, aspect, near, far + 3 * radius), lookAt(eye, centre, up));
  }
}
