"""Framed panels: a thin transmitting sheet bonded flush with the front of a stiff frame, as one smeared plate.

The frame is a band of width b along the outline, of rectangular section b x h below the sheet, h = t - t_s. Of a ring
of bars only those along a direction bend with it: half of the frame's area, so its share a unit width is A_f / (2 A).
Sheet and frame then bend as one composite section, exact for a square ring bent about one axis; twist adds the bars'
G J. The sheet's own sag between the bars is not in the plate: sheet_held tells its stress and frequency.
"""

from dataclasses import dataclass, replace

import numpy as np

from synth.core.arrays import Bools, Column, Floats
from synth.core.material import ADHESIVE, Material
from synth.core.panels import Panels
from synth.core.polygon import area, inset
from synth.core.status import Status
from synth.structure.loads import STANDARD_GRAVITY
from synth.structure.section import SAFETY, SAFETY_ELSE, Materials, Section, figure_rms, through

FRAME_PADS = 2.4
"""Width of a frame over the pad radius of the joints that stand on it: the whole pad lies on the frame (rule)."""
LEAST_SHEET = 0.3e-3
"""Thinnest sheet (m) that is bonded flat (common practice for drawn glass)."""
LEAST_BAR = 2.0e-3
"""Least height of a frame's bars under the sheet (m; common practice)."""
FIGURE_FRAMED = 2.0e-6
"""Flatness rms of a sheet of 0.3 m side bonded in a frame, m (common practice, not measured data)."""
STRIP_STRESS, STRIP_ROOT = 0.5, 22.3733
"""Clamped strip of width a: edge stress 0.5 q a^2 / t^2; first root of the clamped beam, omega a^2 sqrt(m / D)."""


@dataclass(frozen=True, eq=False)
class Shape:
    """Frame columns: width [B] m, window [B, P, V, 2], bar area [B, P] m^2, share [B] = A_f / (2 A) over all panels."""

    width: Column
    window: Floats
    bars: Floats
    share: Column


@dataclass(frozen=True, eq=False)
class Composite:
    """Smeared plate of sheet and bars, columns [B]: D and nu, and what bends and stretches it.

    flexural: EI of sheet and bars about their common axis. warm: curvature a kelvin of bulk change, and of difference
    through the thickness; grow: strain a kelvin; bars_bow, bars_grow: curvature and strain when bars alone grow by 1.
    stress: face stress of bars and of sheet a bending moment (1/m^2).
    """

    stiffness: Column
    poisson: Column
    warm_bulk: Column
    warm_front: Column
    grow: Column
    bars_bow: Column
    bars_grow: Column
    bar_stress: Column
    sheet_stress: Column


def frame_shape(outline: Floats, width: Column) -> tuple[Shape, Status]:
    """Frames of that width [B] inside convex outlines [B, P, V, 2]; status: whether windows are left everywhere."""
    window, left = inset(outline, np.repeat(width[:, None], outline.shape[1], axis=1))
    status = Status.fine(len(width)).require(
        np.minimum(left.min(axis=1) - 0.05, 0.0), "a panel is too small for its frame"
    )
    whole, clear = area(outline), area(window)
    bars = np.clip(whole - clear, 0.0, whole)
    share = bars.sum(axis=1) / (2.0 * np.maximum(whole.sum(axis=1), 1e-12))
    window = np.where((left >= 0.05)[..., None, None], window, outline)
    return Shape(width, window, bars, share), status


def composite(sheet: Materials, bars: Material, thickness: Column, sheet_thickness: Column, shape: Shape) -> Composite:
    """Plate of a sheet flush with the front on bars below it (composite beam theory, derived).

    Layers of two metals give the classical bimetal curvature (case thermal.bimetal)."""
    ts, h = sheet_thickness, thickness - sheet_thickness
    es, ef = sheet.youngs_modulus / (1.0 - sheet.poisson_ratio**2), bars.youngs_modulus
    zs, zf = -0.5 * ts, -0.5 * (thickness + ts)
    ns, nf = es * ts, ef * shape.share * h
    axis = (ns * zs + nf * zf) / (ns + nf)
    of_sheet = ns * (ts**2 / 12.0 + (zs - axis) ** 2)
    of_bars = nf * (h**2 / 12.0 + (zf - axis) ** 2)
    whole = of_sheet + of_bars
    # a bar of b x h twists with G J, J = c2 long short^3 (Roark table 10.7 case 4)
    long, short = np.maximum(shape.width, h), np.minimum(shape.width, h)
    ratio = short / long
    c2 = (16.0 / 3.0 - 3.36 * ratio * (1.0 - ratio**4 / 12.0)) / 16.0
    twist = 6.0 * c2 * long * short**3 / ((1.0 + bars.poisson_ratio) * shape.width * h**3)
    held = of_sheet * (1.0 - sheet.poisson_ratio) + nf * h**2 / 12.0 * twist
    poisson = np.clip(1.0 - held / whole, -0.9, 0.9)
    front = (zs + 0.5 * thickness) / thickness
    own = nf * bars.cte * (h**2 / 12.0) / thickness + ns * sheet.cte * (ts**2 / 12.0) / thickness
    behind = (zf + 0.5 * thickness) / thickness
    pull_bulk = ns * sheet.cte * (zs - axis) + nf * bars.cte * (zf - axis)
    pull_front = ns * sheet.cte * front * (zs - axis) + nf * bars.cte * behind * (zf - axis) + own
    return Composite(
        stiffness=whole,
        poisson=poisson,
        warm_bulk=-pull_bulk / whole,
        warm_front=-pull_front / whole,
        grow=(ns * sheet.cte + nf * bars.cte) / (ns + nf),
        bars_bow=-nf * (zf - axis) / whole,
        bars_grow=nf / (ns + nf),
        bar_stress=ef * np.maximum(np.abs(-thickness - axis), np.abs(-ts - axis)) / whole,
        sheet_stress=es * np.maximum(np.abs(-ts - axis), np.abs(axis)) / whole,
    )


@dataclass(frozen=True)
class Warmth:
    """Bulk change and difference through the thickness (K), heat flux (W/m^2), moisture strain."""

    bulk: float
    front: float
    flux: float
    moisture: float


def framed(
    chosen: Bools, sheet: Materials, bars: Material, outline: Floats, width: Column, warmth: Warmth, panels: Panels,
    made: Section, face: Floats,
) -> tuple[Panels, Section, Status]:  # fmt: skip
    """Panels and sections with those of `chosen` [B] framed; the others stay. face [B]: sheet thickness over t.

    Mass: sheet over the whole outline, bars and a bondline under it. The flux passes through the bars.
    """
    t, ts = made.thickness, face * made.thickness
    shape, status = frame_shape(outline, width)
    plate = composite(sheet, bars, t, ts, shape)
    whole = area(outline)
    mass = sheet.density[:, None] * ts[:, None] * whole
    mass = mass + (bars.density * (t - ts)[:, None] + ADHESIVE) * shape.bars
    wet = warmth.moisture if bars.kind == "composite" else 0.0
    front = warmth.front + warmth.flux * (t - ts) / through(bars)
    allowed = bars.strength / SAFETY.get(bars.kind, SAFETY_ELSE)
    each = np.maximum(plate.bar_stress / allowed, plate.sheet_stress / made.allowable)
    figure = np.maximum(made.figure, FIGURE_FRAMED)

    def pick(new: Floats, old: Floats) -> Floats:
        return np.where(chosen.reshape(-1, *(1,) * (np.ndim(old) - 1)), new, old)

    section = replace(
        made,
        face=pick(ts, made.face),
        stress_per_moment=pick(each * made.allowable, made.stress_per_moment),
        figure=pick(figure, made.figure),
    )
    built = replace(
        panels,
        mass=pick(mass, panels.mass),
        stiffness=pick(np.repeat(plate.stiffness[:, None], whole.shape[1], axis=1), panels.stiffness),
        poisson=pick(plate.poisson, panels.poisson),
        bow=pick(plate.warm_bulk * warmth.bulk + plate.warm_front * front + plate.bars_bow * wet, panels.bow),
        bulk_strain=pick(plate.grow * warmth.bulk + plate.bars_grow * wet, panels.bulk_strain),
        figure=pick(figure_rms(section, whole), panels.figure),
        window=pick(shape.window, outline),
        sheet=pick(ts, t),
    )
    thin = np.minimum(ts / LEAST_SHEET - 1.0, 0.0)
    status = status.require(thin, "the sheet of the framed panel is thinner than 0.3 mm")
    status = status.require(np.minimum((t - ts) / LEAST_BAR - 1.0, 0.0), "the bars of the frame are lower than 2 mm")
    return built, section, Status(np.where(chosen, status.reason, ""), np.where(chosen, status.residual, 0.0))


def sheet_held(panels: Panels, made: Section, sheet: Materials, load_g: float) -> tuple[Column, Column]:
    """First frequency (Hz) and stress ratio under load_g gravities [B] of the worst sheet between its bars.

    A clamped strip as wide as the window's least width: the frequency is a lower bound (a window inside the strip is
    held more), the stress an upper one (derived; a clamped square has 36.0 for 22.4 and 0.308 for 0.5: case
    plate.static_clamped_square). Rows whose window is the whole face get no limit: frequency 1e9, ratio 0.
    """
    assert panels.window is not None
    width = least_width(panels.window).max(axis=1)
    ts, density = made.face, sheet.density
    stiff = sheet.youngs_modulus * ts**2 / (12.0 * (1.0 - sheet.poisson_ratio**2))
    hertz = STRIP_ROOT / (2.0 * np.pi * width**2) * np.sqrt(stiff / density)
    stress = STRIP_STRESS * density * ts * STANDARD_GRAVITY * load_g * (width / ts) ** 2
    return hertz, stress / made.allowable


def least_width(outline: Floats) -> Floats:
    """Least distance [...] of two parallel lines that hold convex polygons [..., V, 2] between them."""
    step = np.roll(outline, -1, axis=-2) - outline
    length = np.linalg.norm(step, axis=-1)
    real = np.asarray(length > 1e-9)
    u = step / np.where(real, length, 1.0)[..., None]
    normal = np.stack([-u[..., 1], u[..., 0]], axis=-1)
    across = np.ptp(normal @ np.swapaxes(outline, -1, -2), axis=-1)
    return np.asarray(np.where(real, across, np.inf).min(axis=-1))
