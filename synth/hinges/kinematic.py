"""Six-way stiffness and misfit of a body that rests on single contacts or struts."""

import numpy as np

from synth.core.arrays import Floats
from synth.hinges.kind import Six


def six_ways(points: Floats, directions: Floats, stiffness: float, error: float) -> tuple[Six, Six]:
    """What N springs of one stiffness, each along one line, make of a joint: stiffness and misfit about the origin.

    points [N, 3] m, directions [N, 3] (normalised here), stiffness N/m of each, error: standard
    deviation (m) of each spring's free length, independent. With w = (d, p x d) a spring's
    wrench and K = sum k w w^T, a component's stiffness is 1 / (K^-1)_ii (its own give with
    the other five free) and its misfit is error sqrt(k (K^-1)_ii), from x = K^-1 sum k w e.
    ValueError where the springs leave a motion free. Source: linear statics (derived).
    """
    d = directions / np.linalg.norm(directions, axis=-1, keepdims=True)
    wrench = np.concatenate([d, np.cross(points, d)], axis=-1)
    reach = float(np.max(np.linalg.norm(points, axis=-1)))
    scale = np.array([1.0, 1.0, 1.0, reach, reach, reach])
    if np.linalg.matrix_rank(wrench / scale, tol=1e-9) < 6:
        raise ValueError("the contacts leave a motion free")
    give = np.diag(np.linalg.inv(stiffness * wrench.T @ wrench))
    return _six(1.0 / give), _six(error * np.sqrt(stiffness * give))


def three_vees(span: float, height: float) -> tuple[Floats, Floats]:
    """Contact points and normals [6, 3] of three balls in vee grooves, axes (along the edge, across it, z).

    The balls sit in the plane of the edge's face: two at -/+ span/2 along the edge, height/3
    below the joint's centre, one 2/3 height above it. Each groove points at the centre; its
    flanks stand at 45 degrees to the across direction, in which the seat closes.
    """
    balls = np.array([[-span / 2, 0.0, -height / 3], [span / 2, 0.0, -height / 3], [0.0, 0.0, 2 * height / 3]])
    groove = balls / np.linalg.norm(balls, axis=-1, keepdims=True)
    sideways = np.cross(groove, [0.0, 1.0, 0.0])
    across = np.array([0.0, 1.0, 0.0])
    normals = np.concatenate([across + sideways, across - sideways]) / np.sqrt(2.0)
    return np.concatenate([balls, balls]), normals


def three_bipods(radius: float, height: float, half_angle: float) -> tuple[Floats, Floats]:
    """Upper ends and directions [6, 3] of the six struts of three bipods on a ring, 120 degrees apart.

    The struts of a bipod meet at the ring and lean half_angle to either side of the
    vertical, in the plane tangent to the ring. height only fixes how far below the struts end.
    """
    turn = np.deg2rad([0.0, 120.0, 240.0])
    top = radius * np.stack([np.cos(turn), np.sin(turn), np.zeros(3)], axis=-1)
    tangent = np.stack([-np.sin(turn), np.cos(turn), np.zeros(3)], axis=-1)
    lean = np.tan(half_angle) * height * tangent
    down = np.array([0.0, 0.0, -height])
    return np.concatenate([top, top]), np.concatenate([down + lean, down - lean])


def _six(values: Floats) -> Six:
    a, b, c, d, e, f = (float(v) for v in values)
    return a, b, c, d, e, f
