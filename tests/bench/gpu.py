"""The algebra of the deployed network on a GPU beside two processor threads: is an array namespace worth swapping?

Run: python -m tests.bench.gpu --make FILE (here: works out real inputs of 7, 19 and 37 panels with the program's code),
then on a machine with numpy and PyTorch, without the program: python gpu.py FILE. One kernel, written once, runs on
numpy and on PyTorch arrays: it couples panels by joint springs, factorises, propagates misfits and steady loads, and
finds the first mode, in float64. Two ways: block elimination as the program does it (`blocks`), and one dense matrix a
candidate (`dense`), which has far fewer steps to launch. Figures are held to those of the program.

FILE holds 24 candidates of each size, assembled (plates, masses, unit rows: what the shape tables give). Larger
batches repeat them with other springs and misfits. Assembly of the shape tables, layout, stowed size and launch are
not in the kernel: --make measures what share of an evaluation they are, which bounds what a faster kernel can bring.
"""

import argparse
import os
import platform
import sys
import time
from collections.abc import Callable
from typing import Any

if __name__ == "__main__":  # numpy reads these as it loads
    for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(_name, "2")

import numpy as np

PANELS = (7, 19, 37)
DISTINCT = 24
BATCHES = (4, 24, 256, 4096)
CHUNK_BYTES = {"cpu": 48e6, "cuda": 24e9}
ROUNDS, EXTRA_STARTS = 2, 5
GAUGES = ("surface", "in_plane", "slope")
FIGURES = ("joints_m2", "in_plane_joints_m2", "slope_joints_rad2", "steady_m2", "slope_steady_rad2", "first_mode_hz")
BY_ROW = ("plate", "inertia", "rows", "spring", "sigma", "steady")
Arrays = dict[str, Any]


class Numpy:
    """numpy as the kernel's namespace."""

    name, device = "numpy", "cpu"

    def put(self, a: Any) -> Any:
        return np.asarray(a)

    def get(self, a: Any) -> Any:
        return a

    def wait(self) -> None:
        return

    def zeros(self, shape: tuple[int, ...]) -> Any:
        return np.zeros(shape)

    def cat(self, parts: list[Any], axis: int) -> Any:
        return np.concatenate(parts, axis=axis)

    def cholesky(self, a: Any) -> Any:
        return np.linalg.cholesky(a)

    def inverse(self, lower: Any) -> Any:
        """Of a lower triangle: the inverse of an upper one takes no pivoting, so this is plain substitution."""
        return np.linalg.inv(lower.mT).mT

    def forward(self, lower: Any, b: Any) -> Any:
        return self.inverse(lower) @ b

    def solve(self, a: Any, b: Any) -> Any:
        return np.linalg.solve(a, b)

    def eigh(self, a: Any) -> Any:
        return np.linalg.eigh(a)

    def where(self, test: Any, a: Any, b: Any) -> Any:
        return np.where(test, a, b)

    def clip(self, a: Any, low: float) -> Any:
        return np.maximum(a, low)

    def sum(self, a: Any, axes: tuple[int, ...]) -> Any:
        return a.sum(axis=axes)


class Torch(Numpy):
    """PyTorch as the kernel's namespace, on the processor or the GPU."""

    def __init__(self, device: str) -> None:
        import torch

        self.t, self.device, self.name = torch, device, f"torch {device}"

    def put(self, a: Any) -> Any:
        return self.t.from_numpy(np.ascontiguousarray(a)).to(self.device)

    def get(self, a: Any) -> Any:
        return a.cpu().numpy()

    def wait(self) -> None:
        if self.device != "cpu":
            self.t.cuda.synchronize()

    def zeros(self, shape: tuple[int, ...]) -> Any:
        return self.t.zeros(shape, dtype=self.t.float64, device=self.device)

    def cat(self, parts: list[Any], axis: int) -> Any:
        return self.t.cat(parts, dim=axis)

    def cholesky(self, a: Any) -> Any:
        return self.t.linalg.cholesky_ex(a, check_errors=False)[0]  # no wait for the answer of each step

    def inverse(self, lower: Any) -> Any:
        one = self.t.eye(lower.shape[-1], dtype=lower.dtype, device=self.device).expand(lower.shape)
        return self.t.linalg.solve_triangular(lower, one, upper=False)

    def forward(self, lower: Any, b: Any) -> Any:
        return self.t.linalg.solve_triangular(lower, b, upper=False)

    def backward(self, lower: Any, b: Any) -> Any:
        return self.t.linalg.solve_triangular(lower.mT, b, upper=True)

    def solve(self, a: Any, b: Any) -> Any:
        return self.t.linalg.solve_ex(a, b, check_errors=False)[0]

    def eigh(self, a: Any) -> Any:
        return self.t.linalg.eigh(a)

    def where(self, test: Any, a: Any, b: Any) -> Any:
        return self.t.where(test, a, b)

    def clip(self, a: Any, low: float) -> Any:
        return self.t.clamp(a, min=low)

    def sum(self, a: Any, axes: tuple[int, ...]) -> Any:
        return a.sum(dim=axes)


class Tables:
    """Index tables of a network, shared by a batch, on the device where they are used."""

    def __init__(self, xp: Any, given: Arrays) -> None:
        self.sides, self.ends = xp.put(given["sides"]), xp.put(given["ends"])
        self.low, self.high = xp.put(given["low"]), xp.put(given["high"])
        self.pairs = [tuple(map(int, p)) for p in given["pairs"]]
        self.order = [int(p) for p in given["order"]]
        self.later = [[int(q) for q in row if q >= 0] for row in given["later"]]
        self.panels = len(self.order)
        self.at = {p: [int(s) for s in row if s < given["units"] * 2] for p, row in enumerate(given["sides"])}
        self.own_sides = {p: xp.put(np.array(s, dtype=np.int64)) for p, s in self.at.items()}
        units = {p: np.array(s, dtype=np.int64) // 2 for p, s in self.at.items()}
        columns = {p: (6 * u[:, None] + np.arange(6)).reshape(-1) for p, u in units.items()}
        self.draws = int(6 * given["units"])
        self.columns = {p: xp.put(c) for p, c in columns.items()}
        # draws that a panel feels when its turn in the elimination comes: its own and those of panels before it
        felt = {p: set(c.tolist()) for p, c in columns.items()}
        for p in self.order:
            for q in self.later[p]:
                felt[q] |= felt[p]
        active = {p: np.array(sorted(f), dtype=np.int64) for p, f in felt.items()}
        self.felt = {p: len(c) for p, c in active.items()}
        self.active = {p: xp.put(c) for p, c in active.items()}
        self.mine = {p: xp.put(np.searchsorted(active[p], columns[p])) for p in active}
        self.onto = {(p, q): xp.put(np.searchsorted(active[q], active[p])) for p in self.order for q in self.later[p]}


def blocks(xp: Any, a: Arrays, t: Tables) -> dict[tuple[int, int], Any]:
    """K = plates + sum over units of rows^T spring rows, by panel pair."""
    batch, size = a["rows"].shape[0], a["rows"].shape[-1]
    flat = xp.cat([a["rows"].reshape(batch, -1, 6, size), xp.zeros((batch, 1, 6, size))], 1)
    spring = a["spring"][:, :, None]
    both = xp.cat([spring, spring], 2).reshape(batch, -1, 6)
    heavy = flat * xp.cat([both, xp.zeros((batch, 1, 6))], 1)[..., None]
    own = flat[:, t.sides].reshape(batch, t.panels, -1, size)
    square = own.mT @ heavy[:, t.sides].reshape(batch, t.panels, -1, size) + a["plate"]
    out = {(p, p): square[:, p] for p in range(t.panels)}
    if t.pairs:
        left = flat[:, t.high].reshape(batch, len(t.pairs), -1, size)
        right = heavy[:, t.low].reshape(batch, len(t.pairs), -1, size)
        beside = left.mT @ right
        out.update({(j, i): beside[:, k] for k, (i, j) in enumerate(t.pairs)})
    return out


class Blocks:
    """Block Cholesky elimination by panels (Elimination of the program)."""

    def __init__(self, xp: Any, a: Arrays, t: Tables) -> None:
        self.xp, self.t = xp, t
        self.root: dict[int, Any] = {}
        self.beside: dict[int, Any] = {}
        work = blocks(xp, a, t)
        self.n = n = a["plate"].shape[-1]
        for p in t.order:
            self.root[p] = xp.inverse(xp.cholesky(work[p, p]))
            if not t.later[p]:
                continue
            column = [self._at(work, q, p, a) for q in t.later[p]]
            self.beside[p] = self.root[p] @ xp.cat(column, 1).mT
            update = self.beside[p].mT @ self.beside[p]
            for x, q in enumerate(t.later[p]):
                for y, r in enumerate(t.later[p][: x + 1]):
                    part = update[:, x * n : (x + 1) * n, y * n : (y + 1) * n]
                    work[q, r] = work[q, r] - part if (q, r) in work else -part

    def _at(self, work: Any, q: int, p: int, a: Arrays) -> Any:
        if (max(p, q), min(p, q)) not in work:
            return self.xp.zeros((len(a["plate"]), self.n, self.n))
        return work[q, p] if q >= p else work[p, q].mT

    def solve(self, load: Any) -> Any:
        """K^-1 load [B, P, N', R]."""
        work, turned, n = {p: load[:, p] for p in range(self.t.panels)}, {}, self.n
        for p in self.t.order:
            turned[p] = self.root[p] @ work[p]
            if self.t.later[p]:
                push = self.beside[p].mT @ turned[p]
                for x, q in enumerate(self.t.later[p]):
                    work[q] = work[q] - push[:, x * n : (x + 1) * n]
        return self._back(turned)

    def respond(self, pulls: dict[int, Any]) -> Any:
        """K^-1 of all draws [B, P, N', draws]; pulls [B, N', c]: what each panel's own draws pull on it. The forward
        sweep carries a draw only where it has come to."""
        t, n, turned = self.t, self.n, {}
        work = {p: self.xp.zeros((len(pull), n, t.felt[p])) for p, pull in pulls.items()}
        for p, pull in pulls.items():
            work[p][..., t.mine[p]] = pull
        for p in t.order:
            here = self.root[p] @ work[p]
            turned[p] = self.xp.zeros((len(here), n, t.draws))
            turned[p][..., t.active[p]] = here
            if t.later[p]:
                push = self.beside[p].mT @ here
                for x, q in enumerate(t.later[p]):
                    work[q][..., t.onto[p, q]] -= push[:, x * n : (x + 1) * n]
        return self._back(turned)

    def _back(self, turned: dict[int, Any]) -> Any:
        found: dict[int, Any] = {}
        for p in reversed(self.t.order):
            rest = turned[p]
            if self.t.later[p]:
                rest = rest - self.beside[p] @ self.xp.cat([found[q] for q in self.t.later[p]], 1)
            found[p] = self.root[p].mT @ rest
        shape = found[0].shape
        together = [found[p].reshape(shape[0], 1, *shape[1:]) for p in range(self.t.panels)]
        return self.xp.cat(together, 1)


class Dense:
    """One Cholesky factor of the whole matrix of each candidate: few large steps."""

    def __init__(self, xp: Any, a: Arrays, t: Tables) -> None:
        self.xp, self.t, self.n = xp, t, a["plate"].shape[-1]
        whole, n = xp.zeros((len(a["plate"]), t.panels * self.n, t.panels * self.n)), self.n
        for (p, q), block in blocks(xp, a, t).items():
            whole[:, p * n : (p + 1) * n, q * n : (q + 1) * n] = block
            if p != q:
                whole[:, q * n : (q + 1) * n, p * n : (p + 1) * n] = block.mT
        self.lower = xp.cholesky(whole)
        self.root = xp.inverse(self.lower) if xp.name == "numpy" else None

    def solve(self, load: Any) -> Any:
        flat = load.reshape(load.shape[0], -1, load.shape[-1])
        if self.root is not None:
            found = self.root.mT @ (self.root @ flat)
        else:
            found = self.xp.backward(self.lower, self.xp.forward(self.lower, flat))
        return found.reshape(load.shape)

    def respond(self, pulls: dict[int, Any]) -> Any:
        """K^-1 of all draws [B, P, N', draws]."""
        load = self.xp.zeros((len(pulls[0]), self.t.panels, self.n, self.t.draws))
        for p, pull in pulls.items():
            load[:, p][..., self.t.columns[p]] = pull
        return self.solve(load)


WAYS: dict[str, Any] = {"blocks": Blocks, "dense": Dense}


def errors(xp: Any, a: Arrays, t: Tables, way: str) -> tuple[Any, Any, dict[str, Any]]:
    """Factors, motions to start the modes from, and mean squares [B] of the random and steady fields."""
    factors = WAYS[way](xp, a, t)
    batch, size = a["rows"].shape[0], a["rows"].shape[-1]
    # covariance of the panels' motions: X = K^-1 rows^T spring sigma
    pulls = (a["rows"] * (a["spring"] * a["sigma"])[:, :, None, :, None]).reshape(batch, -1, 6, size)
    moved = factors.respond({p: pulls[:, t.own_sides[p]].reshape(batch, -1, size).mT for p in range(t.panels)})
    spread = moved @ moved.mT
    count = [a[f"fit_{g}"].shape[-1] for g in GAUGES]
    load = xp.cat([a["steady"], *[a[f"fit_{g}"] for g in GAUGES], a["inertia"] @ a["fresh"]], 3)
    answer = factors.solve(load)
    steady = answer[..., :3].sum(-1)
    found: dict[str, Any] = {}
    place, weight = 3, (a["spring"] * a["sigma"]).reshape(batch, -1, 1)
    for g, columns, random, still in zip(GAUGES, count, FIGURES, ("steady_m2", "", "slope_steady_rad2"), strict=False):
        motion = answer[..., place : place + columns]
        strain = a["rows"][:, :, 0] @ motion[:, t.ends[:, 0]] + a["rows"][:, :, 1] @ motion[:, t.ends[:, 1]]
        drawn = strain.reshape(batch, -1, columns) * weight
        total = xp.sum(a[f"square_{g}"] * spread, (1, 2, 3))
        found[random] = xp.clip(total - _removed(xp, a, g, drawn.mT @ drawn), 0.0)
        if still:
            total = xp.sum(steady * (a[f"square_{g}"] @ steady[..., None])[..., 0], (1, 2))
            inner = (steady[..., None, :] @ a[f"fit_{g}"])[..., 0, :].sum(1)
            found[still] = xp.clip(total - _removed(xp, a, g, inner[:, :, None] * inner[:, None, :]), 0.0)
        place += columns
    return factors, answer[..., 3:], found


def _removed(xp: Any, a: Arrays, gauge: str, products: Any) -> Any:
    x = xp.solve(a[f"gram_{gauge}"], products)
    return sum(x[:, k, k] for k in range(x.shape[-1]))


def first_mode(xp: Any, a: Arrays, factors: Any, found: Any) -> Any:
    """Hz [B], by two rounds of subspace iteration."""
    values = None
    for _ in range(ROUNDS):
        load = a["inertia"] @ found
        moved = factors.solve(load)
        batch, columns = moved.shape[0], moved.shape[-1]
        flat = moved.reshape(batch, -1, columns)
        stiff = flat.mT @ load.reshape(batch, -1, columns)
        heavy = flat.mT @ (a["inertia"] @ moved).reshape(batch, -1, columns)
        values, turn = _ritz(xp, 0.5 * (stiff + stiff.mT), heavy)
        found = moved @ turn[:, None]
    assert values is not None
    return 1.0 / (2.0 * np.pi * xp.clip(values, 1e-300) ** 0.5)


def _ritz(xp: Any, stiff: Any, heavy: Any) -> tuple[Any, Any]:
    """Greatest value of heavy c = value stiff c, and vectors; dependent directions give 0."""
    n = stiff.shape[-1]
    size = xp.clip(stiff.reshape(len(stiff), -1)[:, :: n + 1], 1e-300) ** 0.5
    level, basis = xp.eigh(stiff / (size[:, :, None] * size[:, None, :]))
    weight = xp.where(level > 1e-11, xp.clip(level, 1e-11) ** -0.5, 0.0 * level)
    white = basis * weight[:, None, :] / size[:, :, None]
    values, turn = xp.eigh(white.mT @ heavy @ white)
    return values[:, -1], white @ turn


def figures(xp: Any, a: Arrays, t: Tables, way: str) -> dict[str, Any]:
    """All figures of a batch."""
    factors, start, found = errors(xp, a, t, way)
    return {**found, "first_mode_hz": first_mode(xp, a, factors, start)}


# ---- what is measured ----------------------------------------------------------------------------------------------


def batch_of(given: Arrays, count: int) -> Arrays:
    """`count` candidates: those of the file in turn; from the second turn on with other springs and misfits."""
    pick = np.arange(count) % DISTINCT
    rng = np.random.default_rng(7)
    by_row = [k for k in given if k in BY_ROW or k.startswith(("fit", "square", "gram"))]
    out = {k: np.ascontiguousarray(given[k][pick]) for k in by_row}
    change = 1.25 ** rng.uniform(-1.0, 1.0, (max(BATCHES), 2, 1, 1))
    change[:DISTINCT] = 1.0
    out["spring"], out["sigma"] = out["spring"] * change[:count, 0], out["sigma"] * change[:count, 1]
    out["fresh"] = given["fresh"][None]
    return out


def parts(a: Arrays, count: int, bytes_each: float, most: float) -> list[slice]:
    """Rows so many at a time that the working memory stays bounded, as the program does it."""
    size = max(1, min(count, int(most / bytes_each)))
    return [slice(k, min(k + size, count)) for k in range(0, count, size)]


def cut(a: Arrays, rows: slice) -> Arrays:
    return {k: v if k == "fresh" else v[rows] for k, v in a.items()}


def run(xp: Any, a: Arrays, t: Tables, way: str, spans: list[slice]) -> Arrays:
    done = [figures(xp, cut(a, s), t, way) for s in spans]
    return {k: xp.cat([d[k] for d in done], 0) for k in done[0]}


def timed(act: Callable[[], object], xp: Any, least: int, most_s: float) -> float:
    """Median seconds; at least `least` runs after one to warm up, at most most_s in all."""
    act()
    xp.wait()
    found: list[float] = []
    begun = time.perf_counter()
    while len(found) < least or (time.perf_counter() - begun < most_s and len(found) < 30):
        start = time.perf_counter()
        act()
        xp.wait()
        found.append(time.perf_counter() - start)
        if time.perf_counter() - begun > 4.0 * most_s:
            break
    return float(np.median(found))


def needed(a: Arrays, t: Tables, way: str) -> float:
    """Bytes of working memory a candidate: the responses to every draw, and for dense the matrix and its factor."""
    n = t.panels * a["plate"].shape[-1]
    return 8.0 * n * (4.0 * t.draws + (4.0 * n if way == "dense" else 8.0 * a["plate"].shape[-1]))


def apart(found: Arrays, wanted: Arrays) -> float:
    """Greatest relative difference of any figure in the rows that both have."""
    rows = min(len(next(iter(found.values()))), len(next(iter(wanted.values()))))
    return max(float(np.abs(found[k][:rows] / wanted[k][:rows] - 1.0).max()) for k in wanted)


def measure(xp: Any, given: Arrays, count: int, way: str, wanted: Arrays | None, cap: int) -> dict[str, Any]:
    """Seconds of a batch without and with transfers, and how far the figures are off. cap: rows actually run; the time
    of a larger batch, worked in parts anyway, is scaled from them."""
    rows = min(count, cap)
    host, tables = batch_of(given, rows), Tables(xp, given)
    spans = parts(host, rows, needed(host, tables, way), CHUNK_BYTES[xp.device])
    there = {k: xp.put(v) for k, v in host.items()}
    scale = count / rows
    alone = scale * timed(lambda: run(xp, there, tables, way, spans), xp, 3, 1.0)

    def whole() -> object:
        moved = {k: xp.put(v) for k, v in host.items()}
        return {k: xp.get(v) for k, v in run(xp, moved, tables, way, spans).items()}

    moving = scale * timed(whole, xp, 3, 1.0) if xp.device != "cpu" else alone
    found = {k: xp.get(v) for k, v in run(xp, there, tables, way, spans).items()}
    off = None if wanted is None else apart(found, wanted)
    size = sum(v.nbytes for v in host.values()) / rows
    return {"alone": alone, "moving": moving, "found": found, "off": off, "bytes": size}


def launches(xp: Any) -> float:
    """Seconds a small step takes at least: one addition of 24 x 7 x 18 numbers after another."""
    a = xp.put(np.ones((24, 7, 18)))

    def steps() -> object:
        b = a
        for _ in range(1000):
            b = b + a
        return b

    return timed(steps, xp, 5, 1.0) / 1000.0


def partly(xp: Any, given: Arrays, count: int, way: str) -> float:
    """Seconds of all but the modes."""
    rows = min(count, 64) if xp.device == "cpu" else count
    there, tables = {k: xp.put(v) for k, v in batch_of(given, rows).items()}, Tables(xp, given)
    return count / rows * timed(lambda: errors(xp, there, tables, way), xp, 3, 0.5)


def graphed(xp: Any, given: Arrays, count: int, way: str) -> float | str:
    """Seconds of all but the modes replayed as one CUDA graph: no launches to wait for. Or why that does not go."""
    try:
        torch, tables = xp.t, Tables(xp, given)
        there = {k: xp.put(v) for k, v in batch_of(given, count).items()}
        aside = torch.cuda.Stream()
        aside.wait_stream(torch.cuda.current_stream())
        with torch.cuda.stream(aside):
            for _ in range(3):
                errors(xp, there, tables, way)
        torch.cuda.current_stream().wait_stream(aside)
        torch.cuda.synchronize()
        graph = torch.cuda.CUDAGraph()
        with torch.cuda.graph(graph):
            errors(xp, there, tables, way)
        return timed(graph.replay, xp, 5, 1.0)
    except Exception as reason:
        return f"no graph: {str(reason).splitlines()[0][:90]}"


def report(file: str) -> None:
    """The tables."""
    with np.load(file) as kept:
        every = {k: kept[k] for k in kept.files}
    try:
        import torch

        torch.set_num_threads(2)
        spaces: list[Any] = [Torch("cpu")]
        told = f"torch {torch.__version__}"
        if torch.cuda.is_available():
            spaces.append(Torch("cuda"))
            told += f", {torch.cuda.get_device_name(0)}"
            print(f"a small step takes {1e6 * launches(spaces[-1]):.1f} us on the GPU,", end=" ")
            print(f"{1e6 * launches(Numpy()):.1f} us in numpy")
    except ImportError:
        spaces, told = [], "no torch"
    print(f"numpy {np.__version__}, {told}, Python {platform.python_version()}, {os.cpu_count()} cores, 2 threads used")
    print("ms a batch; ratio: the faster numpy way over the faster GPU way; off: greatest relative difference")
    print(
        "panels batch | numpy blocks dense | torch cpu blocks dense | gpu blocks dense | the same with transfers (MB)",
        end="",
    )
    print(" | ratio alone, with transfers | off: numpy from program, torch cpu and gpu from numpy")
    for panels in PANELS:
        given = {k.split("/", 1)[1]: v for k, v in every.items() if k.startswith(f"{panels}/")}
        wanted = {k: given[f"figure_{k}"] for k in FIGURES}
        for count in BATCHES:
            try:
                print(line(spaces, given, panels, count, wanted), flush=True)
            except RuntimeError as reason:
                print(f"{panels:3d} {count:5d} | failed: {str(reason).splitlines()[0]}", flush=True)
    for panels in PANELS if spaces[-1:] and spaces[-1].device == "cuda" else ():
        given = {k.split("/", 1)[1]: v for k, v in every.items() if k.startswith(f"{panels}/")}
        for count in BATCHES[:3]:
            told = [graphed(spaces[-1], given, count, w) for w in WAYS]
            plain = [partly(xp, given, count, "blocks") for xp in (Numpy(), spaces[-1])]
            texts = [f"{1e3 * g:.2f}" if isinstance(g, float) else g for g in (*plain, *told)]
            print(f"all but the modes, {panels} panels, {count}: numpy {texts[0]}, GPU {texts[1]}, as one", end=" ")
            print(f"graph: blocks {texts[2]}, dense {texts[3]} ms", flush=True)


def line(spaces: list[Any], given: Arrays, panels: int, count: int, wanted: Arrays) -> str:
    plain = Numpy()
    base = {w: measure(plain, given, count, w, None, 24 if w == "dense" else 64) for w in WAYS}
    off = [max(apart(b["found"], wanted) for b in base.values())]
    texts = [f"{panels:3d} {count:5d} | " + " ".join(f"{1e3 * base[w]['alone']:.2f}" for w in WAYS)]
    fast = min(b["alone"] for b in base.values())
    for xp in spaces:
        cap = 64 if xp.device == "cpu" else 4096
        found = {w: measure(xp, given, count, w, base["blocks"]["found"], cap) for w in WAYS}
        texts.append(" ".join(f"{1e3 * found[w]['alone']:.2f}" for w in WAYS))
        off.append(max(f["off"] for f in found.values()))
        if xp.device == "cpu":
            continue
        moving = [found[w]["moving"] for w in WAYS]
        texts.append(" ".join(f"{1e3 * m:.2f}" for m in moving) + f" ({count * found['blocks']['bytes'] / 1e6:.1f} MB)")
        texts.append(f"{fast / min(f['alone'] for f in found.values()):.1f}x {fast / min(moving):.1f}x")
    return " | ".join(texts) + " | " + " ".join(f"{o:.1e}" for o in off)


# ---- inputs, with the program's code -------------------------------------------------------------------------------


def make(file: str) -> None:
    """Assembles real networks, works out their figures, and measures what share of an evaluation the kernel is."""
    from threadpoolctl import threadpool_limits

    out: Arrays = {}
    with threadpool_limits(1):
        for panels in PANELS:
            for name, value in inputs(panels).items():
                out[f"{panels}/{name}"] = value
    np.savez_compressed(file, **out)
    print(f"{os.path.getsize(file) / 1e6:.1f} MB in {file}")


def inputs(panels: int) -> Arrays:
    """Arrays of DISTINCT candidates of so many panels."""
    from synth.cell import space
    from synth.evaluate import evaluate, lay_out, loads_of
    from synth.structure import network
    from synth.structure.accuracy import gauges
    from synth.structure.assembly import assemble
    from synth.structure.modes import scattered
    from synth.structure.monomials import MonomialPlates
    from tests.bench.test_evaluate import ORDER, ROOMY, cell, rows
    from tests.bench.timing import seconds

    chosen = cell(panels)
    columns = space(ROOMY, chosen).columns(rows(chosen, DISTINCT))
    design, loads = lay_out(ROOMY, chosen, columns)[0], loads_of(ROOMY)
    plates = MonomialPlates(design.geometry.cut, ORDER)
    found = assemble(design, plates, loads)
    assert not found.shared, "misfits that share a draw are not in this kernel"
    made = gauges(found.forms, design.topology.receiving, design.panels.thickness, loads.fitted)
    wiring, shape = found.wiring, found.rows.shape
    out: Arrays = {name: getattr(found, name) for name in BY_ROW}
    for g in GAUGES:
        gauge = getattr(made, g)
        out[f"square_{g}"], out[f"fit_{g}"], out[f"gram_{g}"] = gauge.square, gauge.fit, gauge.gram
    longest = max(len(q) for q in wiring.steps.later)
    out |= {
        "fresh": scattered(panels, shape[-1], EXTRA_STARTS),
        "units": np.array(shape[1]),
        **_tables(design.units.panels.tolist(), panels),
        "ends": wiring.panel.reshape(-1, 2),
        "order": np.array(wiring.steps.order),
        "later": np.array([[*q, *[-1] * (longest - len(q))] for q in wiring.steps.later], dtype=np.int64),
    }
    asked = network.deployed(design, loads, ORDER)
    out |= {f"figure_{k}": getattr(asked, k) for k in FIGURES}
    whole = seconds(lambda: evaluate(ROOMY, chosen, columns), 3)
    net = seconds(lambda: network.deployed(design, loads, ORDER), 3)
    tables = Tables(Numpy(), out)
    alone = seconds(lambda: figures(Numpy(), batch_of(out, DISTINCT), tables, "blocks"), 3)
    print(
        f"{panels} panels, {DISTINCT} candidates, one thread: evaluation {1e3 * whole:.0f} ms, of this the network",
        end="",
    )
    print(f" {1e3 * net:.0f} ms ({net / whole:.0%}), the kernel here {1e3 * alone:.0f} ms ({alone / whole:.0%})")
    return out


def _tables(ends: list[list[int]], panels: int) -> Arrays:
    """Sides 2 u + side of the units on each panel, and of the units that couple each pair of panels, padded with the
    side after the last, which stands for nothing."""
    last = 2 * len(ends)
    sides: list[list[int]] = [[] for _ in range(panels)]
    low: dict[tuple[int, int], list[int]] = {}
    for u, (i, j) in enumerate(ends):
        for side, p in enumerate((i, j)):
            if p >= 0:
                sides[p].append(2 * u + side)
        if i >= 0 and j >= 0:
            low.setdefault((min(i, j), max(i, j)), []).append(2 * u + (0 if i < j else 1))
    pairs = sorted(low)
    high = [[k ^ 1 for k in low[p]] for p in pairs]  # the other side of the same unit

    def padded(groups: list[list[int]]) -> Any:
        longest = max((len(g) for g in groups), default=0)
        return np.array([[*g, *[last] * (longest - len(g))] for g in groups], dtype=np.int64)

    return {
        "sides": padded(sides),
        "low": padded([low[p] for p in pairs]),
        "high": padded(high),
        "pairs": np.array(pairs, dtype=np.int64).reshape(-1, 2),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("file", help=".npz with the inputs")
    parser.add_argument("--make", action="store_true", help="write the file, with the program's code")
    options = parser.parse_args()
    if options.make:
        make(options.file)
    else:
        report(options.file)


if __name__ == "__main__":
    sys.exit(main())
