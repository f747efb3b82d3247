"""Degrees of freedom of panel-and-hinge structures: by numerical rank at a folded state, and by counting."""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Bools, Column, Floats, Ints
from synth.core.topology import Topology
from synth.fold.closure import closure

CUT = 1e-7
"""Singular values below this share of the largest count as zero. Closed states are good to 1e-12, lengths are
scaled to the structure, and a pitch of a thousandth of it still leaves singular values near 1e-3."""


@dataclass(frozen=True, eq=False)
class Mobility:
    """First-order mobility of B states.

    hinges, rows: columns and rows of the loop matrix. rank, freedoms, redundant [B]: freedoms = hinges - rank,
    redundant = rows - rank (over-constraint). margin [B]: smallest singular value kept over CUT times the largest
    one, or over the largest one dropped where that is greater: near 1 the count is doubtful.
    """

    hinges: int
    rows: int
    rank: Ints
    margin: Column

    @property
    def freedoms(self) -> Ints:
        return self.hinges - self.rank

    @property
    def redundant(self) -> Ints:
        return self.rows - self.rank


@dataclass(frozen=True, eq=False)
class StageMobility:
    """One stage: the hinges that its schedule turns, and the mobility with all other hinges locked."""

    stage: int
    moving: tuple[int, ...]
    mobility: Mobility


def mobility(
    topology: Topology, axis: Floats, angles: Floats, moving: Bools | None = None, spherical: bool = False
) -> Mobility:
    """Rank of the loop matrix at closed states: axis [B, H, 2, 3], angles [B, H]; hinges not `moving` [H] are locked.

    Relative SVD cut. Evaluate at a folded state: at exactly flat a zero-thickness vertex keeps rank 2 of 3 and the
    count is too high. A finite freedom is proven by following it, not by rank alone. Counts the panels' internal
    freedoms against the root, not the root itself. A tree has no rows and as many freedoms as moving hinges.
    """
    chosen = np.ones(axis.shape[1], dtype=bool) if moving is None else moving
    jacobian = closure(topology, axis, angles, spherical).jacobian[:, :, chosen]
    rows, hinges = jacobian.shape[1:]
    if rows == 0 or hinges == 0:
        return Mobility(hinges, rows, np.zeros(len(axis), dtype=np.int64), np.full(len(axis), 1.0 / CUT))
    values = np.linalg.svd(jacobian, compute_uv=False)
    floor = CUT * values[:, :1]
    rank = np.sum(values > floor, axis=-1)
    padded = np.concatenate([values, np.zeros((len(values), 1))], axis=-1)
    kept = np.take_along_axis(values, np.maximum(rank - 1, 0)[:, None], axis=-1)[:, 0]
    dropped = np.take_along_axis(padded, rank[:, None], axis=-1)[:, 0]
    margin = kept / np.maximum(np.maximum(dropped, floor[:, 0]), np.finfo(np.float64).tiny)
    return Mobility(hinges, rows, rank.astype(np.int64), margin)


def stage_mobility(topology: Topology, axis: Floats, angles: Floats, spherical: bool = False) -> list[StageMobility]:
    """Mobility stage by stage, stages in rising order; angles [B, K, H]: a state inside each of the K stages.

    The freedoms of a stage are the independent drives that it needs.
    """
    found = []
    for place, stage in enumerate(np.unique(topology.stage)):
        moving = topology.stage == stage
        found.append(
            StageMobility(
                stage=int(stage),
                moving=tuple(int(h) for h in np.flatnonzero(moving)),
                mobility=mobility(topology, axis, angles[:, place], moving, spherical),
            )
        )
    return found


def kutzbach(panels: int, hinges: int) -> int:
    """M = 6 (panels - 1) - 5 hinges; one loop of n: n - 6. Over-constrained linkages move where this is negative.

    Source: Kutzbach-Gruebler count (the case of four hinges seen).
    """
    return 6 * (panels - 1) - 5 * hinges


def sheet_count(boundary_edges: int, corners: tuple[int, ...], holes: int = 0) -> int:
    """Maxwell-type count of a folded zero-thickness sheet: E_b - 3 - sum (k - 3) - 3 holes, one k a panel.

    corners: corner counts k of all panels. Redundant constraints come on top (freedoms = count + redundant); the
    freedoms of a generic sheet are the count, or 0 where it is negative. Source: memory, ranks derived.
    """
    return boundary_edges - 3 - sum(k - 3 for k in corners) - 3 * holes


def quad_sheet_count(columns: int, rows: int) -> int:
    """2 (m + n) - 3 - m n: `sheet_count` of m x n quadrilaterals."""
    return sheet_count(2 * (columns + rows), (4,) * (columns * rows))


def miura_redundant(columns: int, rows: int) -> int:
    """(m - 2) (n - 2): redundant constraints of a zero-thickness Miura sheet, which leave it one freedom."""
    return (columns - 2) * (rows - 2)
