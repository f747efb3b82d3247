"""Framed panels are drawn as sheet and frame, notched ones with their notches, in every format; real ones too."""

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import matplotlib.pyplot as plt
import mujoco
import numpy as np
import pytest
import shapely
import trimesh

from synth.export.cut_metal import Sheet, cut_sheet
from synth.export.dxf import write_dxf
from synth.export.gltf import write_gltf
from synth.export.kinds import kinds
from synth.export.mjcf import write_mjcf
from synth.export.paper import strokes
from synth.export.printing import Print
from synth.export.shaded import BARS, RECEIVING, WELL, bodies, draw, view_from
from synth.export.step import write_step
from synth.export.stl import write_stl
from synth.export.tables import parts
from synth.export.threemf import write_threemf
from tests.export_seed.records import BAR, RECORDS, SHEET
from tests.export_seed.test_dxf import opened, rings
from tests.export_seed.test_motion_files import Player
from tests.near import near
from tests.recheck.test_budget import record_of
from tests.recheck.test_windows import whole as framed_map
from tests.samples import problem

PETAL: dict[str, Any] = {"leaves": 6, "form": "full_staged", "fold": "both", "hub": 0.4, "reach": 1.0,
                         "thickness": "6 mm", "edge_gap": "7 mm", "hinge": "pin_bearing", "section": "solid",
                         "passing": "notch"}  # fmt: skip


def shoelace(ring: Any) -> float:
    """Area of a ring, without a library."""
    x, y = np.asarray(ring, dtype=np.float64).T
    return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2.0


def amounts(panel: Any) -> dict[str, float]:
    """Part to volume (m^3) as the record tells them."""
    high, low, area = panel["z_front"], panel["z_back"], shoelace(panel["outline"])
    if "windows" not in panel:
        return {"plate": area * (high - low)}
    sheet = panel["sheet_thickness_m"]
    bars = area - sum(map(shoelace, panel["windows"]))
    return {"sheet": area * sheet, "frame": bars * (high - low - sheet)}


def crossings(mesh: Any, at: Any) -> list[float]:
    """Heights at which an upright line through a point meets the flat faces of a mesh."""
    flat = mesh.triangles[np.abs(mesh.face_normals[:, 2]) > 0.999]
    hit = [t[0, 2] for t in flat if shapely.Polygon(t[:, :2]).contains(shapely.Point(at))]
    return sorted(float(z) for z in hit)


def check_step(record: Any, folder: Path, states: tuple[str, ...] = ("deployed", "stowed")) -> None:
    """Every part of every panel in both states: named, coloured, its volume to 1e-6, sheet before frame."""
    pytest.importorskip("OCP", reason="the CAD kernel is optional")
    from tests.export_seed.test_step import read, volume

    write_step(record, folder)
    for state in states:
        pose = np.asarray(record["path"]["poses"][-1 if state == "deployed" else 0])
        found = {name: (shape, tone) for _, name, shape, tone in read(folder / f"{state}.step")}
        for panel in record["panels"]:
            told = amounts(panel)
            assert {n for n in found if n.split()[-1] == str(panel["id"]) and n.split()[0] in
                    ("plate", "sheet", "frame")} == {f"{part} {panel['id']}" for part in told}  # fmt: skip
            place = {}
            for part, expected in told.items():
                shape, tone = found[f"{part} {panel['id']}"]
                size, centre = volume(shape)
                near(size, expected, rel=1e-6, why="the kernel's accuracy")
                assert tone is not None
                back = pose[panel["id"], :, :3].T @ (centre - pose[panel["id"], :, 3])
                place[part] = back[2]
            if len(told) == 2:
                assert found[f"sheet {panel['id']}"][1] != found[f"frame {panel['id']}"][1]
                sheet, thick = panel["sheet_thickness_m"], panel["z_front"] - panel["z_back"]
                near(place["sheet"], -sheet / 2, abs=1e-8, why="flush with the front")
                near(place["frame"], -sheet - (thick - sheet) / 2, abs=1e-8, why="behind the sheet")


@pytest.mark.parametrize("which", ["framed", "notched"])
def test_the_kernel_finds_the_parts_of_the_record(which: str, tmp_path: Path) -> None:
    check_step(RECORDS[which](), tmp_path)


@pytest.mark.parametrize("which", ["framed", "notched"])
def test_bare_prints_hold_the_volume_of_the_record(which: str, tmp_path: Path) -> None:
    record = RECORDS[which]()
    bare = Print(bed=(700.0, 700.0), scale=1.0, style="none", least_thickness=0.5, least_sheet=0.1)
    write_stl(record, tmp_path, bare)
    write_threemf(record, tmp_path, bare)
    meshes: dict[str, Any] = {}
    for path in sorted(tmp_path.glob("plate_*.3mf")):
        meshes.update(trimesh.load(path).geometry)
    for panel in record["panels"]:
        wanted = 1e9 * sum(amounts(panel).values())
        stl = trimesh.load(tmp_path / f"panel_{panel['id']}.stl")
        assert stl.is_watertight and stl.body_count == 1
        near(stl.volume, wanted, rel=1e-5, why="STL has single precision")
        near(meshes[f"panel {panel['id']}"].volume, wanted, rel=1e-6, why="3MF is text")


@pytest.mark.parametrize("style", ["pin", "snap"])
def test_printed_frames_are_watertight_with_their_hinges_and_sheets_thick_enough(style: Any, tmp_path: Path) -> None:
    record = RECORDS["framed"]()
    write_stl(record, tmp_path, Print(bed=(400.0, 400.0), scale=0.5, style=style, least_thickness=2.0))
    assert "sheets of framed panels 0.60 mm thick, 0.25 mm at scale" in (tmp_path / "notes.txt").read_text()
    for panel in record["panels"]:
        mesh = trimesh.load(tmp_path / f"panel_{panel['id']}.stl")
        assert mesh.is_watertight and mesh.is_winding_consistent and mesh.body_count == 1
        # a probe through the middle of the window meets the sheet alone
        low, high = crossings(mesh, mesh.bounds.mean(axis=0)[:2] + 0.1)
        near(high - low, 0.6, abs=1e-5, why="single precision")


def test_drawings_show_the_openings_and_notches(tmp_path: Path) -> None:
    record = RECORDS["framed"]()
    write_dxf(record, tmp_path)
    for ring, panel in zip(rings(opened(tmp_path / "layout.dxf"), "window"), record["panels"], strict=True):
        near(ring, panel["windows"][0], abs=1e-9, why="text of the file")
    for kind in kinds(record):
        document = opened(tmp_path / f"panel_{kind.name}.dxf")
        (window,) = rings(document, "window")
        near(shoelace(window), shoelace(record["panels"][kind.members[0]]["windows"][0]), rel=1e-9)
        words = " ".join(t.dxf.text for t in document.modelspace().query("TEXT"))
        assert f"{1e3 * SHEET:.3f} mm thick" in words and f"bars {1e3 * BAR:.3f} mm wide and 3.500 mm high" in words
    blanks = {m: k.name[0] for k in kinds(RECORDS["notched"]()) for m in k.members}
    assert blanks == {0: "A", 1: "B", 2: "A"}, "a notched panel is another blank"


def test_kinds_tell_windows_apart() -> None:
    record = RECORDS["framed"]()
    record.update(hinges=[], latches=[], fittings=[])
    record["mount"]["units"] = []
    assert [k.members for k in kinds(record)] == [(0, 1, 2)]
    record["panels"][2]["windows"][0][0][0] += 0.001
    assert [k.members for k in kinds(record)] == [(0, 1), (2,)]


def test_the_metal_model_is_cut_from_the_frames(tmp_path: Path) -> None:
    metal = Sheet(scale=1.0)
    framed, full = (cut_sheet(RECORDS[which](), metal)[0] for which in ("framed", "strips"))
    assert framed.geom_type == "Polygon" and framed.is_valid
    made = cut_sheet(RECORDS["framed"](), metal)[1]
    # flexures keep their metal and a bridge; the rest of each window is open
    windows = [shapely.Polygon(p["windows"][0]) for p in RECORDS["framed"]()["panels"]]
    kept = sum(w.intersection(framed).area for w in windows)
    assert kept < sum((f.width / 2 + metal.bridge) * 0.6 for f in made) * 2
    gone = sum(w.area for w in windows) - kept
    near(full.area - framed.area, gone, rel=5e-3, why="slots lie in what is kept")
    assert gone > 0.5 * sum(w.area for w in windows)


def test_paper_shows_the_openings() -> None:
    found = [s for s in strokes(RECORDS["framed"](), 0.5) if s.kind == "window"]
    for stroke, panel in zip(found, RECORDS["framed"]()["panels"], strict=True):
        near(shoelace(stroke.points), 500.0**2 * shoelace(panel["windows"][0]), rel=1e-12)


def test_animated_and_simulated_bodies_have_sheets_and_frames(tmp_path: Path) -> None:
    record = RECORDS["framed"]()
    write_gltf(record, tmp_path)
    player = Player(tmp_path / "deployment.glb")
    names = [m.name for m in player.g.materials]
    assert set(names) == {"sheet", "frame", "fitting"}, "materials that are used, no others"
    assert player.g.materials[names.index("sheet")].alphaMode == "BLEND"
    for panel, mesh in zip(record["panels"], player.g.meshes, strict=True):
        found = dict.fromkeys(("sheet", "frame"), 0.0)
        for primitive in mesh.primitives:
            corners = player.array(primitive.attributes.POSITION).astype(float).reshape(-1, 3, 3)
            about = corners - corners.reshape(-1, 3).mean(axis=0)
            volume = float(np.einsum("ij,ij->i", about[:, 0], np.cross(about[:, 1], about[:, 2])).sum()) / 6.0
            if names[primitive.material] in found:
                found[names[primitive.material]] += volume
        for part, expected in amounts(panel).items():
            near(found[part], expected, rel=1e-4, why="single precision of the file")
    write_mjcf(record, tmp_path)
    model = mujoco.MjModel.from_xml_path(str(tmp_path / "mechanism.xml"))
    assert {"sheet 0", "frame 0"} <= {model.mesh(k).name for k in range(model.nmesh)}
    near(float(model.body_mass.sum()), record["metrics"]["basic_mass_kg"], rel=1e-9, why="mass as asked")


def test_parts_tell_sheet_and_frame() -> None:
    told = next(r for r in parts(RECORDS["framed"]()) if r["part"].startswith("panel "))
    assert "sheet 0.500 mm" in told["description"] and "bars 20.000 x 3.500 mm" in told["description"]


@pytest.mark.parametrize("side", ["front", "back"])
def test_pictures_show_the_opening_from_behind_and_the_bars_through_the_sheet(side: str) -> None:
    record = RECORDS["framed"]()
    found = bodies(record, np.tile(np.eye(3, 4), (3, 1, 1)))[:1]
    figure, axes = plt.subplots()
    draw(axes, found, view_from(-60.0, 40.0 if side == "front" else -40.0))
    drawn = axes.collections[0]
    areas = [shapely.Polygon(p.vertices[:-1]).area for p in drawn.get_paths()]
    plt.close(figure)
    tones = {"front": (BARS, RECEIVING), "back": (WELL, RECEIVING)}[side]
    colours = [tuple(c[:3]) for c in drawn.get_facecolors()]
    pane = colours.index(tuple(plt.matplotlib.colors.to_rgb(tones[1])))
    window = shoelace(record["panels"][0]["windows"][0]) * math.sin(math.radians(40.0))
    if side == "front":
        near(areas[pane], window, rel=1e-9)
    else:
        well = colours.index(tuple(plt.matplotlib.colors.to_rgb(WELL)))
        near(areas[well], window, rel=1e-9)
        assert well < pane and 0.9 * areas[well] < areas[pane] < areas[well], "its walls are seen beside the sheet"


def framed_real() -> Any:
    return framed_map()[0]


def notched_real() -> Any:
    return record_of(problem(), "petal", **PETAL)


@pytest.mark.parametrize("made", [framed_real, notched_real])
def test_real_ones_agree_with_their_record(made: Callable[[], Any], tmp_path: Path) -> None:
    """Masses too: areas and thicknesses times the densities of the catalogue, adhesive 0.15 kg/m^2 (practice)."""
    record = made()
    check_step(record, tmp_path, ("stowed",))
    write_dxf(record, tmp_path)
    layout = ezdxf.readfile(tmp_path / "layout.dxf")
    for ring, panel in zip(rings(layout, "outline"), record["panels"], strict=True):
        near(shoelace(ring), shoelace(panel["outline"]), rel=1e-9, why="text of the file")
    for panel in record["panels"]:
        told = amounts(panel)
        if "sheet" in told:
            bars = told["frame"] / (panel["z_front"] - panel["z_back"] - panel["sheet_thickness_m"])
            expected = 2200.0 * told["sheet"] + 1600.0 * told["frame"] + 0.15 * bars
        else:
            expected = told["plate"] * record["panels"][0]["mass_kg"] / amounts(record["panels"][0])["plate"]
        near(panel["mass_kg"], expected, rel=1e-6)
    if made is notched_real:
        hulls = [np.asarray(shapely.Polygon(p["outline"]).convex_hull.exterior.coords)[:-1] for p in record["panels"]]
        gone = [shoelace(h) - shoelace(p["outline"]) for h, p in zip(hulls, record["panels"], strict=True)]
        assert sum(g > 1e-6 for g in gone) == 4, "the stand-offs of the upper leaves pass four panels"
        panels = [{**p, "outline": h.tolist()} for h, p in zip(hulls, record["panels"], strict=True)]
        cut, whole = (
            sum(shoelace(s.points) for s in strokes(r) if s.kind == "cut")
            for r in (record, {**record, "panels": panels})
        )
        near(whole - cut, 1e6 * sum(gone), rel=1e-3, why="a paper model is cut along the notches")
