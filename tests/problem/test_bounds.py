"""Bounds that hold whatever the way of folding, and the box that the search's objectives are told in."""

import math

import numpy as np

from synth.problem.bounds import bounds, objective_box
from synth.problem.envelope import Envelope
from tests.near import near
from tests.problem.sample import FULL, full, read

ALUMINIUM = {
    "panel_materials": ["al_6061_t6"],
    "variables": {"build.thickness": ["4 mm", "12 mm"], "build.section": "solid"},
}


def test_the_numbers_by_hand() -> None:
    p = read(full(choices=ALUMINIUM))
    b = bounds(p, p.envelope[0])
    near(b.clear_area, math.pi / 4 * 0.85**2, rel=1e-12)
    near(b.least_volume, 0.42 * 0.004, rel=1e-12)
    near(b.least_mass, 0.42 * 0.004 * 2700.0 * 1.25, rel=1e-12, why="solid aluminium sheet and its growth")
    near(b.largest_panel, math.hypot(0.614 * 0.454, 0.454 * 0.294, 0.294 * 0.614), rel=1e-12)
    assert b.least_panels == 2 and b.reasons == ()


def test_lightest_sandwich() -> None:
    p = read(full(choices={**ALUMINIUM, "variables": {"build.section": "sandwich", "build.face_share": [0.05, 0.1]}}))
    # the thinnest that can be built: faces of 0.2 mm (5.9 % of 3.4 mm, within the pin), 3 mm of core, two bondlines
    wanted = (0.4e-3 * 2700.0 + 3.0e-3 * p.core.density + 2 * 0.15) * 0.42 * 1.25
    near(bounds(p, p.envelope[0]).least_mass, wanted, rel=1e-12, why="same formula by hand")


def test_no_plane_section_of_a_box_beats_the_largest_panel() -> None:
    """Polygons cut from a box by random planes: the bound holds for each, and is not idle (the box's own faces)."""
    rng = np.random.default_rng(5)
    sides = np.array([0.3, 0.2, 0.1])
    p = read({**FULL, "envelope": [{"name": "e", "size": sides.tolist()}]})
    largest = bounds(p, p.envelope[0]).largest_panel
    best = max(_section_area(sides, rng.normal(size=3), rng.uniform(-0.1, 0.1)) for _ in range(3000))
    assert 0.85 * largest < best <= largest


def _section_area(sides: np.ndarray, normal: np.ndarray, shift: float) -> float:
    """Area of the cut of a centred box by the plane n x = shift, from the hull of its edge crossings."""
    n = normal / np.linalg.norm(normal)
    corners = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) * sides / 2
    points = []
    for i in range(8):
        for j in range(i + 1, 8):
            if np.count_nonzero(corners[i] != corners[j]) == 1:
                a, b = corners[i] @ n - shift, corners[j] @ n - shift
                if a * b < 0:
                    points.append(corners[i] + (corners[j] - corners[i]) * a / (a - b))
    if len(points) < 3:
        return 0.0
    u = np.linalg.svd(n[None, :])[2][1:]
    flat = np.array(points) @ u.T
    middle = flat - flat.mean(axis=0)
    ring = flat[np.argsort(np.arctan2(middle[:, 1], middle[:, 0]))]
    x, y = ring.T
    return 0.5 * abs(float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))))


def test_a_round_room_takes_no_larger_panel_than_its_sections() -> None:
    p = read(FULL)
    can = p.envelope[1]
    near(bounds(p, can).largest_panel, math.hypot(math.pi / 4 * 0.25, 0.2, 0.2), rel=1e-12)


def test_the_longest_blank_limits_a_panel() -> None:
    p = read(full(aperture={"max_panel_length": "300 mm"}))
    b = bounds(p, p.envelope[0])
    near(b.largest_panel, 0.09, rel=1e-12)
    assert b.least_panels == 5


def why(**changes: dict[str, object]) -> str:
    p = read(full(**changes))
    assert objective_box(p, p.envelope[0]) is None
    return "\n".join(bounds(p, p.envelope[0]).reasons)


def test_impossible_problems_say_why() -> None:
    assert "exceeds the clear circle's 0.5675 m^2" in why(aperture={"min_collecting_area": "0.6 m^2"})
    assert "mass.limit is 500 g" in why(mass={"limit": "500 g"}, choices=ALUMINIUM)
    assert "takes 5 panels, and choices.max_panels is 3" in why(
        aperture={"max_panel_length": 0.3}, choices={"max_panels": 3}
    )
    small = Envelope.model_validate({"name": "s", "size": [0.1, 0.1, 0.1]})
    p = read(full(choices=ALUMINIUM))
    assert any("the envelope leaves 1 l" in reason for reason in bounds(p, small).reasons)


def test_the_box_is_fixed_by_limits_and_bounds() -> None:
    names = ["stowed_volume", "mass", "surface_rms", "collecting_area", "first_mode"]
    p = read(full(search={"objectives": names}, choices=ALUMINIUM))
    box = objective_box(p, p.envelope[0])
    assert box is not None
    near(box[0], [0.00168, 5.67, 0.0, -0.5674501730546563, -10.0], rel=1e-9)
    near(box[1], [0.614 * 0.454 * 0.294, 14.0, 5e-6, -0.42, -1.0], rel=1e-9)


def test_every_objective_has_a_box_of_some_size() -> None:
    for names in (["longest_stowed_side", "in_plane_rms", "blur"], ["part_count", "distinct_parts", "first_mode"]):
        p = read(full(search={"objectives": names}))
        for envelope in p.envelope:
            box = objective_box(p, envelope)
            assert box is not None and all(low < high for low, high in zip(*box, strict=True))
