"""A front as people read it: rows of metrics by envelope and family."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from synth.core.arrays import Floats
from synth.fronts.indicators import dominance_share, hypervolume_share, knee, knee_depth, least


@dataclass(frozen=True)
class Row:
    """One candidate: a design in one envelope. metrics: name (with unit) to number, SI.

    feasible: verified, and every requirement met.
    """

    id: str
    envelope: str
    family: str
    verified: bool
    feasible: bool
    metrics: Mapping[str, float]


@dataclass(frozen=True)
class Summary:
    """knee: id of the row that lies deepest below the plane through the extremes, depth in [0, 1]; least: objective
    to the id of the row with its least value; families: rows by family; hypervolume: share of the envelope's box."""

    rows: int
    knee: str
    knee_depth: float
    least: dict[str, str]
    families: dict[str, int]
    hypervolume: float


@dataclass(frozen=True)
class Front:
    """Rows of all envelopes of a run, in the order of the file. columns: metric names in the order of the file."""

    columns: tuple[str, ...]
    rows: tuple[Row, ...] = field(default_factory=tuple)

    @property
    def envelopes(self) -> tuple[str, ...]:
        """Envelopes that have rows, in order of appearance."""
        return tuple(dict.fromkeys(r.envelope for r in self.rows))

    def of(self, envelope: str) -> "Front":
        """The rows of one envelope."""
        return Front(self.columns, tuple(r for r in self.rows if r.envelope == envelope))

    def find(self, id: str) -> Row | None:
        """The row of an id, or None."""
        return next((r for r in self.rows if r.id == id), None)

    def points(self, metrics: Sequence[str], signs: Sequence[float] | None = None) -> Floats:
        """[n, M] values of metrics; sign -1 turns a maximised one into a minimised one. Raises KeyError."""
        values = np.array([[r.metrics[m] for m in metrics] for r in self.rows], dtype=np.float64)
        return values.reshape(len(self.rows), len(metrics)) * (1.0 if signs is None else np.asarray(signs))

    def summary(
        self, metrics: Sequence[str], signs: Sequence[float], ideal: Floats, reference: Floats
    ) -> Summary | None:
        """What stands out on the front of one envelope (its feasible rows), or None where it has none."""
        good = Front(self.columns, tuple(r for r in self.rows if r.feasible))
        if not good.rows:
            return None
        points = good.points(metrics, signs)
        families: dict[str, int] = {}
        for r in good.rows:
            families[r.family] = families.get(r.family, 0) + 1
        return Summary(
            rows=len(good.rows),
            knee=good.rows[knee(points)].id,
            knee_depth=knee_depth(points),
            least={m: good.rows[int(k)].id for m, k in zip(metrics, least(points), strict=True)},
            families={k: families[k] for k in sorted(families)},
            hypervolume=hypervolume_share(points, ideal, reference),
        )


def dominated_share(front: Front, other: Front, metrics: Sequence[str], signs: Sequence[float]) -> float:
    """Share of the other front's feasible rows that some feasible row of this one dominates."""
    ours = Front(front.columns, tuple(r for r in front.rows if r.feasible)).points(metrics, signs)
    theirs = Front(other.columns, tuple(r for r in other.rows if r.feasible)).points(metrics, signs)
    return dominance_share(ours, theirs)


def slugs(names: Sequence[str]) -> tuple[str, ...]:
    """Envelope names as they may stand in a file name: letters, digits and underscores, all different."""
    plain = [re.sub(r"[^a-z0-9]+", "_", n.lower()).strip("_") or "envelope" for n in names]
    return tuple(p if plain.count(p) == 1 else f"{p}_{k}" for k, p in enumerate(plain))


def candidate_id(slug: str, design: str) -> str:
    """The id of a design in an envelope."""
    return f"{slug}-{design}"
