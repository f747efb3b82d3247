"""STEP assemblies (AP242, millimetres) by a CAD kernel: named coloured parts, hinge axes as construction lines."""

import errno
import os
import re
from pathlib import Path
from typing import Any

import numpy as np

from synth.core.arrays import Floats
from synth.export.linkage import poses
from synth.export.optional import optional
from synth.export.parts import Prism, Record, fitting_prisms, panel_prisms

MM = 1e3
ROOT, FACE, BLIND, FITTING, AXIS = (
    (0.30, 0.47, 0.66), (0.75, 0.82, 0.88), (0.62, 0.63, 0.66), (0.85, 0.55, 0.20), (0.80, 0.10, 0.10)
)  # fmt: skip
FRAME, SHEET = (0.23, 0.24, 0.26), (0.66, 0.86, 0.90)
_DATE = re.compile(r"(FILE_NAME\(\s*'[^']*',\s*)'[^']*'")
"""Where the header has its date: it is taken out, so that a file says nothing of when it was made."""


class _Kernel:
    """The parts of the kernel that are used here: the one place that knows OCP."""

    def __init__(self) -> None:
        names = ("BRepBuilderAPI", "BRepPrimAPI", "gp", "IFSelect", "Interface", "Message", "Quantity",
                 "STEPCAFControl", "TCollection", "TDataStd", "TDocStd", "TopLoc",
                 "XCAFApp", "XCAFDoc")  # fmt: skip
        for name in names:
            setattr(self, name, optional(f"OCP.{name}", "step"))
        messenger = self.Message.Message.DefaultMessenger_s()
        for printer in list(messenger.Printers()):  # the kernel would write its progress to standard output
            messenger.RemovePrinter(printer)

    def __getattr__(self, name: str) -> Any:
        raise AttributeError(name)


def write_step(record: Record, folder: Path) -> list[Path]:
    """deployed.step and stowed.step: an assembly with one sub-assembly a panel; returns the files.

    A sub-assembly holds the plate (of a framed panel its sheet and its frame), its fittings and, of hinges whose first
    panel it is, the axes. Root frame, mm.
    Raises MissingPackageError without the CAD kernel, OSError where a file cannot be written.
    """
    kernel = _Kernel()
    made = []
    for name, frame in (("deployed", -1), ("stowed", 0)):
        path = folder / f"{name}.step"
        _Assembly(kernel, record, name).write(poses(record)[frame], path)
        made.append(path)
    return made


class _Assembly:
    """One document of the kernel's assembly framework."""

    def __init__(self, kernel: Any, record: Record, configuration: str) -> None:
        self.k, self.record, self.configuration = kernel, record, configuration
        text = kernel.TCollection.TCollection_ExtendedString
        self.document = kernel.TDocStd.TDocStd_Document(text("XmlXCAF"))
        kernel.XCAFApp.XCAFApp_Application.GetApplication_s().InitDocument(self.document)
        tool = kernel.XCAFDoc.XCAFDoc_DocumentTool
        tool.SetLengthUnit_s(self.document, 1e-3)
        self.shapes = tool.ShapeTool_s(self.document.Main())
        self.colours = tool.ColorTool_s(self.document.Main())

    def write(self, at: Floats, path: Path) -> None:
        """Builds the assembly with the panels at poses [P, 3, 4] and writes it."""
        whole = self.shapes.NewShape()
        self._name(whole, f"{self.record['id']} {self.configuration}")
        fittings = fitting_prisms(self.record)
        for panel in self.record["panels"]:
            group = self.shapes.NewShape()
            self._name(group, f"panel {panel['id']}")
            plate = ROOT if panel["id"] == 0 else FACE if panel["receiving"] else BLIND
            for solid in panel_prisms(panel):
                self._solid(group, solid, {"sheet": SHEET, "frame": FRAME}.get(solid.kind, plate))
            for fitting in fittings:
                if fitting.panel == panel["id"]:
                    self._solid(group, fitting, FITTING)
            for hinge in self.record["hinges"]:
                if hinge["panels"][0] == panel["id"]:
                    self._axis(group, hinge)
            self._name(self.shapes.AddComponent(whole, group, self._place(at[panel["id"]])), f"panel {panel['id']}")
        self.shapes.UpdateAssemblies()
        self._save(path)

    def _save(self, path: Path) -> None:
        set_text, set_number = (getattr(self.k.Interface.Interface_Static, n) for n in ("SetCVal_s", "SetIVal_s"))
        writer = self.k.STEPCAFControl.STEPCAFControl_Writer()
        set_text("write.step.schema", "AP242DIS")
        set_text("write.step.unit", "MM")
        set_text("write.step.product.name", self.record["id"])
        set_number("write.surfacecurve.mode", 0)
        writer.SetColorMode(True)
        writer.SetNameMode(True)
        if not writer.Transfer(self.document):
            raise OSError(f"{path.name}: the CAD kernel could not translate the assembly")
        if writer.Write(str(path)) != self.k.IFSelect.IFSelect_ReturnStatus.IFSelect_RetDone:
            # it does not tell why; of what stops a file in a folder just made, a full disk is the one that happens
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(path))
        text = path.read_text(encoding="latin-1")
        if not text.rstrip().endswith("END-ISO-10303-21;"):  # the kernel does not notice that a disk is full
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(path))
        path.write_text(_DATE.sub(r"\1'1970-01-01T00:00:00'", text, count=1), encoding="latin-1")

    def _name(self, label: Any, words: str) -> None:
        self.k.TDataStd.TDataStd_Name.Set_s(label, self.k.TCollection.TCollection_ExtendedString(words))

    def _part(self, group: Any, shape: Any, words: str, colour: tuple[float, float, float], curve: bool) -> None:
        label = self.shapes.AddShape(shape, False)
        self._name(label, words)
        q, kind = self.k.Quantity, self.k.XCAFDoc.XCAFDoc_ColorType
        tone = q.Quantity_Color(*colour, q.Quantity_TypeOfColor.Quantity_TOC_sRGB)
        self.colours.SetColor(label, tone, kind.XCAFDoc_ColorCurv if curve else kind.XCAFDoc_ColorSurf)
        self._name(self.shapes.AddComponent(group, label, self.k.TopLoc.TopLoc_Location()), words)

    def _solid(self, group: Any, prism: Prism, colour: tuple[float, float, float]) -> None:
        """A prism by sweeping its face up."""
        build, g = self.k.BRepBuilderAPI, self.k.gp
        face = build.BRepBuilderAPI_MakeFace(self._ring(prism.face.exterior, prism.low), True)
        for inner in prism.face.interiors:
            face.Add(self._ring(inner, prism.low, ccw=False))
        up = g.gp_Vec(0.0, 0.0, MM * (prism.high - prism.low))
        solid = self.k.BRepPrimAPI.BRepPrimAPI_MakePrism(face.Face(), up).Shape()
        words = prism.name.replace("panel", "plate") + (f" of {prism.joint}" if prism.joint else "")
        self._part(group, solid, words, colour, False)

    def _ring(self, ring: Any, z: float, ccw: bool = True) -> Any:
        """A closed wire, counter-clockwise or (of a hole) clockwise."""
        polygon = self.k.BRepBuilderAPI.BRepBuilderAPI_MakePolygon()
        points = list(ring.coords)[:-1]
        for x, y in points if ring.is_ccw == ccw else points[::-1]:
            polygon.Add(self.k.gp.gp_Pnt(MM * x, MM * y, MM * z))
        polygon.Close()
        return polygon.Wire()

    def _axis(self, group: Any, hinge: Record) -> None:
        """The hinge line as an edge."""
        ends = [self.k.gp.gp_Pnt(*(MM * float(v) for v in p)) for p in hinge["axis"]]
        edge = self.k.BRepBuilderAPI.BRepBuilderAPI_MakeEdge(*ends).Edge()
        self._part(group, edge, f"axis of hinge {hinge['id']}", AXIS, True)

    def _place(self, pose: Floats) -> Any:
        """A pose [3, 4] as a location; the identity exactly where the pose is that within rounding."""
        if np.abs(pose - np.eye(3, 4)).max() < 1e-12:
            return self.k.TopLoc.TopLoc_Location()
        turn = self.k.gp.gp_Trsf()
        rows = np.column_stack([pose[:, :3], MM * pose[:, 3]])
        turn.SetValues(*(float(v) for v in rows.ravel()))
        return self.k.TopLoc.TopLoc_Location(turn)
