"""Pictures from a record alone: they exist, are the same at every drawing, and put nearer solids over farther ones."""

import hashlib
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import numpy as np
import pytest

from synth.export.deployed_plan import MOUNTAIN, VALLEY, deployed_plan
from synth.export.front_svg import write_front_svg
from synth.export.marks import nice_length
from synth.export.pictures import candidate_pictures
from synth.export.shaded import FRONT, RIGHT, TOP, bodies, ordered, view_from
from synth.export.sheet import drawing
from synth.fronts.front import Front, Row
from synth.problem.envelope import Envelope
from synth.problem.objective import OBJECTIVES
from tests.near import near
from tests.recheck.accordion import accordion

BOX = Envelope.model_validate({"name": "bay", "size": ["210 mm", "620 mm", "20 mm"], "clearance": "2 mm"})
DRUM = Envelope.model_validate({"name": "drum", "diameter": "700 mm", "height": "40 mm"})


def _digests(paths: list[Path]) -> dict[str, str]:
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in paths}


@pytest.mark.parametrize("envelope", [BOX, DRUM], ids=["box", "round"])
def test_pictures_exist_and_are_the_same_every_time(tmp_path: Path, envelope: Envelope) -> None:
    record = accordion()
    first = candidate_pictures(record, envelope, tmp_path / "a", 0.5)
    second = candidate_pictures(record, envelope, tmp_path / "b", 0.5)
    names = {f"bay-1-{what}.{kind}" for what in ("deployed", "stowed", "motion") for kind in ("svg", "png")}
    assert {p.name for p in first} == names
    assert _digests(first) == _digests(second)
    for path in first:
        if path.suffix == ".svg":
            assert ElementTree.parse(path).getroot().tag.endswith("svg")
        else:
            assert path.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"


def test_another_record_gives_another_picture(tmp_path: Path) -> None:
    record = accordion()
    first = candidate_pictures(record, BOX, tmp_path / "a")
    record["hinges"][0]["stowed_angle_rad"] *= -1.0
    second = candidate_pictures(record, BOX, tmp_path / "b")
    assert _digests(first)["bay-1-deployed.svg"] != _digests(second)["bay-1-deployed.svg"]


def test_mountain_and_valley_differ_in_their_dashes_not_in_colour() -> None:
    """The trade's signs: valley dashed, mountain dash-dot."""
    with drawing():
        axes = deployed_plan(accordion()).axes[0]
    drawn = [line for line in axes.lines if line.get_linewidth() == VALLEY["lw"] and line.get_linestyle() != "None"]
    assert VALLEY["color"] == MOUNTAIN["color"]
    patterns = [len(line._unscaled_dash_pattern[1]) for line in drawn]  # type: ignore[attr-defined]
    assert patterns == [2, 4]  # hinge 0 is a valley, hinge 1 a mountain


@pytest.mark.parametrize("share", [0.0, 0.05, 0.3])
def test_the_name_of_the_root_leaves_its_mount_to_be_seen(share: float) -> None:
    """Wherever the mount stands along the root, its name is at least a line of text away from it, and in the panel."""
    record = accordion()
    root = np.asarray(record["panels"][0]["outline"])
    middle, size = (root.min(axis=0) + root.max(axis=0)) / 2.0, np.ptp(root, axis=0)
    for unit in record["mount"]["units"]:
        unit["at"] = [*(middle + share * size * [0.0, 1.0]), 0.0]
    (name,) = (t for t in deployed_plan(record).axes[0].texts if t.get_text() == "0\nroot")
    place = np.asarray(name.get_position())
    plan = np.concatenate([np.asarray(p["outline"]) for p in record["panels"]])
    away = np.linalg.norm(place - record["mount"]["units"][0]["at"][:2])
    assert away > 0.04 * np.ptp(plan, axis=0).max()
    assert (np.abs(place - middle) < size / 2.0).all()


def test_views_are_right_handed_and_look_along_their_axes() -> None:
    near(TOP.toward, [0.0, 0.0, 1.0], abs=1e-12)
    near(FRONT.toward, [0.0, -1.0, 0.0], abs=1e-12)
    near(RIGHT.toward, [1.0, 0.0, 0.0], abs=1e-12)
    view = view_from(0.0, 90.0 - 1e-9)
    near(view.toward, [0.0, 0.0, 1.0], abs=1e-6)


def test_stacked_strips_are_drawn_from_below_when_seen_from_above() -> None:
    record = accordion()
    record["fittings"] = []
    found = bodies(record, np.asarray(record["path"]["poses"][0]))
    assert ordered(found, TOP) == [0, 1, 2]
    turned = bodies(record, np.asarray(record["path"]["poses"][0]), np.diag([1.0, -1.0, -1.0]))
    assert ordered(turned, TOP) == [2, 1, 0]


def test_a_long_plate_under_a_small_one_is_drawn_first_though_its_middle_is_nearer() -> None:
    """Depth of middles alone would get this wrong: the faces between them tell."""
    record = accordion()
    record["fittings"] = []
    base = record["panels"][0]
    long = {**base, "outline": [[-1.0, -1.0], [9.0, -1.0], [9.0, 1.0], [-1.0, 1.0]], "z_back": -0.2, "z_front": -0.1}
    small = {**base, "id": 1, "outline": [[-0.9, -0.5], [0.1, -0.5], [0.1, 0.5], [-0.9, 0.5]], "z_back": 0.0,
             "z_front": 0.1}  # fmt: skip
    record["panels"] = [long, small]
    found = bodies(record, np.stack([np.eye(3, 4)] * 2))
    view = view_from(0.0, 30.0)
    depth = [float((b.points @ view.toward).mean()) for b in found]
    assert depth[0] > depth[1]
    assert ordered(found, view) == [0, 1]


def test_normals_point_outwards() -> None:
    record = accordion()
    for body in bodies(record, np.asarray(record["path"]["poses"][7])):
        middle = body.points.mean(axis=0)
        for face, normal in zip(body.faces, body.normals, strict=True):
            assert (face.mean(axis=0) - middle) @ normal > 0


def test_scale_bars_have_round_lengths() -> None:
    near([nice_length(x) for x in (0.21, 0.19, 0.099, 0.5)], [0.2, 0.1, 0.05, 0.5], rel=1e-12)


def _front() -> Front:
    rng = np.random.default_rng(4)
    rows = [
        Row(f"{e}-{k}", e, f, True, True, {"stowed_volume_m3": a, "mass_kg": b, "first_mode_hz": 40 * c})
        for e in ("bay", "locker")
        for k, (f, (a, b, c)) in enumerate(zip(["accordion", "petal", "kite"] * 4, rng.random((12, 3)), strict=True))
    ]
    return Front(("stowed_volume_m3", "mass_kg", "first_mode_hz"), tuple(rows))


@pytest.mark.parametrize("count", [2, 3])
def test_front_picture(tmp_path: Path, count: int) -> None:
    goals = [OBJECTIVES[n] for n in ("stowed_volume", "mass", "first_mode")[:count]]
    paths = [write_front_svg(tmp_path / n, _front(), goals, ["bay", "locker", "tiny"]) for n in ("a", "b")]
    assert paths[0].name == "front.svg"
    assert paths[0].read_bytes() == paths[1].read_bytes()
    assert b"<dc:date>" not in paths[0].read_bytes()


def test_an_empty_front_is_drawn_too(tmp_path: Path) -> None:
    goals = [OBJECTIVES[n] for n in ("stowed_volume", "mass")]
    assert write_front_svg(tmp_path, Front(("stowed_volume_m3", "mass_kg")), goals).stat().st_size > 1000
