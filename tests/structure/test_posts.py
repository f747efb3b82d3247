"""Stand-off posts in series with their hinge unit, against beam theory written out by hand."""

from dataclasses import replace

import numpy as np

from synth.core.fittings import Fittings
from synth.structure.posts import MODULUS, POISSON, on_posts
from tests.near import near
from tests.structure.make import ALONG_X, design, rectangle, unit

WIDE, DEEP, THICK = 0.024, 0.003, 0.01
HINGE = np.array([1e7, 2e7, 3e7, 400.0, 5e3, 6e3])


def posted(height: float) -> tuple[np.ndarray, np.ndarray]:
    """Stiffness of a hinge unit `height` above the faces, as given and on its posts."""
    line = np.array([0.3, 0.1, height])
    units = [unit(line, ALONG_X, 0, 1, 0, 0, 0.015), unit(np.array([0.15, 0.1, -THICK]), np.eye(3), 0, -1, 0, 2, 0.0)]
    one = design([rectangle(0, 0, 0.299, 0.2), rectangle(0.301, 0, 0.6, 0.2)], [-1, 0], units, thickness=THICK)
    boxes = []
    for x in (0.3 - DEEP, 0.3):
        boxes += [rectangle(x, 0.1 - WIDE / 2, x + DEEP, 0.1 + WIDE / 2)] * 2
    # a low foot and a tall post on each panel: the tall one carries the axis
    tops = np.array([[0.0, height + 0.002, 0.0, height + 0.002]])
    panel, hinge, none = np.array([0, 0, 1, 1]), np.zeros(4, dtype=np.int64), np.full(4, -1)
    fittings = Fittings(panel, hinge, none, np.array([boxes]), np.full((1, 4), -THICK), tops, np.full((1, 4), 0.01))
    given = replace(one.units, stiffness=np.stack([HINGE, HINGE])[None])
    made = on_posts(given, fittings, one.panels.thickness)
    assert np.array_equal(made.stiffness[0, 1], HINGE)  # the mount stays as it is
    return given.stiffness[0, 0], made.stiffness[0, 0]


def test_a_tall_post_gives_as_a_cantilever() -> None:
    """End deflection F L^3 / 3 E I and end slope M L / E I of a clamped beam (elementary), twice in series."""
    tall = 0.040
    given, made = posted(tall)
    give = 1.0 / made - 1.0 / given
    shear = MODULUS / (2.0 * (1.0 + POISSON))
    soft, stiff = WIDE * DEEP**3 / 12.0, DEEP * WIDE**3 / 12.0
    sheared = tall / (5.0 / 6.0 * shear * WIDE * DEEP)
    near(give[1], 2.0 * (tall**3 / (3.0 * MODULUS * soft) + sheared), rel=1e-9)
    near(give[0], 2.0 * (tall**3 / (3.0 * MODULUS * stiff) + sheared), rel=1e-9)
    near(give[2], 2.0 * tall / (MODULUS * WIDE * DEEP), rel=1e-9)
    near(give[3], 2.0 * tall / (MODULUS * soft), rel=1e-9)
    near(give[4], 2.0 * tall / (MODULUS * stiff), rel=1e-9)
    # c2 of a rectangle 8 to 1: Saint-Venant's series, (1 - 0.630 / 8) / 3 = 0.30708 (Timoshenko's short form)
    near(give[5], 2.0 * tall / (shear * 0.30708 * WIDE * DEEP**3), rel=2e-3)


def test_a_force_in_plane_finds_a_post_at_most_four_times_too_soft() -> None:
    """Exact beams: a force F at the faces bends each post by F L^3 / 3 E I about its end, without turning the hinge."""
    tall = 0.040
    given, made = posted(tall)
    soft = WIDE * DEEP**3 / 12.0
    exact = 2.0 * tall**3 / (3.0 * MODULUS * soft) + tall**2 / given[3] + 1.0 / given[1]
    told = 1.0 / made[1] + tall**2 / made[3]
    assert exact < told < 4.05 * exact


def test_an_axis_between_the_faces_has_no_post() -> None:
    given, made = posted(-0.005)
    assert np.array_equal(given, made)


def test_posts_make_the_aperture_softer_by_what_they_give() -> None:
    """Half the height leaves twice the turning stiffness of the posts."""
    low, high = (posted(h) for h in (0.02, 0.04))
    near((1 / high[1][3] - 1 / high[0][3]) / (1 / low[1][3] - 1 / low[0][3]), 2.0, rel=1e-9)
