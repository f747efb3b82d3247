"""Keep-out boxes in pictures: cut to what is shown, where the problem has them, named, hidden by what is nearer."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from pypdf import PdfReader

from synth.export.deployed_plan import deployed_plan
from synth.export.keep_out import TONE, near, solid, within
from synth.export.motion_steps import motion_steps
from synth.export.review import write_review
from synth.export.shaded import TOP, bodies, ordered, view_from
from synth.export.sheet import drawing
from synth.export.stowed_views import stowed_views
from synth.problem.envelope import Envelope
from synth.problem.sections import KeepOut
from tests import near as compare
from tests.recheck.accordion import accordion

BUS = KeepOut.model_validate(
    {"name": "bus", "min": ["-250 mm", "-200 mm", "-300 mm"], "max": ["-130 mm", "200 mm", "-20 mm"]}
)
POST = KeepOut.model_validate(
    {"name": "post", "min": ["-300 mm", "100 mm", "-30 mm"], "max": ["-290 mm", "150 mm", "-20 mm"]}
)
FAR = KeepOut.model_validate({"name": "far", "min": ["5 m", "5 m", "5 m"], "max": ["6 m", "6 m", "6 m"]})
BOX = Envelope.model_validate({"name": "bay", "size": ["210 mm", "620 mm", "20 mm"], "clearance": "2 mm"})


def words(figure: Any) -> list[str]:
    return [t.get_text() for axes in figure.axes for t in axes.texts]


def test_a_box_is_cut_to_what_is_shown_and_left_out_where_it_is_not() -> None:
    low, high = np.array([-0.3, -0.3, -0.1]), np.array([0.3, 0.3, 0.1])
    (box,) = within([BUS, FAR], low, high)
    assert box.name == "bus"
    compare.near(box.corners.min(axis=0), [-0.25, -0.2, -0.1], abs=1e-12)
    compare.near(box.corners.max(axis=0), [-0.13, 0.2, -0.02], abs=1e-12)
    # a quarter turn about z takes x to y
    turn = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    (box,) = within([BUS], low, high, turn)
    compare.near(box.corners.min(axis=0), [-0.2, -0.25, -0.1], abs=1e-12)
    body = solid(box)
    for face, normal in zip(body.faces, body.normals, strict=True):
        assert (face.mean(axis=0) - box.corners.mean(axis=0)) @ normal > 0
        compare.near(abs((face - face[0]) @ normal), 0.0, abs=1e-12)


def test_what_lies_above_a_box_hides_it() -> None:
    record = accordion()
    found = bodies(record, np.asarray(record["path"]["poses"][-1]))
    (box,) = near([BUS], np.concatenate([b.points for b in found]))
    order = ordered([*found, solid(box)], view_from(-58.0, 32.0))
    assert order.index(len(found)) < order.index(0), "the root is over the box and drawn after it"
    order = ordered([*found, solid(box)], view_from(-58.0, -32.0))
    assert order.index(len(found)) > order.index(0)


def test_every_step_of_the_motion_shows_the_box_by_name() -> None:
    with drawing():
        figure = motion_steps(accordion(), [BUS, FAR])
    named = [[t.get_text() for t in axes.texts if "keep-out" in t.get_text()] for axes in figure.axes]
    assert named == [["keep-out 'bus'"]] * 6
    for axes in figure.axes:
        tones = axes.collections[0].get_facecolors()
        through = tones[tones[:, 3] < 1.0]
        assert len(through) == 3 and (through[:, 0] >= 0.62 * to_rgb(TONE)[0] - 1e-9).all()
    with drawing():
        assert not [t for t in words(motion_steps(accordion())) if "keep-out" in t]


def test_stowed_views_show_it_where_it_stands_about_the_stowed_root() -> None:
    record = accordion()
    turn = np.asarray(record["stowed"]["rotation"])
    with drawing():
        figure = stowed_views(record, BOX, [POST, FAR])
    assert words(figure).count("keep-out 'post'") == 3
    points = np.concatenate([b.points for b in bodies(record, np.asarray(record["path"]["poses"][0]), turn)])
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    corners = np.array([POST.min, POST.max]) @ turn.T - middle
    for axes, pair in zip(figure.axes, ((0, 1), (0, 2), (1, 2)), strict=False):
        ring = next(line.get_xydata() for line in axes.lines if line.get_color() == TONE)
        compare.near([ring.min(axis=0), ring.max(axis=0)],
                     [corners[:, pair].min(axis=0), corners[:, pair].max(axis=0)], abs=1e-9)  # fmt: skip


def test_the_plan_and_the_review_sheet_name_it(tmp_path: Path) -> None:
    with drawing():
        figure = deployed_plan(accordion(), 0.5, [BUS, FAR])
    assert words(figure).count("keep-out 'bus'") == 1 and "keep-out 'far'" not in words(figure)
    ring = next(line.get_xydata() for line in figure.axes[0].lines if line.get_color() == TONE)
    compare.near([ring.min(axis=0), ring.max(axis=0)], [[-0.25, -0.2], [-0.13, 0.2]], abs=1e-9)
    (path,) = write_review(accordion(), tmp_path, [BUS])
    assert PdfReader(path).pages[1].extract_text().count("keep-out 'bus'") == 6


@pytest.mark.parametrize("view", [TOP])
def test_its_shadow_is_that_of_its_corners(view: Any) -> None:
    (box,) = within([BUS], -np.ones(3), np.ones(3))
    compare.near(box.face(view).area, 0.12 * 0.4, rel=1e-12)
