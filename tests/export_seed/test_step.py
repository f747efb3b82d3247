"""STEP files read back by the CAD kernel: names, colours, volumes, places."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from synth.export.step import write_step
from tests.export_seed.records import RECORDS
from tests.near import near

pytest.importorskip("OCP", reason="the CAD kernel is optional")


def read(path: Path) -> list[tuple[str, str, Any, tuple[float, float, float] | None]]:
    """(name of the sub-assembly, name of the part, shape in the root frame, colour) of every part."""
    from OCP.collections import Sequence_TDF_Label
    from OCP.Quantity import Quantity_Color
    from OCP.STEPCAFControl import STEPCAFControl_Reader
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TDF import TDF_Label
    from OCP.TDocStd import TDocStd_Document
    from OCP.TopLoc import TopLoc_Location
    from OCP.XCAFApp import XCAFApp_Application
    from OCP.XCAFDoc import XCAFDoc_ColorType, XCAFDoc_DocumentTool, XCAFDoc_ShapeTool

    document = TDocStd_Document(TCollection_ExtendedString("XmlXCAF"))
    XCAFApp_Application.GetApplication_s().InitDocument(document)
    reader = STEPCAFControl_Reader()
    reader.SetNameMode(True)
    reader.SetColorMode(True)
    reader.ReadFile(str(path))
    assert reader.Transfer(document)
    shapes = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    colours = XCAFDoc_DocumentTool.ColorTool_s(document.Main())
    found = []

    def name(label: Any) -> str:
        attribute = TDataStd_Name()
        assert label.FindAttribute(TDataStd_Name.GetID_s(), attribute)
        return str(attribute.Get().ToExtString())

    def walk(label: Any, at: Any, above: str) -> None:
        parts = Sequence_TDF_Label()
        XCAFDoc_ShapeTool.GetComponents_s(label, parts)
        for k in range(1, parts.Length() + 1):
            component, referred = parts.Value(k), TDF_Label()
            here = at.Multiplied(XCAFDoc_ShapeTool.GetLocation_s(component))
            assert XCAFDoc_ShapeTool.GetReferredShape_s(component, referred)
            if XCAFDoc_ShapeTool.IsAssembly_s(referred):
                walk(referred, here, name(component))
                continue
            tone = Quantity_Color()
            kinds = (XCAFDoc_ColorType.XCAFDoc_ColorSurf, XCAFDoc_ColorType.XCAFDoc_ColorCurv,
                     XCAFDoc_ColorType.XCAFDoc_ColorGen)  # fmt: skip
            shape = XCAFDoc_ShapeTool.GetShape_s(referred)
            coloured = any(colours.GetColor(shape, kind, tone) for kind in kinds)
            rgb = (tone.Red(), tone.Green(), tone.Blue()) if coloured else None
            found.append((above, name(component), shape.Moved(here), rgb))

    free = Sequence_TDF_Label()
    shapes.GetFreeShapes(free)
    assert free.Length() == 1
    walk(free.Value(1), TopLoc_Location(), "")
    return found


def volume(shape: Any) -> tuple[float, Any]:
    """Volume (m^3) and centre of volume (m) by the kernel; its files are in mm."""
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    told = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, told)
    centre = told.CentreOfMass()
    return 1e-9 * told.Mass(), 1e-3 * np.array([centre.X(), centre.Y(), centre.Z()])


def ends(shape: Any) -> Any:
    """The two ends of an edge (m)."""
    from OCP.BRep import BRep_Tool
    from OCP.TopAbs import TopAbs_VERTEX
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    cast = getattr(TopoDS, "Vertex_s", None) or TopoDS.Vertex
    walk, found = TopExp_Explorer(shape, TopAbs_VERTEX), []
    while walk.More():
        p = BRep_Tool.Pnt_s(cast(walk.Current()))
        found.append([1e-3 * p.X(), 1e-3 * p.Y(), 1e-3 * p.Z()])
        walk.Next()
    return np.array(found)


@pytest.mark.parametrize("which", ["hole", "vertex"])
@pytest.mark.parametrize(("state", "frame"), [("deployed", -1), ("stowed", 0)])
def test_parts_have_the_volumes_and_places_of_the_record(which: str, state: str, frame: int, tmp_path: Path) -> None:
    record = RECORDS[which]()
    write_step(record, tmp_path)
    found = read(tmp_path / f"{state}.step")
    poses = np.asarray(record["path"]["poses"][frame])
    solids = {name: (group, shape, tone) for group, name, shape, tone in found if not name.startswith("axis")}
    assert len(solids) == len(record["panels"]) + len(record["fittings"])
    told = [(f"plate {p['id']}", p["id"], p) for p in record["panels"]]
    told += [(f"fitting {k} of {f['joint']}", f["panel"], f) for k, f in enumerate(record["fittings"])]
    for name, panel, solid in told:
        group, shape, tone = solids[name]
        assert group == f"panel {panel}"
        assert tone is not None
        face = shapely.Polygon(solid["outline"], solid.get("holes", []))
        size, centre = volume(shape)
        near(size, face.area * (solid["z_front"] - solid["z_back"]), rel=1e-6, why="the kernel's accuracy")
        local = np.array([*face.centroid.coords[0], (solid["z_front"] + solid["z_back"]) / 2])
        near(centre, poses[panel, :, :3] @ local + poses[panel, :, 3], abs=1e-6, why="positions as asked")


def test_hinge_axes_are_lines_where_the_record_has_them(tmp_path: Path) -> None:
    record = RECORDS["strips"]()
    write_step(record, tmp_path)
    for state, frame in (("deployed", -1), ("stowed", 0)):
        lines = {name: shape for _, name, shape, _ in read(tmp_path / f"{state}.step") if name.startswith("axis")}
        assert len(lines) == len(record["hinges"])
        for hinge in record["hinges"]:
            pose = np.asarray(record["path"]["poses"][frame][hinge["panels"][0]])
            there = np.asarray(hinge["axis"]) @ pose[:, :3].T + pose[:, 3]
            near(ends(lines[f"axis of hinge {hinge['id']}"]), there, abs=1e-6, why="positions as asked")


def test_the_kernel_prints_nothing_and_the_header_has_no_date(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    for path in write_step(RECORDS["strips"](), tmp_path):
        assert "'1970-01-01T00:00:00'" in path.read_text(encoding="latin-1")[:600]
    out, err = capfd.readouterr()
    assert (out, err) == ("", "")
