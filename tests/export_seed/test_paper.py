"""The crease sheet measured as printed: path operators of the PDF read back, and the SVG."""

import xml.etree.ElementTree as ET
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pypdf import PdfReader
from pypdf.generic import ContentStream

from synth.core.errors import InputError
from synth.export.paper import DASHES, PAPERS, write_paper
from tests.export_seed.records import RECORDS
from tests.near import near

MM = 25.4 / 72.0


@dataclass
class Line:
    """A stroked path of a page: corners (mm on paper), dash pattern (mm)."""

    points: Any
    dash: tuple[float, ...]

    @property
    def length(self) -> float:
        return float(np.linalg.norm(np.diff(self.points, axis=0), axis=1).sum())


def stroked(reader: PdfReader, page: int) -> list[Line]:
    """What the page strokes, in the order of its content; only moves, lines and closures count."""
    found, path, dash = [], [], ()
    stack: list[tuple[float, ...]] = []
    for operands, operator in ContentStream(reader.pages[page].get_contents(), reader).operations:
        values = [float(v) for v in operands] if operator in (b"m", b"l", b"cm") else []
        if operator == b"cm":
            assert values[:4] == [1.0, 0.0, 0.0, 1.0] and values[4:] == [0.0, 0.0], "no scaling hides in the page"
        elif operator == b"q":
            stack.append(dash)
        elif operator == b"Q":
            dash = stack.pop()
        elif operator == b"d":
            dash = tuple(MM * float(v) for v in operands[0])
        elif operator == b"m":
            path = [values]
        elif operator == b"l":
            path.append(values)
        elif operator == b"h":
            path.append(path[0])
        elif operator == b"S":
            found.append(Line(MM * np.array(path), dash))
            path = []
        elif operator in (b"n", b"f", b"f*"):
            path = []
    return found


def of_kind(lines: list[Line], kind: str) -> list[Line]:
    wanted = np.array(DASHES[kind])
    return [x for x in lines if len(x.dash) == len(wanted) and np.allclose(x.dash, wanted, atol=1e-3)]


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_the_bar_is_100_mm_and_folds_are_as_long_as_hinges(paper: str, tmp_path: Path) -> None:
    record = RECORDS["strips"]()
    write_paper(record, tmp_path, paper)
    reader = PdfReader(tmp_path / "paper.pdf")
    folds: dict[str, set[float]] = {"valley": set(), "mountain": set()}
    for number, page in enumerate(reader.pages):
        sides = [float(v) * MM for v in page.mediabox[2:]]
        near(sides, PAPERS[paper], abs=1e-3, why="the sheet of paper")
        lines = stroked(reader, number)
        level = [x for x in lines if not x.dash and len(x.points) == 2 and abs(np.ptp(x.points[:, 1])) < 1e-6]
        bars = [x for x in level if abs(x.length - 100.0) < 20.0]
        near([b.length for b in bars], [100.0], abs=1e-3, why="a bar of exactly 100 mm, one a page")
        assert (bars[0].points > 5.0).all() and (bars[0].points < np.array(PAPERS[paper]) - 5.0).all()
        if number:
            for kind, seen in folds.items():
                seen |= {round(x.length, 4) for x in of_kind(lines, kind) if x.length > 20.0}
    for kind, hinge in (("valley", record["hinges"][0]), ("mountain", record["hinges"][1])):
        wanted = 1e3 * float(np.linalg.norm(np.diff(hinge["axis"], axis=0)))
        near(sorted(folds[kind]), [wanted], abs=0.1, why="crease lengths as asked")


def test_cuts_are_solid_and_follow_the_panels(tmp_path: Path) -> None:
    record = RECORDS["hole"]()
    write_paper(record, tmp_path, "a4")
    reader = PdfReader(tmp_path / "paper.pdf")
    around = {round(x.length, 2) for n in range(1, len(reader.pages)) for x in of_kind(stroked(reader, n), "cut")}
    hole = np.array([*record["panels"][1]["holes"][0], record["panels"][1]["holes"][0][0]])
    wanted = 1e3 * float(np.linalg.norm(np.diff(hole, axis=0), axis=1).sum())
    assert any(abs(length - wanted) < 0.1 for length in around)


def test_neighbouring_pages_carry_one_drawing(tmp_path: Path) -> None:
    """A fold that crosses pages lies on all of them; registration crosses of neighbours are the same places of it."""
    record = RECORDS["strips"]()
    write_paper(record, tmp_path, "a4")
    reader = PdfReader(tmp_path / "paper.pdf")
    places: dict[str, list[tuple[Any, Any]]] = {}
    for number in range(1, len(reader.pages)):
        lines = stroked(reader, number)
        short = [
            x.points.mean(axis=0) for x in lines if not x.dash and len(x.points) == 2 and abs(x.length - 6.0) < 1e-3
        ]
        marks = np.unique(np.round(short, 3), axis=0)
        assert len(marks) == 4
        for kind in ("valley", "mountain"):
            for fold in of_kind(lines, kind):
                if fold.length > 20.0:
                    places.setdefault(kind, []).append((fold.points[np.argmin(fold.points[:, 1])], marks))
    shared = 0
    for seen in places.values():
        for start, marks in seen:
            for other, there in seen:
                apart = np.linalg.norm((marks - start)[:, None] - (there - other)[None], axis=-1)
                assert ((apart < 1e-3) | (apart > 1.0)).all()
                shared += int((apart < 1e-3).sum()) if start is not other else 0
    assert shared >= 4, "neighbours share marks, and the same mark is the same place of the sheet"


def test_the_scale_is_kept_and_told(tmp_path: Path) -> None:
    record = RECORDS["strips"]()
    write_paper(record, tmp_path, "letter", 0.25)
    reader = PdfReader(tmp_path / "paper.pdf")
    (fold,) = {round(x.length, 3) for x in of_kind(stroked(reader, 1), "valley") if x.length > 20.0}
    near(fold, 125.0, abs=0.1, why="500 mm at a quarter")
    assert "1 : 4" in reader.pages[0].extract_text()
    for wrong in ({"paper": "a5"}, {"scale": 0.0}):
        with pytest.raises(InputError):
            write_paper(record, tmp_path, **wrong)  # type: ignore[arg-type]


def test_the_svg_is_in_millimetres(tmp_path: Path) -> None:
    record = RECORDS["strips"]()
    write_paper(record, tmp_path, "a4")
    root = ET.parse(tmp_path / "paper.svg").getroot()
    box = [float(v) for v in root.attrib["viewBox"].split()]
    assert root.attrib["width"] == f"{box[2]:.6f}mm" and root.attrib["height"] == f"{box[3]:.6f}mm"
    folds = {}
    for path in root.iter("{http://www.w3.org/2000/svg}path"):
        words = path.attrib["d"].replace("M", " ").replace("L", " ").replace("Z", " ").split()
        if path.attrib.get("class") in ("valley", "mountain"):
            points = np.array([float(w) for w in words]).reshape(-1, 2)
            folds[path.attrib["class"]] = float(np.linalg.norm(points[1] - points[0]))
            assert path.attrib["stroke-dasharray"] == " ".join(str(v) for v in DASHES[path.attrib["class"]])
    near([folds["valley"], folds["mountain"]], [500.0, 500.0], abs=0.1, why="crease lengths as asked")
    (bar,) = [p.attrib["d"].split() for p in root.iter() if p.attrib.get("id") == "scale_bar"]
    near(float(bar[4]) - float(bar[1]), 100.0, abs=1e-6)
