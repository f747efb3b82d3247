"""How one candidate moves from stowed to deployed: frames, and the law between them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Floats, Ints, compose, invert, unit
from synth.core.topology import Topology


@dataclass(frozen=True, eq=False)
class StageSpan:
    """hinges that move while s goes from `start` to `end`."""

    hinges: tuple[int, ...]
    start: float
    end: float


@dataclass(frozen=True, eq=False)
class Motion:
    """Frames of one candidate, and what happens between two of them.

    s [N] rising from 0 (stowed) to 1 (deployed); angles [N, H] rad; poses [N, P, 3, 4] m, each panel's deployed
    coordinates told in the frame (the root never moves); stages in rising order.
    knots [K + 1]: frames between which the law holds through: of hinges, each tree hinge turns linearly in s about
    its own line (`slack` False); of panels whose hinges have slack, each panel goes along the screw that takes it
    from knot to knot as seen from the panel that it hangs on (`slack` True). For a true hinge both say the same.
    between: m, how much more than at the frames hinge lines part, and how much nearer than the law says two solids
    may come, anywhere between; 0 where the law is the motion itself.
    """

    s: Floats
    angles: Floats
    poses: Floats
    stages: Sequence[StageSpan]
    knots: Ints
    slack: bool
    between: float


def relative_poses(topology: Topology, poses: Floats) -> Floats:
    """Pose [..., H, 3, 4] of panel j told in the coordinates of panel i, for each hinge; poses [..., P, 3, 4]."""
    first, second = topology.hinges.T
    return compose(invert(poses[..., first, :, :]), poses[..., second, :, :])


def turns_about(axis: Floats, relative: Floats) -> Floats:
    """Turns (rad, in (-pi, pi]) about hinge lines that come nearest to relative rotations, in least squares.

    axis [H, 2, 3], relative [..., H, 3, 4]. trace(T(a)^T R) = w.Rw + cos(a) (trace R - w.Rw) + sin(a) w.vee(R) for a
    turn T(a) about w, greatest at tan(a) = w.vee(R) / (trace R - w.Rw), vee(R) the vector of R - R^T (elementary).
    Exact where R is a turn about the line.
    """
    w = np.broadcast_to(unit(axis[..., 1, :] - axis[..., 0, :]), relative.shape[:-1])
    r = relative[..., :3]
    vee = np.stack([r[..., 2, 1] - r[..., 1, 2], r[..., 0, 2] - r[..., 2, 0], r[..., 1, 0] - r[..., 0, 1]], axis=-1)
    sine = np.einsum("...i,...i->...", w, vee)
    cosine = np.trace(r, axis1=-2, axis2=-1) - np.einsum("...i,...ij,...j->...", w, r, w)
    return np.asarray(np.arctan2(sine, cosine))


def followed(turns: Floats, towards: Floats) -> Floats:
    """Turns [N, H] made continuous from the last row, which is near zero, back to the first.

    Whole turns are added so that no step exceeds half a turn; a first row that is half a turn takes the sign of
    `towards` [H], the stowed angles.
    """
    out = np.unwrap(turns[::-1], axis=0)[::-1]
    flip = np.abs(out[0] - towards - 2.0 * np.pi * np.round((out[0] - towards) / (2.0 * np.pi))) < 1e-6
    out[0] = np.where(flip, towards, out[0])
    return out
