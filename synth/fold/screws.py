"""Panels that go along screws between knots: the motion of structures whose hinges have slack.

A knot gives every panel a pose. Between two knots the pose of each panel, seen from the
panel that it hangs on, goes along the one screw that joins them, at a constant rate: the
shortest motion that treats no point as special (Chasles). Of a true hinge it is the turn
about its line. Every point keeps its speed against the parent along the way, which bounds
the acceleration (see stage), so the clearance proof holds for these motions as for trees.
"""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Floats, Ints, compose, identity_poses, transform, unit
from synth.core.motion import relative_poses
from synth.core.topology import Topology
from synth.fold.course import Course, Station
from synth.fold.stage import parts_of

NO_SLIDE = 1e-12
"""m: reference points that move less than this against a leaf over a whole stage rest (rounding of poses)."""


def screw_between(first: Floats, second: Floats) -> tuple[Floats, Floats]:
    """Turn vector w and velocity v at the origin [..., 3] with exp(w, v) first = second, poses [..., 3, 4].

    R = R2 R1^T has the turn vector w, |w| < pi; p2 - R p1 = V v with V^-1 = 1 - K/2 + c K^2, K = [w x],
    c = 1/a^2 - (1 + cos a) / (2 a sin a), 1/12 + a^2/720 where a = |w| is small (logarithm of SE(3)).
    """
    rotation = second[..., :3] @ np.swapaxes(first[..., :3], -1, -2)
    shift = second[..., 3] - np.einsum("...ij,...j->...i", rotation, first[..., 3])
    vee = 0.5 * np.stack([rotation[..., j, k] - rotation[..., k, j] for j, k in ((2, 1), (0, 2), (1, 0))], axis=-1)
    sine = np.linalg.norm(vee, axis=-1)
    a = np.arctan2(sine, 0.5 * (np.trace(rotation, axis1=-2, axis2=-1) - 1.0))
    w = vee * np.where(sine > 0.0, a / np.where(sine > 0.0, sine, 1.0), 1.0)[..., None]
    small = a < 1e-3
    safe = np.where(small, 1.0, a)
    c = np.where(small, 1.0 / 12.0 + a**2 / 720.0, 1.0 / safe**2 - (1.0 + np.cos(safe)) / (2.0 * safe * np.sin(safe)))
    k1 = np.cross(w, shift)
    return w, shift - 0.5 * k1 + c[..., None] * np.cross(w, k1)


def along_screw(w: Floats, v: Floats) -> Floats:
    """exp(w, v) [..., 3, 4]: R = 1 + s K + c K^2, shift = (1 + c K + d K^2) v, s = sin a / a, c = (1 - cos a) / a^2,
    d = (a - sin a) / a^3 (exponential of SE(3)); series where a = |w| is small."""
    a = np.linalg.norm(w, axis=-1)
    small = a < 1e-3
    safe = np.where(small, 1.0, a)
    s = np.where(small, 1.0 - a**2 / 6.0, np.sin(safe) / safe)
    c = np.where(small, 0.5 - a**2 / 24.0, (1.0 - np.cos(safe)) / safe**2)
    d = np.where(small, 1.0 / 6.0 - a**2 / 120.0, (safe - np.sin(safe)) / safe**3)
    x, y, z = w[..., 0], w[..., 1], w[..., 2]
    o = np.zeros_like(x)
    k = np.stack([np.stack([o, -z, y], -1), np.stack([z, o, -x], -1), np.stack([-y, x, o], -1)], axis=-2)
    kk = k @ k
    rotation = np.eye(3) + s[..., None, None] * k + c[..., None, None] * kk
    shift = v + np.einsum("...ij,...j->...i", c[..., None, None] * k + d[..., None, None] * kk, v)
    return np.concatenate([rotation, shift[..., None]], axis=-1)


@dataclass(frozen=True, eq=False)
class ScrewCourse(Course):
    """A course through poses: joints [K + 1, H, 3, 4], child told in its parent at the knots; spin, drift [K, H, 3]:
    twist at the parent's origin per unit of s. axis, angles: of the tree hinges, for reference points; rates [K, H]:
    turn rates."""

    joints: Floats
    spin: Floats
    drift: Floats

    @property
    def hinged(self) -> bool:
        return False

    @staticmethod
    def through(topology: Topology, axis: Floats, s: Floats, poses: Floats) -> "ScrewCourse":
        """axis [H, 2, 3] deployed; s [K + 1] rising from 0 to 1; poses [K + 1, P, 3, 4] there."""
        tree = topology.panels - 1
        joints = relative_poses(topology, poses)[:, :tree]
        step = np.diff(s)[:, None, None]
        w, v = screw_between(joints[:-1], joints[1:])
        spin, drift = w / step, v / step
        # the middle of each hinge line, as its second panel carries it at the start of a stage
        middle = transform(joints[:-1], axis[None, :tree].mean(axis=-2, keepdims=True))[..., 0, :]
        slide = np.linalg.norm(drift + np.cross(spin, middle), axis=-1)
        rates = np.linalg.norm(spin, axis=-1)
        rates = np.where(rates * step[..., 0] > NO_SLIDE, rates, 0.0)
        slide = np.where(slide * step[..., 0] > NO_SLIDE, slide, 0.0)
        way = np.where(rates[..., None] > 0.0, unit(spin), np.array([1.0, 0.0, 0.0]))
        lines = np.stack([middle, middle + way], axis=-2) - 0.5 * way[..., None, :]
        parts, tables = parts_of(topology, lines, rates, poses[:-1], slide, np.diff(s))
        angles = np.zeros((len(s), tree))
        return ScrewCourse(
            topology, s, angles, axis[:tree], rates, parts, **vars(tables), joints=joints, spin=spin, drift=drift
        )

    def placed(self, s: Floats) -> Floats:
        """Poses [S, P, 3, 4] at s [S]."""
        k = np.clip(np.searchsorted(self.bounds, s, side="right") - 1, 0, self.stages - 1)
        since = (s - self.bounds[k])[:, None, None]
        joints = compose(along_screw(self.spin[k] * since, self.drift[k] * since), self.joints[k])
        out = identity_poses(len(s), self.topology.panels)
        for panel in range(1, self.topology.panels):
            out[:, panel] = compose(out[:, int(self.topology.parent[panel])], joints[:, panel - 1])
        return out

    def at(self, s: Floats, stage: Ints) -> Station:
        """Stations s [S], each inside its stage [S]; a line goes through the middle of each hinge line, as its second
        panel carries it, along the screw."""
        placed = self.placed(s)
        count = self.topology.panels
        turn, shift = np.zeros((len(s), count, 3)), np.zeros((len(s), count, 3))
        point, way = np.zeros((len(s), max(count - 1, 1), 3)), np.zeros((len(s), max(count - 1, 1), 3))
        for panel in range(1, count):
            parent = int(self.topology.parent[panel])
            held = placed[:, parent]
            w = np.einsum("sij,sj->si", held[..., :3], self.spin[stage, panel - 1])
            v = np.einsum("sij,sj->si", held[..., :3], self.drift[stage, panel - 1])
            turn[:, panel] = turn[:, parent] + w
            shift[:, panel] = shift[:, parent] + v + np.cross(held[..., 3], w)
            middle = self.axis[panel - 1].mean(axis=0)
            point[:, panel - 1] = placed[:, panel, :, :3] @ middle + placed[:, panel, :, 3]
            way[:, panel - 1] = unit(w)
        return Station(placed, turn, shift, point, way)
