"""Whether outlines are the same shape: numbers that turning and shifting leave alone and turning over does not."""

import numpy as np

from synth.core.arrays import Column, Floats

WEIGHTS = np.sqrt(np.array([2.0, 3.0, 5.0, 7.0, 11.0, 13.0, 17.0, 19.0, 23.0]))
WEIGHTS = WEIGHTS / WEIGHTS.sum()
SAME = 1e-8
"""Keys nearer than this are one: a corner cut off by 0.04 mm, or a hand, can move a key by as little as 1e-7."""


def shape_key(outline: Floats) -> Floats:
    """A number [B, P] for each outline [B, P, V, 2]: equal for congruent ones of one candidate, mirror images apart.

    Moments of the boundary c_pq = int z^p conj(z)^q ds about its centroid, z = x + i y over the rms radius
    and ds over the length of the longest outline; for an edge m + h t, -1 <= t <= 1, they are polynomials of m and h
    (exact). Products in which the turn cancels, as c_31 conj c_20, whose imaginary parts change sign in a mirror
    (Flusser's construction, 2000, memory), are added with irrational weights, so that two shapes share a key only by
    accident. A hand that shows in no moment up to the fourth (rosettes of three or four arms) is not seen. Repeated
    corners add nothing, nor does a corner in the middle of an edge.
    """
    corner = outline[..., 0] + 1j * outline[..., 1]
    after = np.roll(corner, -1, axis=-1)
    m, h = 0.5 * (corner + after), 0.5 * (after - corner)
    share = 2.0 * np.abs(h)
    length = share.sum(axis=-1)
    around = np.maximum(length, 1e-12)
    m = m - ((share * m).sum(axis=-1) / around)[..., None]
    third = (h * np.conj(h)).real / 3.0
    square = (m * np.conj(m)).real
    radius = np.sqrt(np.maximum((share * (square + third)).sum(axis=-1) / around, 1e-24))
    size = radius.max(axis=-1, initial=1e-12)[:, None, None]
    m, h, third, square = m / size, h / size, third / size**2, square / size**2
    share = share / np.maximum(length.max(axis=-1, initial=1e-12), 1e-12)[:, None, None]
    m2, h2 = m * m, h * h / 3.0
    fields = (
        square + third,
        m2 + h2,
        m * (square + 2.0 * third) + np.conj(m) * h2,
        m * (m2 + 3.0 * h2),
        m2 * (square + 3.0 * third) + 3.0 * h2 * (square + 0.6 * third),
    )
    c11, c20, c21, c30, c31 = ((share * f).sum(axis=-1) for f in fields)
    hand, lean = c31 * np.conj(c20), c20 * np.conj(c21) ** 2
    numbers = (
        share.sum(axis=-1),
        c11.real,
        np.abs(c20),
        np.abs(c21),
        np.abs(c30),
        hand.real,
        hand.imag,
        lean.real,
        lean.imag,
    )
    key = sum(w * n for w, n in zip(WEIGHTS.tolist(), numbers, strict=True))
    return np.asarray(key, dtype=np.float64)


def distinct(outline: Floats) -> Column:
    """How many shapes [B] there are among outlines [B, P, V, 2]; a mirror image is another shape."""
    ordered = np.sort(shape_key(outline), axis=1)
    return np.asarray(1.0 + (np.diff(ordered, axis=1) > SAME).sum(axis=1))
