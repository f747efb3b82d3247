"""The kernel: a batch of deployed networks coupled, factorised, loaded, and their first modes."""

from typing import Any

import numpy as np

from .arrays import Arrays

ROUNDS, EXTRA_STARTS = 2, 5
GAUGES = ("surface", "in_plane", "slope")
FIGURES = ("joints_m2", "in_plane_joints_m2", "slope_joints_rad2", "steady_m2", "slope_steady_rad2", "first_mode_hz")
BY_ROW = ("plate", "inertia", "rows", "spring", "sigma", "steady")


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
