"""glTF read back and played, MJCF simulated: both move as the record says."""

import struct
from pathlib import Path
from typing import Any

import mujoco
import numpy as np
import pygltflib
import pytest
from scipy.spatial.transform import Rotation, Slerp

from synth.export.gltf import HOLD, SECONDS, write_gltf
from synth.export.mjcf import write_mjcf
from synth.recheck.motion import between, tree_order
from tests.export_seed.records import RECORDS
from tests.near import near


class Player:
    """A glTF file played by its own rules: nodes, samplers, linear and spherical interpolation."""

    def __init__(self, path: Path) -> None:
        self.g = pygltflib.GLTF2().load(str(path))
        self.blob = self.g.binary_blob()

    def array(self, number: int) -> Any:
        accessor = self.g.accessors[number]
        view = self.g.bufferViews[accessor.bufferView]
        kind = {5126: np.float32, 5125: np.uint32}[accessor.componentType]
        wide = {"SCALAR": 1, "VEC3": 3, "VEC4": 4}[accessor.type]
        start = view.byteOffset + (accessor.byteOffset or 0)
        values = np.frombuffer(self.blob, kind, accessor.count * wide, start).reshape(accessor.count, wide)
        if accessor.min:
            assert values.min(axis=0).tolist() == accessor.min and values.max(axis=0).tolist() == accessor.max
        return values

    def poses(self, time: float) -> dict[str, Any]:
        """Root frame from deployed coordinates [3, 4] of every panel at a time (s)."""
        moving: dict[tuple[int, str], Any] = {}
        for channel in self.g.animations[0].channels:
            sampler = self.g.animations[0].samplers[channel.sampler]
            assert sampler.interpolation == "LINEAR"
            times, values = self.array(sampler.input)[:, 0].astype(float), self.array(sampler.output).astype(float)
            if channel.target.path == "rotation":
                value = Slerp(times, Rotation.from_quat(values))(time).as_quat()
            else:
                value = np.array([np.interp(time, times, v) for v in values.T])
            moving[channel.target.node, channel.target.path] = value
        found: dict[str, Any] = {}

        def walk(number: int, above: Any) -> None:
            node = self.g.nodes[number]
            local = np.eye(4)
            local[:3, :3] = Rotation.from_quat(
                moving.get((number, "rotation"), node.rotation or [0, 0, 0, 1])
            ).as_matrix()
            local[:3, 3] = moving.get((number, "translation"), node.translation or [0, 0, 0])
            here = above @ local
            if node.mesh is not None:
                found[node.name] = here[:3]
            for child in node.children or []:
                walk(child, here)

        upright = np.array([[1, 0, 0, 0], [0, 0, -1, 0], [0, 1, 0, 0], [0, 0, 0, 1]], dtype=float)
        for number in self.g.scenes[self.g.scene].nodes:
            walk(number, upright)  # y up back to z up
        return found


@pytest.mark.parametrize("which", ["strips", "slack", "vertex"])
def test_the_animation_takes_every_panel_along_its_path(which: str, tmp_path: Path) -> None:
    record = RECORDS[which]()
    write_gltf(record, tmp_path)
    player = Player(tmp_path / "deployment.glb")
    s = np.asarray(record["path"]["s"])
    for frame in (0, 3, len(s) // 2, len(s) - 1):
        found = player.poses(SECONDS * float(s[frame]))
        for panel in record["panels"]:
            wanted = record["path"]["poses"][frame][panel["id"]]
            near(found[f"panel {panel['id']}"], wanted, abs=1e-6, why="single precision of the file")
    held = player.poses(SECONDS + HOLD)
    near(held["panel 1"], np.eye(3, 4), abs=1e-6)


@pytest.mark.parametrize("which", ["strips", "vertex"])
def test_between_frames_hinges_keep_together_in_the_animation(which: str, tmp_path: Path) -> None:
    record = RECORDS[which]()
    write_gltf(record, tmp_path)
    player = Player(tmp_path / "deployment.glb")
    s = np.asarray(record["path"]["s"])
    found = player.poses(SECONDS * float(0.6 * s[4] + 0.4 * s[5]))
    wanted = between(record, tree_order(record), 4, np.array([0.4]))[0]
    for panel in record["panels"]:
        near(found[f"panel {panel['id']}"], wanted[panel["id"]], abs=1e-6, why="angles are linear between frames")


def test_the_file_is_sound(tmp_path: Path) -> None:
    record = RECORDS["hole"]()
    write_gltf(record, tmp_path)
    data = (tmp_path / "deployment.glb").read_bytes()
    magic, version, length = struct.unpack("<4sII", data[:12])
    assert (magic, version, length) == (b"glTF", 2, len(data))
    player = Player(tmp_path / "deployment.glb")
    buffer = player.g.buffers[0].byteLength
    assert all(v.byteOffset % 4 == 0 and v.byteOffset + v.byteLength <= buffer for v in player.g.bufferViews)
    volume = 0.0
    for primitive in player.g.meshes[1].primitives:
        points, normals = player.array(primitive.attributes.POSITION), player.array(primitive.attributes.NORMAL)
        corners = points[player.array(primitive.indices)[:, 0]].astype(float).reshape(-1, 3, 3)
        near(np.linalg.norm(normals, axis=1), 1.0, abs=1e-5)
        outward = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        assert (np.einsum("ij,ij->i", outward, normals[player.array(primitive.indices)[::3, 0]]) > 0).all()
        if player.g.materials[primitive.material].name != "fitting":
            volume += float(np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum()) / 6.0
    near(volume, _middle_volume(record), rel=1e-4, why="single precision of the file")


def _middle_volume(record: Any) -> float:
    """Strip less its hole, by the shoelace formula."""

    def area(ring: Any) -> float:
        x, y = np.asarray(ring).T
        return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2.0

    panel = record["panels"][1]
    return 0.004 * (area(panel["outline"]) - area(panel["holes"][0]))


def model(record: Any, folder: Path) -> tuple[Any, Any]:
    write_mjcf(record, folder)
    found = mujoco.MjModel.from_xml_path(str(folder / "mechanism.xml"))
    return found, mujoco.MjData(found)


def pose_of(m: Any, d: Any, panel: int) -> Any:
    body = m.body(f"panel {panel}").id
    return np.column_stack([d.xmat[body].reshape(3, 3), d.xpos[body]])


@pytest.mark.parametrize("which", ["strips", "slack", "vertex"])
def test_key_frames_put_every_panel_where_the_record_has_it(which: str, tmp_path: Path) -> None:
    record = RECORDS[which]()
    m, d = model(record, tmp_path)
    assert m.nkey == len(record["path"]["s"])
    for k in range(m.nkey):
        mujoco.mj_resetDataKeyframe(m, d, k)
        mujoco.mj_forward(m, d)
        for panel in record["panels"]:
            near(pose_of(m, d, panel["id"]), record["path"]["poses"][k][panel["id"]], abs=1e-9, why="poses as asked")
        assert np.abs(d.efc_pos[: d.ne]).max(initial=0.0) < 1e-9, "loops are closed"
    near(float(m.body_mass.sum()), record["metrics"]["basic_mass_kg"], rel=1e-9, why="mass as asked")


def test_joint_angles_alone_give_the_poses(tmp_path: Path) -> None:
    record = RECORDS["strips"]()
    m, d = model(record, tmp_path)
    for k in (0, 7, 20):
        for hinge in record["hinges"]:
            d.joint(f"hinge {hinge['id']}").qpos[0] = record["path"]["angles"][k][hinge["id"]]
        mujoco.mj_forward(m, d)
        for panel in record["panels"]:
            near(pose_of(m, d, panel["id"]), record["path"]["poses"][k][panel["id"]], abs=1e-9, why="poses as asked")


@pytest.mark.parametrize("which", ["strips", "vertex"])
def test_simulated_drives_deploy_it_and_loops_stay_closed(which: str, tmp_path: Path) -> None:
    record = RECORDS[which]()
    m, d = model(record, tmp_path)
    m.opt.timestep = 2e-3
    mujoco.mj_resetDataKeyframe(m, d, 0)
    times, control = np.array(m.key_time), np.array(m.key_ctrl)
    worst, far = 0.0, 0.0
    while d.time < 12.0:
        d.ctrl[:] = [np.interp(d.time, times, c) for c in control.T]
        mujoco.mj_step(m, d)
        if d.time < 9.0:  # at exactly flat the vertex is singular and its branches meet
            worst = max(worst, float(np.abs(d.efc_pos[: d.ne]).max(initial=0.0)))
        wanted = [np.interp(d.time, times, q) for q in np.array(m.key_qpos).T]
        far = max(far, float(np.abs(d.qpos - wanted).max()))
    assert worst < 1e-4, "a centimetre-sized slip would show; constraints are soft"
    assert far < 0.35, "it follows the path, a servo's lag behind"
    assert np.abs(d.qpos).max() < 5e-3


def test_bodies_have_the_inertia_of_their_parts(tmp_path: Path) -> None:
    """Middle strip: plate, four leaves as boxes, four half hinges at feet; by hand along the hinge line."""
    record = RECORDS["strips"]()
    m, _ = model(record, tmp_path)
    body = m.body("panel 1")
    parts = [(1.3, 0.0, -0.002, (0.2**2 + 0.004**2) / 12)]
    for f in record["fittings"]:
        if f["panel"] == 1:
            x = [c[0] for c in f["outline"]]
            wide, high = max(x) - min(x), f["z_front"] - f["z_back"]
            parts.append((f["mass_kg"], sum(x) / 4, (f["z_front"] + f["z_back"]) / 2, (wide**2 + high**2) / 12))
    for h in record["hinges"]:
        foot = h["units"][0]["feet"][h["panels"].index(1)]
        parts.append((h["mass_kg"] / 2, foot[0], -0.002, 0.0))
    mass = sum(p[0] for p in parts)
    centre = [sum(p[0] * p[k] for p in parts) / mass for k in (1, 2)]
    about = sum(p[0] * (p[3] + (p[1] - centre[0]) ** 2 + (p[2] - centre[1]) ** 2) for p in parts)
    near(float(body.mass[0]), mass, rel=1e-12)
    near(body.ipos[2], centre[1], abs=1e-12)
    turn = np.zeros(9)
    mujoco.mju_quat2Mat(turn, body.iquat)
    tensor = turn.reshape(3, 3) @ np.diag(body.inertia) @ turn.reshape(3, 3).T
    near(tensor[1, 1], about, rel=1e-9)
