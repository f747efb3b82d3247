"""DXF files read back and audited; distinct panels; bending models of one sheet."""

import copy
import math
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
import shapely

from synth.core.errors import InputError
from synth.export.cut_metal import Sheet, cut_sheet, flexure, write_cut_metal
from synth.export.dxf import write_dxf
from synth.export.kinds import kinds
from tests.export_seed.records import RECORDS
from tests.near import near


def opened(path: Path) -> Any:
    """The drawing, audited without a fault and in millimetres."""
    document = ezdxf.readfile(path)
    audit = document.audit()
    assert not audit.has_errors and not audit.fixes
    assert document.header["$INSUNITS"] == 4
    return document


def rings(document: Any, layer: str) -> list[Any]:
    """Closed polylines of a layer, m."""
    found = document.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')
    assert all(e.closed for e in found)
    return [1e-3 * np.array(e.get_points("xy")) for e in found]


def lines(document: Any, layer: str) -> list[Any]:
    """Lines of a layer, m."""
    found = document.modelspace().query(f'LINE[layer=="{layer}"]')
    return [1e-3 * np.array([list(e.dxf.start)[:2], list(e.dxf.end)[:2]]) for e in found]


def test_the_layout_shows_every_panel_fold_and_cut_on_its_layer(tmp_path: Path) -> None:
    record = RECORDS["hole"]()
    write_dxf(record, tmp_path, 0.5)
    document = opened(tmp_path / "layout.dxf")
    for layer in ("outline", "mountain", "valley", "cut", "latch", "datum"):
        assert layer in document.layers
    for ring, panel in zip(rings(document, "outline"), record["panels"], strict=True):
        near(ring, panel["outline"], abs=1e-9, why="text of the file")
    near(rings(document, "cut")[0], record["panels"][1]["holes"][0], abs=1e-9, why="text of the file")
    # hinge 0 lifts strip 1 over the front, hinge 1 sends strip 2 behind the back
    (valley,), (mountain,) = lines(document, "valley"), lines(document, "mountain")
    near(valley, np.asarray(record["hinges"][0]["axis"])[:, :2], abs=1e-9, why="text of the file")
    near(mountain, np.asarray(record["hinges"][1]["axis"])[:, :2], abs=1e-9, why="text of the file")
    circles = document.modelspace().query('CIRCLE[layer=="datum"]')
    near([1e-3 * c.dxf.radius for c in circles], [0.25], abs=1e-9)


def test_neighbours_without_a_hinge_are_cut_apart_in_the_middle_of_their_gap(tmp_path: Path) -> None:
    record = RECORDS["strips"]()
    left, right = copy.deepcopy(record["panels"][0]), copy.deepcopy(record["panels"][1])
    # a fourth strip above the first two: 2 mm over their upper ends, without a hinge
    upper = {**copy.deepcopy(right), "id": 3, "outline": [[-0.3, 0.302], [0.1, 0.302], [0.1, 0.4], [-0.3, 0.4]]}
    record["panels"].append(upper)
    record["path"]["poses"] = [[*frame, frame[0]] for frame in record["path"]["poses"]]
    write_dxf(record, tmp_path)
    cut = lines(opened(tmp_path / "layout.dxf"), "cut")
    assert len(cut) == 2
    for line, strip in zip(cut, (left, right), strict=True):
        x = [p[0] for p in strip["outline"]]
        near(np.sort(line[:, 0]), [max(min(x), -0.3), min(max(x), 0.1)], abs=1e-9)
        near(line[:, 1], [0.301, 0.301], abs=1e-9)


def test_each_distinct_panel_is_drawn_once_true_to_size(tmp_path: Path) -> None:
    record = RECORDS["vertex"]()
    write_dxf(record, tmp_path)
    names = {k.name: k for k in kinds(record)}
    assert sorted(p.name for p in tmp_path.glob("panel_*.dxf")) == sorted(f"panel_{n}.dxf" for n in names)
    assert sorted(m for k in names.values() for m in k.members) == [0, 1, 2, 3]
    for name, kind in names.items():
        (ring,) = rings(opened(tmp_path / f"panel_{name}.dxf"), "outline")
        told = np.asarray(record["panels"][kind.members[0]]["outline"])
        apart = np.linalg.norm(ring[:, None] - ring[None], axis=-1)
        near(apart, np.linalg.norm(told[:, None] - told[None], axis=-1), abs=1e-9, why="corners keep their distances")
        near(shapely.Polygon(ring).area, shapely.Polygon(told).area, rel=1e-9)
        assert shapely.LinearRing(ring).is_ccw  # not mirrored: the front stays in front
        near(
            kind.outline @ kind.turn.T + kind.shift, told, abs=1e-9, why="the kind's own plan maps to the deployed one"
        )


def _kite(mirror: bool, turn: float, shift: float) -> list[list[float]]:
    corners = np.array([[0.0, 0.0], [0.1, 0.0], [0.08, 0.05], [0.0, 0.06]])
    if mirror:
        corners = corners[::-1] * [-1.0, 1.0]
    c, s = math.cos(turn), math.sin(turn)
    found: list[list[float]] = (corners @ np.array([[c, s], [-s, c]]) + [shift, 0.3]).tolist()
    return found


def test_turned_panels_are_one_part_mirrored_ones_are_not() -> None:
    record = RECORDS["strips"]()
    record.update(hinges=[], latches=[], fittings=[])
    record["mount"]["units"] = []
    for panel, (mirror, turn) in zip(record["panels"], ((False, 0.0), (False, 2.0), (True, 0.3)), strict=True):
        panel["outline"] = _kite(mirror, turn, 0.3 * panel["id"])
    assert [(k.name, k.members) for k in kinds(record)] == [("A1", (0, 1)), ("B1", (2,))]


def test_joints_make_panels_of_one_outline_different_parts() -> None:
    # outer strips carry one hinge each, on the right and on the left, of opposite sense; the middle one carries both
    assert [(k.name, k.members) for k in kinds(RECORDS["strips"]())] == [("A1", (0,)), ("A2", (1,)), ("A3", (2,))]


def test_a_flexure_keeps_its_bars_below_the_allowed_stress() -> None:
    """Narrow bar: J = w t^3 / 3 (1 - 0.630 t / w), tau = T / (w t^2 / 3 (1 - 0.630 t / w)) = G t turn / length
    (Timoshenko; memory), good to half a per cent at w = 6 t."""
    metal = Sheet(scale=1.0, thickness=0.15e-3, bar=0.9e-3, pitch=30e-3, bridge=1e-3)
    made = flexure(0, math.pi, 0.12, metal)
    assert made.bars == 8 and made.rows >= 2
    shear = metal.modulus / 2 / (1 + metal.poisson)
    one_row = shear * metal.thickness * math.pi / made.bar_length
    near(made.stress * made.rows, one_row, rel=5e-3, why="narrow bar")
    near(made.bar_length, 0.014, rel=1e-9)
    assert made.stress <= made.allowed < one_row / (made.rows - 1)
    near(made.allowed, metal.strength / math.sqrt(3) / metal.factor, rel=1e-12)
    torsion = metal.bar * metal.thickness**3 / 3 * (1 - 0.630 * metal.thickness / metal.bar)
    near(made.stiffness, 8 * shear * torsion / made.bar_length / made.rows, rel=5e-3, why="narrow bar")


@pytest.mark.parametrize("which", ["strips", "vertex"])
def test_the_cut_path_leaves_the_part_after_the_kerf(which: str, tmp_path: Path) -> None:
    record = RECORDS[which]()
    metal = Sheet(scale=1.0, kerf=0.2e-3)
    part, made = cut_sheet(record, metal)
    write_cut_metal(record, tmp_path, metal)
    outer, *inner = sorted((shapely.Polygon(r) for r in rings(opened(tmp_path / "cut_metal.dxf"), "cut")),
                           key=lambda p: -p.area)  # fmt: skip
    drawn = outer.difference(shapely.union_all(inner))
    left = drawn.buffer(-metal.kerf / 2, join_style="mitre")
    assert left.symmetric_difference(part).area < 3e-4 * part.area
    assert drawn.symmetric_difference(part).area > 1e-3 * part.area  # without the allowance it would be another part
    assert len(made) == len(record["hinges"])


def test_only_bars_join_the_two_panels_of_a_hinge() -> None:
    """Without the band of a flexure the sheet of a chain falls apart, and with it it is whole."""
    record = RECORDS["strips"]()
    metal = Sheet(scale=1.0)
    part, made = cut_sheet(record, metal)
    assert part.geom_type == "Polygon"
    for hinge, one in zip(record["hinges"], made, strict=True):
        line = shapely.LineString(np.asarray(hinge["axis"])[:, :2])
        rest = part.difference(line.buffer(one.width / 2, cap_style="flat"))
        assert rest.geom_type == "MultiPolygon" and len(rest.geoms) == 2
        # a cut through the middle of a row of bars meets every bar once
        across = np.array([metal.bar / 2 + metal.slot / 2, 0.0])
        middle = shapely.LineString(np.asarray(line.coords) + (across if one.rows % 2 == 0 else 0.0))
        assert middle.intersection(part).length > 0.9 * line.length


def test_a_flexure_that_does_not_fit_is_told() -> None:
    with pytest.raises(InputError, match="scale"):
        cut_sheet(RECORDS["strips"](), Sheet(scale=0.02))
    with pytest.raises(InputError, match="kerf"):
        cut_sheet(RECORDS["strips"](), Sheet(scale=1.0, kerf=1e-3))


@pytest.mark.parametrize(("which", "name"), [("strips", "layout"), ("hole", "panel_A2"), ("strips", "cut_metal")])
def test_drawings_have_a_true_scale_bar_units_and_a_caution(which: str, name: str, tmp_path: Path) -> None:
    record = RECORDS[which]()
    write_dxf(record, tmp_path)
    write_cut_metal(record, tmp_path, Sheet(scale=0.5))
    space = opened(tmp_path / f"{name}.dxf").modelspace()
    (bar,) = [e for e in space.query("LWPOLYLINE") if not e.closed]
    points = np.array(bar.get_points("xy"))
    told = next(t.dxf.text for t in space.query("TEXT") if t.dxf.text.endswith(" mm") and len(t.dxf.text) < 8)
    near(np.ptp(points[:, 0]), float(told.removesuffix(" mm")), rel=1e-9)
    words = " ".join(t.dxf.text for t in space.query("TEXT"))
    assert "mm" in words and ("not a release" in words or "not a part" in words)
    # nothing written lies over anything drawn, and lines of text do not touch
    below = min(float(np.asarray(e.get_points("xy"))[:, 1].min()) for e in space.query("LWPOLYLINE") if e.closed)
    heights = sorted(t.dxf.insert.y for t in space.query("TEXT") if t.dxf.insert.y < below)
    assert len(heights) >= 4 and np.diff(heights).min() > 1.2 * space.query("TEXT")[0].dxf.height
