"""STL and 3MF read back by another library: watertight, volumes, hinges that turn without touching."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
import trimesh
from manifold3d import Manifold

from synth.core.errors import InputError
from synth.export.printing import Print, printed
from synth.export.stl import write_stl
from synth.export.threemf import write_threemf
from tests.export_seed.records import RECORDS
from tests.near import near

BIG = Print(bed=(400.0, 400.0), scale=0.5, least_thickness=0.5)


def solid_volume(panel: Any) -> float:
    """m^3 of the record."""
    face = shapely.Polygon(panel["outline"], panel["holes"])
    return float(face.area * (panel["z_front"] - panel["z_back"]))


@pytest.mark.parametrize("which", ["hole", "vertex"])
def test_bare_panels_are_those_of_the_record_at_scale(which: str, tmp_path: Path) -> None:
    record = RECORDS[which]()
    bare = Print(scale=0.5, style="none", least_thickness=0.5)
    write_stl(record, tmp_path, bare)
    write_threemf(record, tmp_path, bare)
    meshes = {}
    for path in sorted(tmp_path.glob("plate_*.3mf")):
        meshes.update(trimesh.load(path).geometry)
    assert len(meshes) == len(record["panels"])
    for panel in record["panels"]:
        wanted = 500.0**3 * solid_volume(panel)
        for mesh in (trimesh.load(tmp_path / f"panel_{panel['id']}.stl"), meshes[f"panel {panel['id']}"]):
            assert mesh.is_watertight and mesh.is_winding_consistent
            near(mesh.volume, wanted, rel=1e-5, why="STL has single precision")
        near(meshes[f"panel {panel['id']}"].volume, wanted, rel=1e-6, why="3MF is text")


@pytest.mark.parametrize("style", ["pin", "snap"])
def test_hinged_panels_are_watertight_and_hold_the_volume_of_their_solids(style: Any, tmp_path: Path) -> None:
    record = RECORDS["hole"]()
    wanted = Print(bed=BIG.bed, scale=0.5, style=style, least_thickness=0.5)
    solids = printed(record, wanted).solids
    write_stl(record, tmp_path, wanted)
    write_threemf(record, tmp_path, wanted)
    meshes = {}
    for path in sorted(tmp_path.glob("plate_*.3mf")):
        meshes.update(trimesh.load(path).geometry)
    for panel, solid in enumerate(solids):
        for mesh in (trimesh.load(tmp_path / f"panel_{panel}.stl"), meshes[f"panel {panel}"]):
            assert mesh.is_watertight and mesh.is_winding_consistent
            near(mesh.volume, solid.volume(), rel=1e-5, why="STL has single precision")
            assert mesh.body_count == 1


def placed(record: Any, solids: list[Any], scale: float, frame: int) -> list[Any]:
    poses = np.asarray(record["path"]["poses"][frame])
    return [s.transform(np.column_stack([p[:, :3], 1e3 * scale * p[:, 3]])) for s, p in zip(solids, poses, strict=True)]


@pytest.mark.parametrize("which", ["strips", "vertex"])
@pytest.mark.parametrize("style", ["pin", "snap"])
def test_printed_hinges_turn_through_the_whole_motion_without_touching(which: str, style: Any) -> None:
    record = RECORDS[which]()
    solids = printed(record, Print(bed=BIG.bed, scale=0.5, style=style, least_thickness=0.5)).solids
    # a snap engages by its cones lying in dimples: they are clear of each other as well
    for frame in range(0, len(record["path"]["s"]), 4):
        here = placed(record, solids, 0.5, frame)
        for a in range(len(here)):
            for b in range(a):
                assert (here[a] ^ here[b]).volume() < 1e-3, (frame, a, b)


def test_the_clearance_is_that_asked() -> None:
    record = RECORDS["strips"]()
    for clearance in (0.25, 0.4):
        made = printed(record, Print(bed=BIG.bed, scale=0.5, clearance=clearance, least_thickness=0.5))
        here = placed(record, made.solids, 0.5, -1)
        near(here[0].min_gap(here[1], 2.0), clearance, abs=0.001, why="barrels are polygons of 64 sides")


def test_a_pin_finds_its_bore_through_every_barrel() -> None:
    record = RECORDS["strips"]()
    wanted = Print(bed=BIG.bed, scale=0.5, least_thickness=0.5)
    solids = printed(record, wanted).solids
    bore = (wanted.pin + wanted.clearance) / 2
    for hinge in record["hinges"]:
        axis = 500.0 * np.asarray(hinge["axis"])
        along = (axis[1] - axis[0]) / np.linalg.norm(axis[1] - axis[0])
        across = np.cross(along, [0.0, 0.0, 1.0])
        frame = np.column_stack([along, across, np.cross(along, across), axis[0]])
        frame[:, 3] = axis.mean(axis=0)  # the only unit lies in the middle
        length = 8.9 * wanted.knuckle  # three barrels, and as much room on each side to slide the pin in
        for p in hinge["panels"]:
            for radius, free in ((bore - 0.005, True), (bore + 0.2, False)):
                rod = Manifold.cylinder(length, radius, radius, 64, True).rotate((0.0, 90.0, 0.0)).transform(frame)
                assert ((solids[p] ^ rod).volume() < 1e-6) is free, (hinge["id"], p, radius)


def test_panels_fill_the_bed_but_not_more_and_lie_beside_each_other(tmp_path: Path) -> None:
    record = RECORDS["vertex"]()
    wanted = Print(bed=(160.0, 150.0), style="none", least_thickness=0.1)
    made = printed(record, wanted)
    assert 0.4 < made.scale < 1.0
    write_threemf(record, tmp_path, wanted)
    longest = 0.0
    for path in sorted(tmp_path.glob("plate_*.3mf")):
        scene = trimesh.load(path)
        boxes = []
        for node in scene.graph.nodes_geometry:
            pose, name = scene.graph[node]
            points = trimesh.transform_points(scene.geometry[name].vertices, pose)
            low, high = points.min(axis=0), points.max(axis=0)
            assert (low > -1e-6).all() and (high[:2] <= np.array(wanted.bed) + 1e-6).all()
            longest = max(longest, float((high - low)[:2].max()))
            boxes.append(shapely.box(*low[:2], *high[:2]))
        assert all(a.distance(b) > 1.0 for k, a in enumerate(boxes) for b in boxes[:k])
    assert longest > 0.0
    sides = [1e3 * made.scale * s for p in record["panels"] for s in _sides(p["outline"])]
    room = (150.0 - 2 * wanted.margin, 160.0 - 2 * wanted.margin)
    near(max(max(sides[::2]) / room[0], max(sides[1::2]) / room[1]), 1.0, rel=5e-3, why="scale in thousandths")


def _sides(outline: Any) -> tuple[float, float]:
    """Short and long side of the smallest rectangle (m)."""
    corners = np.asarray(shapely.minimum_rotated_rectangle(shapely.Polygon(outline)).exterior.coords)
    a, b = np.linalg.norm(np.diff(corners, axis=0), axis=1)[:2]
    return float(min(a, b)), float(max(a, b))


def test_thin_panels_are_made_thicker_where_half_turns_allow_it() -> None:
    record = RECORDS["strips"]()
    made = printed(record, Print(scale=0.25, bed=(400.0, 400.0), least_thickness=2.0))
    near(made.rise, 2.0, rel=1e-9, why="4 mm at a quarter is 1 mm")
    low, high = made.solids[1].bounding_box()[2], made.solids[1].bounding_box()[5]
    assert high - low > 2.0
    with pytest.raises(InputError, match="stretched"):
        printed(RECORDS["vertex"](), Print(scale=0.4, bed=(400.0, 400.0), least_thickness=2.0))


def test_what_cannot_be_printed_is_told() -> None:
    with pytest.raises(InputError, match="knuckles"):
        printed(RECORDS["strips"](), Print(scale=0.02, least_thickness=0.01))
    with pytest.raises(InputError, match="bed"):
        printed(RECORDS["strips"](), Print(bed=(10.0, 10.0)))
