"""A verified candidate of every family as a package: everything is written, and what is read back is the record."""

import json
from typing import Any

import mujoco
import numpy as np
import pytest
import shapely
import trimesh

from synth.export.gltf import SECONDS
from synth.export.package import FORMATS, Package, write_package
from synth.record.draft import unpacked
from tests.export_seed.test_motion_files import Player, pose_of
from tests.near import near
from tests.samples import family_names, verified

MAY_BE_LEFT_OUT = {"stl", "3mf", "metal"}
"""Models that a small scale or a joint without a leaf can rule out; then the README says why."""


@pytest.fixture(scope="module", params=family_names())
def made(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Package]:
    _, _, scores = verified(request.param)
    record = json.loads(json.dumps({**unpacked(scores.extra)[0], "id": "box-1"}))
    return record, write_package(record, tmp_path_factory.mktemp(request.param) / "package")


def test_nothing_is_left_out_without_a_word(made: tuple[dict[str, Any], Package]) -> None:
    _, package = made
    assert set(package.files) | set(package.left_out) == set(FORMATS)
    assert set(package.left_out) <= MAY_BE_LEFT_OUT
    words = (package.path / "README.md").read_text()
    for name, why in package.left_out.items():
        assert why.strip() and why.split("\n")[0][:60] in words, name


def test_the_mechanism_stands_as_the_record_says(made: tuple[dict[str, Any], Package]) -> None:
    record, package = made
    model = mujoco.MjModel.from_xml_path(str(package.path / "motion" / "mechanism.xml"))
    data = mujoco.MjData(model)
    for frame in range(0, model.nkey, max(1, model.nkey // 6)):
        mujoco.mj_resetDataKeyframe(model, data, frame)
        mujoco.mj_forward(model, data)
        for panel in record["panels"]:
            near(
                pose_of(model, data, panel["id"]), record["path"]["poses"][frame][panel["id"]], abs=1e-6, why="as asked"
            )
        assert np.abs(data.efc_pos[: data.ne]).max(initial=0.0) < 1e-8, "loops are closed"
    near(float(model.body_mass.sum()), record["metrics"]["basic_mass_kg"], rel=1e-9, why="mass as asked")


def test_the_animation_goes_from_stowed_to_deployed(made: tuple[dict[str, Any], Package]) -> None:
    record, package = made
    player, s = Player(package.path / "motion" / "deployment.glb"), record["path"]["s"]
    for frame in (0, len(s) // 2, len(s) - 1):
        found = player.poses(SECONDS * float(s[frame]))
        for panel in record["panels"]:
            wanted = record["path"]["poses"][frame][panel["id"]]
            near(found[f"panel {panel['id']}"], wanted, abs=1e-6, why="single precision of the file")


def test_printed_panels_are_watertight(made: tuple[dict[str, Any], Package]) -> None:
    _, package = made
    for name in [n for n in package.files.get("stl", []) if n.endswith(".stl")]:
        mesh = trimesh.load(package.path / name)
        assert mesh.is_watertight and mesh.volume > 0, name


def test_plates_have_the_volumes_of_the_record(made: tuple[dict[str, Any], Package]) -> None:
    pytest.importorskip("OCP", reason="the CAD kernel is optional")
    from tests.export_seed.test_step import read, volume

    record, package = made
    solids = {name: shape for _, name, shape, _ in read(package.path / "cad" / "stowed.step")}
    poses = np.asarray(record["path"]["poses"][0])
    for panel in record["panels"]:
        face = shapely.Polygon(panel["outline"], panel.get("holes", []))
        size, centre = volume(solids[f"plate {panel['id']}"])
        near(size, face.area * (panel["z_front"] - panel["z_back"]), rel=1e-6, why="the kernel's accuracy")
        local = np.array([*face.centroid.coords[0], (panel["z_front"] + panel["z_back"]) / 2])
        near(centre, poses[panel["id"], :, :3] @ local + poses[panel["id"], :, 3], abs=1e-6, why="positions as asked")
