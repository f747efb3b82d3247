// Numbers with their units, and round numbers for axes.

export const THIN = "\u2009";

export function shown(metric, value) {
  return (value * metric.scale).toFixed(metric.decimals);
}

export function told(metric, value) {
  return metric.unit ? `${shown(metric, value)} ${metric.unit}` : shown(metric, value);
}

export function headed(metric) {
  return metric.unit ? `${capital(metric.title)} [${metric.unit}]` : capital(metric.title);
}

export const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);
export const words = (name) => name.replaceAll("_", " ");
export const counted = (n, one, many = `${one}s`) => `${n} ${n === 1 ? one : many}`;
export const percent = (share, digits = 0) => `${(100 * share).toFixed(digits)} %`;

export function micro(metres) {
  const um = 1e6 * metres;
  return `${um >= 100 ? um.toFixed(0) : um >= 1 ? um.toFixed(2) : um.toFixed(3)} µm`;
}

export function seconds(value) {
  if (value < 90) return `${value.toFixed(0)} s`;
  if (value < 5400) return `${(value / 60).toFixed(0)} min`;
  return `${(value / 3600).toFixed(1)} h`;
}

// About `count` round numbers between low and high.
export function ticks(low, high, count) {
  if (!(high > low)) return [low];
  const raw = (high - low) / Math.max(1, count);
  const size = 10 ** Math.floor(Math.log10(raw));
  const step = [1, 2, 2.5, 5, 10].map((k) => k * size).find((k) => k >= raw * 0.999);
  const found = [];
  for (let v = Math.ceil(low / step - 1e-9) * step; v <= high + 1e-9 * step; v += step) found.push(Math.abs(v) < step * 1e-9 ? 0 : v);
  return found;
}

export function ticked(value, step) {
  const places = step >= 1 ? (step % 1 > 1e-9 ? 1 : 0) : Math.min(6, Math.ceil(-Math.log10(step) - 1e-9) + (String(step / 10 ** Math.floor(Math.log10(step))).startsWith("2.5") ? 1 : 0));
  return value.toFixed(places);
}

// The span of numbers with a little air; never of zero length.
export function spanOf(values, air = 0.06) {
  let low = Infinity, high = -Infinity;
  for (const v of values) {
    if (v < low) low = v;
    if (v > high) high = v;
  }
  if (!Number.isFinite(low)) return [0, 1];
  const room = high > low ? air * (high - low) : Math.abs(low) * 0.1 || 1;
  return [low - room, high + room];
}

// A logarithmic axis where the greatest is twelve times the least and all are above zero.
export function axis(values, from, to, count) {
  const [least, most] = [Math.min(...values), Math.max(...values)];
  if (values.length && least > 0 && most / least > 12) {
    const [low, high] = [Math.log10(least) - 0.05, Math.log10(most) + 0.05];
    const at = (v) => from + ((Math.log10(v) - low) / (high - low)) * (to - from);
    const marks = [];
    for (let d = Math.floor(low); d <= high; d += 1) for (const k of [1, 2, 5]) {
      const v = k * 10 ** d;
      if (Math.log10(v) >= low && Math.log10(v) <= high) marks.push({ at: at(v), text: String(Number(v.toPrecision(3))) });
    }
    return { at, marks, back: (x) => 10 ** (low + ((x - from) / (to - from)) * (high - low)), logarithmic: true };
  }
  const [low, high] = spanOf(values);
  const at = (v) => from + ((v - low) / (high - low)) * (to - from);
  const found = ticks(low, high, count);
  const step = found.length > 1 ? found[1] - found[0] : Math.abs(found[0]) || 1;
  return { at, marks: found.map((v) => ({ at: at(v), text: ticked(v, step) })), back: (x) => low + ((x - from) / (to - from)) * (high - low) };
}
