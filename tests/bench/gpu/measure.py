"""Times of the kernel by namespace, way and size of batch, printed."""

import os
import platform
import time
from collections.abc import Callable
from typing import Any

import numpy as np

from .arrays import Arrays, Numpy, Torch
from .kernel import BY_ROW, FIGURES, WAYS, Tables, errors, figures

PANELS = (7, 19, 37)
DISTINCT = 24
BATCHES = (4, 24, 256, 4096)
CHUNK_BYTES = {"cpu": 48e6, "cuda": 24e9}


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
