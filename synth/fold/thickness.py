"""Rules of thick panels: axis heights, stack levels and hinge steps that keep the zero-thickness motion.

Panels with coplanar mid-planes when deployed; a hinge axis stands at height h above
them. Heights and levels in metres (or any one length). Source of all: derived in the
reference notes, checked there by 4 x 4 loop products and screw rank.
"""

from typing import Literal

import numpy as np

from synth.core.arrays import Floats, Ints
from synth.fold.vertex import Mode

StackOrder = Literal["columns", "rows"]


def hinge_shift(height: Floats | float, fold: Floats | float) -> Floats:
    """Shift [..., 2] (across the hinge, along the parent's normal) of a panel against the zero-thickness motion.

    x_c = x_p + h (n_p - n_c): with the fold angle f, (h sin f, h (1 - cos f)), the fold lifting the child.
    """
    return np.stack(np.broadcast_arrays(height * np.sin(fold), height * (1.0 - np.cos(fold))), axis=-1)


def half_turn(height: Floats | float, z: Floats | float) -> Floats:
    """z -> 2 h - z: heights after a half turn about an axis at height h."""
    return np.asarray(2.0 * height - z)


def axis_height(parent_level: Floats | float, child_level: Floats | float, parent_turned: Ints) -> Floats:
    """h = s_p (Z_c - Z_p) / 2 above the common mid-plane; s_p = +1 where the parent is face up, -1 turned over."""
    return np.asarray(parent_turned * (child_level - parent_level) / 2.0)


def stand_off(skipped: Floats | float, thickness: Floats | float, gap: Floats | float) -> Floats:
    """Height of an axis above the face where k panels lie between the two of a half-turn hinge: (k (t + g) + g) / 2."""
    return np.asarray((skipped * (thickness + gap) + gap) / 2.0)


def taper_inset(thickness: Floats | float, fold: Floats | float) -> Floats:
    """Inset of the closing face of tapered panels hinged in their mid-plane: (t/2) tan(f/2). Valid for 0 <= f < pi."""
    return np.asarray(0.5 * thickness * np.tan(0.5 * fold))


def offset_heights(levels: Floats) -> Floats:
    """Deployed heights e_i = (-1)^i Z_i [n] of offset panels over the joint plane, from their stack levels Z [n].

    Not coplanar unless all levels are equal in size: the technique leaves steps in a receiving face.
    """
    return np.asarray((-1.0) ** np.arange(len(levels)) * levels)


def loop_opening(heights: Floats, normals: Floats) -> Floats:
    """What a thick vertex leaves open [..., 3]: sum_k (h_(k+1) - h_k) n_k, a length.

    heights [..., n] of the axes (crease k and k + 1 bound panel k), normals [..., n, 3] of the panels when folded.
    The thick loop follows the zero-thickness motion if and only if this vanishes at every fold state.
    """
    steps = np.roll(heights, -1, axis=-1) - heights
    return np.asarray((steps[..., None] * normals).sum(axis=-2))


def bennett_steps(sectors: Floats, mode: Mode) -> Floats:
    """Hinge height steps d_i = h_(i+1) - h_i [..., 4] across the sectors that keep a flat-foldable degree-4 motion.

    d = (1, s r, -1, -s r), r = sin A2 / sin A1, s = -1 in mode b, +1 in mode a: a Bennett linkage. Any multiple does.
    """
    ratio = (1.0 if mode == "a" else -1.0) * np.sin(sectors[..., 1]) / np.sin(sectors[..., 0])
    one = np.ones_like(ratio)
    return np.stack([one, ratio, -one, -ratio], axis=-1)


def myard_steps(corner: Floats | float, sign: Literal[1, -1]) -> Floats:
    """Hinge height steps [..., 5] of the symmetric five-crease vertex: d1 = -s d2 sin A, d3 = 0, mirrored with
    opposite sign (d2 = 1): a Myard linkage."""
    first = -sign * np.sin(corner)
    one, zero = np.ones_like(first), np.zeros_like(first)
    return np.stack([first, one, zero, -one, -first], axis=-1)


def fourth_level(sectors: Floats, mode: Mode, levels: Floats) -> Floats:
    """Stack level Z4 [...] of a thick flat-foldable degree-4 vertex from Z1, Z2, Z3 [..., 3] (mid-planes).

    (Z2 - Z4) / (Z1 - Z3) = s sin A1 / sin A2, s = -1 in mode b, +1 in mode a. Equal sines allow a uniform pitch.
    """
    s = 1.0 if mode == "a" else -1.0
    ratio = s * np.sin(sectors[..., 0]) / np.sin(sectors[..., 1])
    return np.asarray(levels[..., 1] - ratio * (levels[..., 0] - levels[..., 2]))


def miura_levels(columns: int, rows: int, order: StackOrder) -> Ints:
    """Stack levels [columns, rows] of a thick Miura sheet in units of the pitch.

    "columns": Z = i rows + (j, or rows - 1 - j in every other column): moves exactly as the zero-thickness sheet.
    Whether columns start upwards or downwards does not change the loops; it decides the face on which the zigzag axes
    stand, which must be the one that they fold to (it depends on which way the zigzags point).
    "rows": Z = j columns + (i, or columns - 1 - i in every other row): a valid stack whose loops do not close on the
    way. A column is a strip joined by zigzag creases.
    """
    i, j = np.meshgrid(np.arange(columns), np.arange(rows), indexing="ij")
    if order == "columns":
        return np.asarray(i * rows + np.where(i % 2 == 0, j, rows - 1 - j), dtype=np.int64)
    return np.asarray(j * columns + np.where(j % 2 == 0, i, columns - 1 - i), dtype=np.int64)


def miura_opening(levels: Ints, corner: float, tilt: float) -> float:
    """Largest loop opening over the inner vertices of a thick Miura sheet, in units of the pitch.

    levels [columns, rows]; corner angle and facet tilt in radians. Zero for orders that move.
    """
    lean = np.cos(tilt) * np.tan(corner)
    along = np.array([lean, 1.0, 0.0]) / np.sqrt(1.0 + lean**2)  # zigzag crease of an even column, unit
    up = np.array([0.0, np.sqrt(1.0 - (np.sin(tilt) * np.sin(corner)) ** 2), np.sin(tilt) * np.sin(corner)])
    worst = 0.0
    for i in range(1, levels.shape[0]):
        for j in range(1, levels.shape[1]):
            ring = [(i, j), (i - 1, j), (i - 1, j - 1), (i, j - 1)]
            normals = np.array([_miura_normal(p, along, up) for p in ring])
            pairs = zip([ring[-1], *ring[:-1]], ring, strict=True)  # crease k lies between panel k - 1 and panel k
            heights = [axis_height(levels[p], levels[q], (-1) ** (p[0] + p[1])) for p, q in pairs]
            worst = max(worst, float(np.linalg.norm(loop_opening(np.array(heights, dtype=np.float64), normals))))
    return worst


def _miura_normal(panel: tuple[int, int], along: Floats, up: Floats) -> Floats:
    """Unit normal of panel (i, j) of a folded Miura sheet."""
    mirrored = np.array([1.0, -1.0 if panel[0] % 2 else 1.0, 1.0])
    raised = np.array([1.0, 1.0, -1.0 if panel[1] % 2 else 1.0])
    normal = np.cross(along * mirrored, up * raised)
    return np.asarray(normal / np.linalg.norm(normal))
