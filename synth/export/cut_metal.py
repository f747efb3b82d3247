"""DXF of a bending model cut from one metal sheet: flexures of staggered slots at every hinge, kerf allowed for."""

import math
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely
from shapely import affinity

from synth.core.arrays import Floats
from synth.core.errors import InputError
from synth.export.dxf_file import DxfFile
from synth.export.parts import Record, hinge_line, hinge_sense, opening, panel_face, sheet_thickness
from synth.hinges.torsion import shear_modulus_of_section, torsion_constant

SCALES = (0.2, 0.25, 0.3, 0.4, 0.5, 0.75, 1.0)


@dataclass(frozen=True)
class Sheet:
    """The sheet and the cut, SI. Defaults: 0.2 mm stainless spring strip, laser cut.

    scale: 0 takes the smallest of SCALES at which every flexure fits.

    factor: on the stress of a bar. pitch: of the slots along the edge, bridge: metal between slots of one row.
    kerf: width that the tool takes away; the drawn line is the middle of the cut.
    """

    scale: float = 0.0
    thickness: float = 0.2e-3
    modulus: float = 190e9
    poisson: float = 0.3
    strength: float = 1100e6
    factor: float = 1.25
    bar: float = 0.9e-3
    bridge: float = 1.2e-3
    pitch: float = 26e-3
    slot: float = 0.4e-3
    kerf: float = 0.15e-3


@dataclass(frozen=True)
class Flexure:
    """One hinge's rows of slots: rows of bars in series, bars beside each other in a row, sizes (m), at its angle.

    stiffness: about the edge (N m/rad); stress: greatest shear of a bar at the stowed angle (Pa); allowed: its limit.
    """

    hinge: int
    angle: float
    rows: int
    bars: int
    bar_length: float
    pitch: float
    width: float
    stiffness: float
    stress: float
    allowed: float


def flexure(hinge: int, angle: float, length: float, metal: Sheet) -> Flexure:
    """Rows needed so that bars of length (pitch / 2 - bridge) stay within strength / (sqrt(3) factor) in torsion.

    A row turns angle / rows; a bar's torque is G J turn / length, tau = T / (c1 w t^2) (Saint-Venant); bridges are
    taken as stiff, which overstates the bars' share. Row stiffness: bars G J / length; rows in series. Derived;
    linear, good to some ten per cent. Raises InputError where slots do not fit along the edge.
    """
    count = max(1, round(length / metal.pitch))
    pitch = length / count
    bar_length = pitch / 2 - metal.bridge
    if bar_length < 2 * metal.bar:
        raise InputError(
            f"metal: hinge {hinge} is {1e3 * length:.1f} mm long at scale {metal.scale:g}: too short for slots with "
            f"bridges of {1e3 * metal.bridge:.1f} mm; choose a larger scale or a smaller bridge"
        )
    shear_modulus = metal.modulus / (2 * (1 + metal.poisson))
    one = float(shear_modulus * torsion_constant(metal.bar, metal.thickness) / bar_length)
    allowed = metal.strength / (math.sqrt(3) * metal.factor)
    full = one * abs(angle) / float(shear_modulus_of_section(metal.bar, metal.thickness))
    rows = max(1, math.ceil(full / allowed))
    return Flexure(hinge, angle, rows, 2 * count, bar_length, pitch, rows * metal.bar + (rows + 1) * metal.slot,
                   2 * count * one / rows, full / rows, allowed)  # fmt: skip


def slots(line: Floats, made: Flexure, metal: Sheet) -> list[shapely.Polygon]:
    """Slots about a hinge line [2, 2] (m, at the model's scale): rows + 1 of them across, staggered by half a pitch.

    Even rows have slots of pitch - bridge in the middle of each pitch, odd ones half a pitch on, open at the ends.
    """
    length = float(np.linalg.norm(line[1] - line[0]))
    along = (line[1] - line[0]) / length
    across = np.array([-along[1], along[0]])
    found = []
    for row in range(made.rows + 1):
        away = (row - made.rows / 2) * (metal.bar + metal.slot)
        shift = made.pitch / 2 if row % 2 else 0.0
        for k in range(-1, round(length / made.pitch) + 1):
            low = k * made.pitch + shift + metal.bridge / 2
            high = (k + 1) * made.pitch + shift - metal.bridge / 2
            past = metal.slot  # slots at the ends run out of the edge, so that they are open
            low, high = max(low, -past), min(high, length + past)
            if high - low <= metal.slot or low >= length or high <= 0.0:
                continue
            centre = [line[0] + a * along + away * across for a in (low, high)]
            found.append(shapely.LineString(centre).buffer(metal.slot / 2, cap_style="flat"))
    return found


def cut_sheet(record: Record, metal: Sheet) -> tuple[shapely.Geometry, list[Flexure]]:
    """The finished part (m, at the model's scale, no kerf) and its flexures, in the order of the hinges.

    Panels lose what lies beside a flexure beyond its ends, so that nothing but its bars joins the two; a flexure ends
    short of another one on the same panel. Frames are open but for what their flexures need.
    """
    if not 0.0 <= metal.kerf < metal.slot:
        raise InputError(f"metal: kerf must be at least 0 and below the slot of {1e3 * metal.slot:g} mm")
    hinges = record["hinges"]
    lines = [metal.scale * hinge_line(h) for h in hinges]
    rough = [_made(h, line, metal) for h, line in zip(hinges, lines, strict=True)]
    zones = [_band(line, f.width) for line, f in zip(lines, rough, strict=True)]
    short = [_clear(k, lines[k], zones, hinges, metal) for k in range(len(hinges))]
    made = [_made(h, line, metal) for h, line in zip(hinges, short, strict=True)]
    faces = [affinity.scale(panel_face(p), metal.scale, metal.scale, origin=(0, 0)) for p in record["panels"]]
    for hinge, line, one in zip(hinges, short, made, strict=True):
        _room(record, hinge, one, metal)
        reach = 10.0 * max(float(np.ptp(np.asarray(f.bounds).reshape(2, 2), axis=0).max()) for f in faces)
        beside = _band(line, one.width, reach).difference(_band(line, one.width))
        for p in hinge["panels"]:
            left = faces[p].difference(beside)
            faces[p] = max(getattr(left, "geoms", [left]), key=lambda g: g.area)  # corners cut off are scrap
    near = shapely.union_all([_band(line, one.width + 2 * metal.bridge) for line, one in zip(short, made, strict=True)])
    for p, panel in enumerate(record["panels"]):
        if sheet_thickness(panel) is not None:
            open_ = affinity.scale(opening(panel), metal.scale, metal.scale, origin=(0, 0))
            faces[p] = faces[p].difference(open_.difference(near))
    strips = []
    for hinge, line in zip(hinges, short, strict=True):
        across = max(faces[p].distance(shapely.LineString(line)) for p in hinge["panels"])
        strips.append(_band(line, 2.1 * across + 1e-6))
    gone = [s for line, one in zip(short, made, strict=True) for s in slots(line, one, metal)]
    part = shapely.union_all([*faces, *strips]).difference(shapely.union_all(gone))
    crumbs = metal.bar * metal.bridge
    pieces = [g for g in getattr(part, "geoms", [part]) if g.area > crumbs]
    return shapely.union_all(pieces), made


def _made(hinge: Record, line: Floats, metal: Sheet) -> Flexure:
    return flexure(hinge["id"], float(hinge["stowed_angle_rad"]), float(np.linalg.norm(line[1] - line[0])), metal)


def _band(line: Floats, width: float, past: float = 0.0) -> shapely.Polygon:
    """A rectangle about a line [2, 2], reaching past its ends."""
    along = (line[1] - line[0]) / np.linalg.norm(line[1] - line[0])
    ends = np.array([line[0] - past * along, line[1] + past * along])
    return shapely.LineString(ends).buffer(width / 2, cap_style="flat")


def _clear(k: int, line: Floats, zones: list[shapely.Polygon], hinges: list[Record], metal: Sheet) -> Floats:
    """The longest piece of a hinge line that stays clear of the other flexures on its panels."""
    mine = set(hinges[k]["panels"])
    others = [z for h, z in zip(hinges, zones, strict=True) if h["id"] != hinges[k]["id"] and mine & set(h["panels"])]
    whole = shapely.LineString(line)
    half = (zones[k].area / whole.length) / 2
    left = whole.difference(shapely.union_all(others).buffer(half + metal.bridge)) if others else whole
    pieces = sorted(getattr(left, "geoms", [left]), key=lambda g: g.length)
    if not pieces or pieces[-1].length <= 0.0:
        raise InputError(
            f"metal: the flexures beside hinge {hinges[k]['id']} leave it no room at scale {metal.scale:g}; choose a "
            "larger scale or a thinner sheet"
        )
    found = np.asarray(pieces[-1].coords)
    return found if (found[1] - found[0]) @ (line[1] - line[0]) > 0 else found[::-1]


def _room(record: Record, hinge: Record, made: Flexure, metal: Sheet) -> None:
    """A flexure may take at most a third of each panel that it joins. Raises InputError."""
    for p in hinge["panels"]:
        rectangle = shapely.minimum_rotated_rectangle(panel_face(record["panels"][p]))
        corners = np.asarray(rectangle.exterior.coords)
        width = metal.scale * float(np.linalg.norm(np.diff(corners, axis=0), axis=1).min())
        if made.width / 2 > width / 3:
            raise InputError(
                f"metal: the flexure of hinge {hinge['id']} is {1e3 * made.width:.1f} mm wide ({made.rows} rows), "
                f"panel {p} only {1e3 * width:.1f} mm at scale {metal.scale:g}; choose "
                "a larger scale or a thinner sheet"
            )


def _inside(line: Floats, part: shapely.Geometry, metal: Sheet) -> list[Floats]:
    """The pieces of a fold line that run over the part, its slots counted as part of it."""
    whole = part.buffer(0.6 * metal.slot, join_style="mitre").buffer(-0.6 * metal.slot, join_style="mitre")
    pieces = shapely.LineString(line).intersection(whole)
    return [np.asarray(p.coords) for p in getattr(pieces, "geoms", [pieces]) if p.length > metal.bridge]


def _schedule(made: list[Flexure]) -> list[str]:
    """A line for the flexures that are alike, with the hinges that have them."""
    alike: dict[str, list[int]] = {}
    for f in made:
        told = (f"{f.rows} row{'s' * (f.rows > 1)} of {f.bars} bars {1e3 * f.bar_length:.2f} mm long, "
                f"{1e3 * f.width:.2f} mm wide, {1e3 * f.stiffness:.2f} mN m/rad, {1e-6 * f.stress:.0f} of "
                f"{1e-6 * f.allowed:.0f} MPa at {math.degrees(f.angle):.0f} deg")  # fmt: skip
        alike.setdefault(told, []).append(f.hinge)
    return [f"hinge{'s' * (len(h) > 1)} {' '.join(map(str, h))}: {told}" for told, h in alike.items()]


def workable(record: Record, metal: Sheet) -> Sheet:
    """The sheet as asked, or with the smallest of SCALES at which every flexure fits. Raises InputError."""
    if metal.scale > 0.0:
        return metal
    for scale in SCALES:
        tried = replace(metal, scale=scale)
        try:
            cut_sheet(record, tried)
        except InputError as fault:
            if scale == SCALES[-1]:
                raise InputError(f"{fault} (tried scales {SCALES[0]:g} to {SCALES[-1]:g})") from fault
        else:
            return tried
    raise AssertionError("one of the scales returned or raised")


def write_cut_metal(record: Record, folder: Path, metal: Sheet | None = None) -> list[Path]:
    """cut_metal.dxf: layer cut holds the tool's path (kerf allowed for), mountain and valley the fold lines.

    Raises InputError where a flexure does not fit, MissingPackageError without ezdxf.
    """
    metal = workable(record, metal or Sheet())
    part, made = cut_sheet(record, metal)
    drawing = DxfFile()
    drawing.face("cut", part.buffer(metal.kerf / 2, join_style="mitre"))
    for hinge in record["hinges"]:
        sense = hinge_sense(record, hinge)
        for line in _inside(metal.scale * hinge_line(hinge), part, metal):
            drawing.line("datum" if sense == "flat" else sense, line)
    left, bottom, right, _ = part.bounds
    height = (right - left) / 60
    drawing.bar(np.array([left, bottom - 2.5 * height]), right - left, height)
    words = [
        f"{record['id']}: bending model at scale {metal.scale:g}, one sheet, mm",
        f"sheet {1e3 * metal.thickness:.2f} mm, E {1e-9 * metal.modulus:.0f} GPa, yield "
        f"{1e-6 * metal.strength:.0f} MPa, kerf {1e3 * metal.kerf:.2f} mm allowed for (line: middle of the cut)",
        *(["framed panels: the frames alone, open inside"] if any(map(sheet_thickness, record["panels"])) else []),
        f"flexures: bar {1e3 * metal.bar:.2f} mm, slot {1e3 * metal.slot:.2f} mm, bridge {1e3 * metal.bridge:.2f} mm",
        *_schedule(made),
        "A model to handle, not a part. Cut edges are sharp, and strips spring back.",
    ]  # fmt: skip
    for k, text in enumerate(words):
        drawing.text(text, np.array([left, bottom - (5 + 1.7 * k) * height]), height)
    path = folder / "cut_metal.dxf"
    drawing.save(path)
    return [path]
