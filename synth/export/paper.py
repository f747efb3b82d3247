"""Crease sheet for a paper model: PDF true to scale, tiled on A4 or Letter, and SVG of the whole."""

import io
import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from synth.core.arrays import Floats
from synth.core.errors import InputError
from synth.export.optional import optional
from synth.export.parts import Record, hinge_line, hinge_sense, panel_face, sheet

MM = 72.0 / 25.4
"""Points a millimetre."""
PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
MARGIN, LAP, BAND = 10.0, 8.0, 22.0
"""mm: free rim of a page, overlap of neighbouring tiles, strip at the foot for the scale bar and words."""
DASHES = {"mountain": (7.0, 1.6, 1.0, 1.6), "valley": (3.2, 1.8), "cut": (), "flat": (0.6, 1.4), "window": (0.3, 0.9)}
"""mm on and off: mountain dash-dot, valley dashed, cut solid, opening of a frame dotted."""
LEGEND = (("mountain", "mountain: fold away"), ("valley", "valley: fold towards you"), ("cut", "cut"))
WIDTHS = {"mountain": 0.4, "valley": 0.4, "cut": 0.3, "flat": 0.25, "window": 0.2}


@dataclass(frozen=True, eq=False)
class Stroke:
    """A line of the sheet: kind (mountain, valley, cut, flat, window), points [n, 2] in mm at the model's scale."""

    kind: str
    points: Floats
    closed: bool = False


@dataclass(frozen=True)
class Tile:
    """One page: row and column from the upper left, lower left corner (mm) of its part of the sheet."""

    row: int
    column: int
    x: float
    y: float

    @property
    def name(self) -> str:
        return f"{chr(65 + self.row)}{self.column + 1}"


def strokes(record: Record, scale: float = 1.0) -> list[Stroke]:
    """Cuts round the sheet and its slots, a crease at every hinge line, openings of frames.

    mm, moved so that all x, y >= 0.
    """
    whole = sheet(record)
    low = np.asarray(whole.bounds[:2])
    made = []
    for polygon in getattr(whole, "geoms", [whole]):
        for ring in (polygon.exterior, *polygon.interiors):
            made.append(Stroke("cut", 1e3 * scale * (np.asarray(ring.coords)[:-1] - low), True))
    for hinge in record["hinges"]:
        made.append(Stroke(hinge_sense(record, hinge), 1e3 * scale * (hinge_line(hinge) - low)))
    for panel in record["panels"]:
        made += [Stroke("window", 1e3 * scale * (np.asarray(w) - low), True) for w in panel.get("windows") or []]
    return made


def labels(record: Record, scale: float = 1.0) -> list[tuple[str, Floats]]:
    """Panel numbers with their places (mm), as strokes() places the sheet."""
    low = np.asarray(sheet(record).bounds[:2])
    return [
        (str(p["id"]), 1e3 * scale * (np.asarray(shapely.maximum_inscribed_circle(panel_face(p)).coords[0]) - low))
        for p in record["panels"]
    ]


def tiles(size: Floats, paper: str) -> tuple[list[Tile], float, float]:
    """Pages that cover a sheet of a size [2] (mm), upper row first, and the sides of the part that a page shows."""
    wide, high = PAPERS[paper]
    across, up = wide - 2 * MARGIN, high - 2 * MARGIN - BAND
    columns, rows = (
        max(1, math.ceil((float(n) - LAP) / (part - LAP))) for n, part in zip(size, (across, up), strict=True)
    )
    x0 = (float(size[0]) - columns * (across - LAP) - LAP) / 2
    y0 = (float(size[1]) - rows * (up - LAP) - LAP) / 2
    found = [
        Tile(r, c, x0 + c * (across - LAP), y0 + (rows - 1 - r) * (up - LAP))
        for r in range(rows)
        for c in range(columns)
    ]
    return found, across, up


def write_paper(record: Record, folder: Path, paper: str = "a4", scale: float = 1.0) -> list[Path]:
    """paper.pdf (a plan of the pages, then the pages with something on them) and paper.svg; returns the files.

    Raises InputError for an unknown paper or scale, MissingPackageError without reportlab.
    """
    if paper not in PAPERS:
        raise InputError(f"paper: must be one of {', '.join(PAPERS)}; got '{paper}'")
    if not 0.01 <= scale <= 10.0:
        raise InputError(f"scale: must be 0.01 to 10; got {scale:g}")
    lines, names = strokes(record, scale), labels(record, scale)
    size = np.max([s.points.max(axis=0) for s in lines], axis=0)
    return [_Pdf(record, paper, scale).write(folder / "paper.pdf", lines, names, size),
            _svg(record, folder / "paper.svg", lines, names, size, scale)]  # fmt: skip


def _touches(stroke: Stroke, tile: Tile, across: float, up: float) -> bool:
    line = shapely.LinearRing(stroke.points) if stroke.closed else shapely.LineString(stroke.points)
    return bool(line.intersects(shapely.box(tile.x, tile.y, tile.x + across, tile.y + up)))


def _ratio(scale: float) -> str:
    return f"1 : {1 / scale:g}" if scale <= 1.0 else f"{scale:g} : 1"


class _Pdf:
    """The pages: the one place that knows reportlab."""

    def __init__(self, record: Record, paper: str, scale: float) -> None:
        optional("reportlab", "paper")
        self.record, self.scale, self.paper = record, scale, paper
        self.wide, self.high = PAPERS[paper]
        self.c: Any = None

    def write(self, path: Path, lines: list[Stroke], names: list[tuple[str, Floats]], size: Floats) -> Path:
        """Plan of the pages first, then every page that shows a stroke."""
        from reportlab.pdfgen.canvas import Canvas

        self.c = Canvas(io.BytesIO(), pagesize=(self.wide * MM, self.high * MM), invariant=1, pageCompression=1)
        self.c.setTitle(f"{self.record['id']} paper model")
        found, across, up = tiles(size, self.paper)
        used = [t for t in found if any(_touches(s, t, across, up) for s in lines)]
        self._plan(lines, names, size, used, across, up)
        for number, tile in enumerate(used, start=2):
            self._page(tile, lines, names, across, up, used)
            self._foot(f"page {tile.name} ({number} of {len(used) + 1})")
            self.c.showPage()
        path.write_bytes(self.c.getpdfdata())
        return path

    def _line(
        self, points: Floats, dash: tuple[float, ...], width: float, closed: bool = False, unit: float = 1.0
    ) -> None:
        self.c.setDash([unit * MM * d for d in dash] if dash else [])
        self.c.setLineWidth(width * MM)
        path = self.c.beginPath()
        path.moveTo(*(MM * float(v) for v in points[0]))
        for p in points[1:]:
            path.lineTo(*(MM * float(v) for v in p))
        if closed:
            path.close()
        self.c.drawPath(path)

    def _words(self, words: str, x: float, y: float, size: float, middle: bool = False, over: bool = False) -> None:
        """A line of text at its lower left, or its middle; over: on a white ground, so that lines do not cross it."""
        self.c.setFont("Helvetica", size)
        if over:
            wide = self.c.stringWidth(words, "Helvetica", size) / MM + 1.6
            self.c.saveState()
            self.c.setFillGray(1.0)
            self.c.rect((x - wide / 2) * MM, (y - 0.9) * MM, wide * MM, 0.45 * size * MM, stroke=0, fill=1)
            self.c.restoreState()
        (self.c.drawCentredString if middle else self.c.drawString)(x * MM, y * MM, words)

    def _page(
        self, tile: Tile, lines: list[Stroke], names: list[Any], across: float, up: float, used: list[Tile]
    ) -> None:
        """The part of the sheet in a frame; registration crosses at the corners that it shares with neighbours."""
        left, foot = MARGIN, MARGIN + BAND
        self.c.saveState()
        frame = self.c.beginPath()
        frame.rect(left * MM, foot * MM, across * MM, up * MM)
        self.c.clipPath(frame, stroke=0, fill=0)
        self.c.setFillGray(0.55)
        for words, at in names:
            self._words(words, at[0] - tile.x + left, at[1] - tile.y + foot - 3.5, 28, middle=True)
        for stroke in lines:
            if _touches(stroke, tile, across, up):
                move = np.array([left - tile.x, foot - tile.y])
                self._line(stroke.points + move, DASHES[stroke.kind], WIDTHS[stroke.kind], stroke.closed)
        self.c.restoreState()
        self.c.setStrokeGray(0.45)
        self._line(np.array([left, foot]) + np.array([[0, 0], [across, 0], [across, up], [0, up]]), (), 0.1, True)
        for x in (left + LAP / 2, left + across - LAP / 2):
            for y in (foot + LAP / 2, foot + up - LAP / 2):
                self._cross(x, y)
        self._neighbours(tile, used, across, up)
        self.c.setStrokeGray(0.0)

    def _cross(self, x: float, y: float) -> None:
        """A registration mark: it lies in the middle of the overlap, so the marks of neighbours fall on each other."""
        for ends in ([[x - 3, y], [x + 3, y]], [[x, y - 3], [x, y + 3]]):
            self._line(np.array(ends), (), 0.15)
        self.c.circle(x * MM, y * MM, 1.5 * MM, fill=0)

    def _neighbours(self, tile: Tile, used: list[Tile], across: float, up: float) -> None:
        """The names of neighbouring pages at the rims."""
        there = {(t.row, t.column): t.name for t in used}
        self.c.setFillGray(0.35)
        left, foot = MARGIN, MARGIN + BAND
        middle, high = left + across / 2, foot + up / 2
        places = ((-1, 0, middle, foot + up - 4.2), (1, 0, middle, foot + 1.6), (0, -1, left + 5.5, high),
                  (0, 1, left + across - 5.5, high))  # fmt: skip
        for down, right, x, y in places:
            name = there.get((tile.row + down, tile.column + right))
            if name:
                self._words(name, x, y, 8, middle=True)
        self.c.setFillGray(0.0)

    def _foot(self, page: str) -> None:
        """Scale bar of 100 mm, line styles and words."""
        x, y = MARGIN, MARGIN + 4.0
        self.c.setStrokeGray(0.0)
        self._line(np.array([[x, y], [x + 100.0, y]]), (), 0.4)
        for k in range(11):
            self._line(np.array([[x + 10.0 * k, y], [x + 10.0 * k, y + (3.0 if k % 5 == 0 else 1.8)]]), (), 0.2)
        for k in (0, 50, 100):
            self._words(str(k), x + k, y - 3.4, 7, middle=True)
        self._words("mm on paper: print at 100 %, then measure this bar", x, y + 5.0, 7)
        right = MARGIN + 108.0
        words = f"{self.record['id']}  {self.record['family']}   scale {_ratio(self.scale)}   {page}"
        self._words(words, right, y + 11.5, 7 if len(words) < 62 else 6)
        for k, (kind, told) in enumerate(LEGEND):
            at = y + 7.2 - 3.6 * k
            self._line(np.array([[right, at + 0.9], [right + 18.0, at + 0.9]]), DASHES[kind], WIDTHS[kind])
            self._words(told, right + 20.0, at, 7)
        self._words("For preliminary design: a model, not a part.", right, y - 3.4, 6)
        self.c.setDash([])

    def _plan(
        self, lines: list[Stroke], names: list[Any], size: Floats, used: list[Tile], across: float, up: float
    ) -> None:
        """First page: the whole, small, with the pages numbered, and how to put it together."""
        box = (self.wide - 2 * MARGIN - 10, self.high - 2 * MARGIN - BAND - 62)
        low = np.min([[t.x, t.y] for t in used], axis=0)
        high = np.max([[t.x + across, t.y + up] for t in used], axis=0)
        small = float(np.min(np.asarray(box) / (high - low)))
        origin = np.array([self.wide / 2, MARGIN + BAND + box[1] / 2 + 4]) - small * (low + high) / 2
        self._words(f"Paper model of {self.record['id']} ({self.record['family']})", MARGIN, self.high - MARGIN - 6, 15)
        told = [
            f"Sheet {size[0]:.1f} x {size[1]:.1f} mm at scale {_ratio(self.scale)}, on {len(used)} pages after this "
            "one. Seen from the receiving side.",
            "1  Print at 100 %; the bar on every page must measure 100 mm.",
            f"2  Lay neighbouring pages over each other by {LAP:g} mm: their crosses must coincide. Glue or tape.",
            "3  Score every fold with a ruler and an empty ball-point pen; cut all solid lines, slots too.",
            f"4  Fold in this order to stow, the reverse to deploy: {_folding(self.record)}",
            *(
                ["Dotted: openings of the frames; cut them out, or leave the paper for the sheet."]
                if any(s.kind == "window" for s in lines)
                else []
            ),
            "Thick panels and standoffs are not in the paper: layers that pass each other in metal touch here.",
        ]
        y = self.high - MARGIN - 14.0
        for words in told:
            for line in _wrapped(words, 118):
                self._words(line, MARGIN, y, 9)
                y -= 4.6
        self.c.setStrokeGray(0.6)
        self.c.setFillGray(0.35)
        for t in used:
            corner = origin + small * np.array([t.x, t.y])
            self._line(corner + small * np.array([[0, 0], [across, 0], [across, up], [0, up]]), (), 0.12, True)
        self.c.setStrokeGray(0.0)
        for stroke in lines:
            self._line(origin + small * stroke.points, DASHES[stroke.kind], 0.25, stroke.closed, unit=0.45)
        for t in used:
            x, y = origin + small * np.array([t.x + across / 2, t.y + up])
            self._words(t.name, float(x), float(y) - 4.5, 9, middle=True, over=True)
        self.c.setFillGray(0.0)
        for words, at in names:
            x, y = origin + small * at
            told = words + (" root" if words == "0" else "")
            self._words(told, float(x), float(y) - 1.2, 9, middle=True, over=True)
        self._foot(f"plan (1 of {len(used) + 1})")
        self.c.showPage()


def _wrapped(words: str, width: int) -> list[str]:
    import textwrap

    return textwrap.wrap(words, width, subsequent_indent="    ")


def _folding(record: Record) -> str:
    """Hinges from the last stage of deployment to the first, as panel pairs."""
    steps = []
    for stage in reversed(record["path"]["stages"]):
        steps.append(", ".join("-".join(str(p) for p in record["hinges"][h]["panels"]) for h in stage["hinges"]))
    return "; then ".join(steps) + "."


def _svg(record: Record, path: Path, lines: list[Stroke], names: list[Any], size: Floats, scale: float) -> Path:
    """The whole sheet in one picture, user units are millimetres."""
    wide, high = (float(v) + 2 * MARGIN for v in size)
    high += BAND
    out = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:.6f}mm" height="{high:.6f}mm" '
        f'viewBox="0 0 {wide:.6f} {high:.6f}">',
        f"<title>{record['id']} {record['family']}, crease sheet at scale {_ratio(scale)}</title>",
        *_svg_lines(lines, size),
    ]
    for words, at in names:
        x, y = at[0] + MARGIN, size[1] - at[1] + MARGIN
        out.append(f'<text x="{x:.4f}" y="{y:.4f}" font-family="sans-serif" font-size="9" fill="#999" '
                   f'text-anchor="middle" dominant-baseline="middle">{words}</text>')  # fmt: skip
    y = float(size[1]) + MARGIN + 14.0
    out += [
        f'<path id="scale_bar" d="M {MARGIN} {y:.4f} H {MARGIN + 100}" stroke="#000" stroke-width="0.4" fill="none"/>',
        f'<text x="{MARGIN}" y="{y + 6:.4f}" font-family="sans-serif" font-size="4">100 mm; {record["id"]}, scale '
        f"{_ratio(scale)}</text>",
        "</svg>",
    ]
    path.write_text("\n".join(out) + "\n", encoding="utf-8")
    return path


def _svg_lines(lines: list[Stroke], size: Floats) -> Iterator[str]:
    for stroke in lines:
        points = np.column_stack([stroke.points[:, 0] + MARGIN, float(size[1]) - stroke.points[:, 1] + MARGIN])
        d = "M " + " L ".join(f"{x:.6f} {y:.6f}" for x, y in points) + (" Z" if stroke.closed else "")
        dash = f' stroke-dasharray="{" ".join(str(v) for v in DASHES[stroke.kind])}"' if DASHES[stroke.kind] else ""
        look = f'fill="none" stroke="#000" stroke-width="{WIDTHS[stroke.kind]}"{dash}'
        yield f'<path class="{stroke.kind}" d="{d}" {look}/>'
