"""Cells and their variables: what a search may choose, told once for search, problem file, command and page.

A cell fixes everything that changes the topology: family, counts, layout, hinge units an
edge, latches. Its rows are points of the unit cube, one coordinate a real or categorical
variable, decoded here into columns.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import product

import numpy as np

from synth.core.arrays import Column, Floats, Ints
from synth.core.errors import InputError, nearest
from synth.core.family import Count, Family, Layout, Real
from synth.core.units import QuantityError, show, to_si
from synth.families import families
from synth.hinges.kind import JointKind
from synth.problem.catalogue import of_role, panel_materials
from synth.problem.problem import Problem
from synth.problem.vocabulary import Allowed, Vocabulary

SECTIONS = ("solid", "sandwich", "framed")
LATCHES = ("none", "all")
PASSING = ("gap", "notch")
TOLD = 1e-11
"""Records tell numbers to 12 digits, so a value at a bound may be told this share beyond it."""
BUILD_REALS: dict[str, Real] = {
    "thickness": Real(1e-3, 40e-3, "m", "panel thickness"),
    "edge_gap": Real(0.5e-3, 30e-3, "m", "deployed distance between outlines of neighbouring panels"),
    "face_share": Real(0.01, 0.2, "1", "thickness of one face, or of a frame's sheet, over the panel's"),
}
FLEXURES: dict[str, Real] = {
    "flexure_thickness": Real(0.5, 2.0, "1", "thickness of the hinge's leaf, bar, tape or band over the catalogue's"),
    "flexure_length": Real(
        0.5, 2.0, "1", "length of the hinge's leaf or bar, radius of its tape, over the catalogue's"
    ),
}
"""Of hinges that flex; there is none of these where a problem offers hinges without flexures only."""
LOGARITHMIC = frozenset({"build.thickness", "build.edge_gap", "build.face_share", *(f"build.{k}" for k in FLEXURES)})
"""Searched on a logarithmic scale: what matters is the ratio."""
BUILD_CHOICES: dict[str, str] = {
    "material": "panel material (faces of a sandwich)",
    "section": "solid, sandwich, or framed (a thin sheet in a stiff frame, transmissive optics only)",
    "hinge": "hinge kind",
}
BUILD_FIXED: dict[str, Count | Layout] = {
    "pairs": Count(1, 2, "pairs of hinge units on each hinged edge"),
    "latches": Layout(LATCHES, "latches on the free edges: none, all, or all of another kind of choices.latch_kinds"),
    "passing": Layout(PASSING, "room for hardware that passes: a gap wide enough, or notches in the panels passed"),
}


@dataclass(frozen=True, order=True)
class Cell:
    """Fixed fields of a batch, hashable and ordered: family and build values as (name, value) pairs."""

    family: str
    fixed: tuple[tuple[str, int | str], ...]
    build: tuple[tuple[str, int | str], ...]

    @property
    def label(self) -> str:
        """Short text for logs: family(counts; build)."""
        inner = ", ".join(f"{k}={v}" for k, v in self.fixed)
        return f"{self.family}({inner}; {', '.join(f'{k}={v}' for k, v in self.build)})"


@dataclass(frozen=True, eq=False)
class Axis:
    """One coordinate of a cell: a real range, or a list of options (equal bins of [0, 1])."""

    name: str
    low: float
    high: float
    unit: str
    options: tuple[str, ...] = ()
    scale: str = "linear"

    def decode(self, x: Column) -> Floats | Ints:
        """Values [n] of coordinates [n] in [0, 1]; option numbers for a choice."""
        if self.options:
            return np.minimum((x * len(self.options)).astype(np.int64), len(self.options) - 1)
        share = np.clip(x, 0.0, 1.0)
        if self.scale == "log":
            return self.low * (self.high / self.low) ** share
        return self.low + share * (self.high - self.low)

    def encode(self, value: float | str) -> float:
        """The coordinate of a value; the middle of the bin for an option."""
        if self.options:
            return (self.options.index(str(value)) + 0.5) / len(self.options)
        if self.high == self.low:
            return 0.5
        if self.scale == "log":
            return float(np.log(float(value) / self.low) / np.log(self.high / self.low))
        return (float(value) - self.low) / (self.high - self.low)


@dataclass(frozen=True, eq=False)
class Space:
    """The free coordinates of a cell under a problem: family reals first, then the build's.

    sized: names of the hinges whose flexures the search sizes; of other hinges those coordinates say nothing.
    """

    cell: Cell
    axes: tuple[Axis, ...]
    sized: frozenset[str] = frozenset()

    @property
    def size(self) -> int:
        return len(self.axes)

    def columns(self, rows: Floats) -> dict[str, Floats | Ints]:
        """Columns by full name ("accordion.cover", "build.thickness") of rows [n, D]."""
        return {axis.name: axis.decode(rows[:, k]) for k, axis in enumerate(self.axes)}

    def genes(self, row: Floats) -> dict[str, float | int | str]:
        """Every variable of one candidate by full name, fixed ones too."""
        out: dict[str, float | int | str] = {f"{self.cell.family}.{k}": v for k, v in self.cell.fixed}
        out.update({f"build.{k}": v for k, v in self.cell.build})
        for k, axis in enumerate(self.axes):
            value = axis.decode(row[k : k + 1])[0]
            out[axis.name] = axis.options[int(value)] if axis.options else float(value)
        if out.get("build.hinge") not in self.sized:
            for key in FLEXURES:
                out.pop(f"build.{key}", None)
        return out


def notched_panels(cell: Cell) -> bool:
    """Whether a cell's panels are notched where hardware passes; a cell that says nothing has a gap wide enough."""
    return dict(cell.build).get("passing", PASSING[0]) == PASSING[1]


def latchings(problem: Problem) -> tuple[str, ...]:
    """Values of build.latches: none, all with the first kind of latch, all with another kind by its id."""
    return (*LATCHES, *(kind.name for kind in problem.latch_kinds[1:]))


def latch_of(problem: Problem, cell: Cell) -> JointKind | None:
    """The latch on the free edges of a cell's designs, if any."""
    chosen, offered = dict(cell.build)["latches"], problem.latch_kinds
    return None if chosen == LATCHES[0] else next((k for k in offered[1:] if k.name == chosen), offered[0])


def kinds(cell: Cell) -> type[Family]:
    return families()[cell.family]


@cache
def vocabulary() -> Vocabulary:
    """Names, kinds and bounds of everything that a problem file may pin, for its validation."""
    rules: dict[str, Allowed] = {}
    for name, family in families().items():
        for key, variable in family.variables().items():
            rules[f"{name}.{key}"] = _rule(variable)
    rules.update({f"build.{k}": _rule(v) for k, v in {**BUILD_REALS, **FLEXURES, **BUILD_FIXED}.items()})
    rules["build.section"] = Allowed("choice", options=SECTIONS)
    rules["build.material"] = Allowed("choice", options=tuple(panel_materials()))
    rules["build.hinge"] = Allowed("choice", options=tuple(of_role("hinge")))
    rules["build.latches"] = Allowed("choice", options=(*LATCHES, *of_role("latch")))
    return Vocabulary(tuple(families()), rules)


def _rule(variable: Count | Real | Layout) -> Allowed:
    if isinstance(variable, Count):
        return Allowed("count", low=variable.low, high=variable.high)
    if isinstance(variable, Real):
        return Allowed("real", low=variable.low, high=variable.high, unit=variable.unit)
    return Allowed("choice", options=variable.options)


def space(problem: Problem, cell: Cell) -> Space:
    """Free coordinates of a cell: declared bounds, narrowed by the problem's pins and choices."""
    axes = [_real_axis(problem, f"{cell.family}.{key}", real) for key, real in kinds(cell).reals().items()]
    least_gap = min(k.least_gap for k in problem.hinge_kinds)
    for key, real in BUILD_REALS.items():
        low = max(real.low, problem.structure.edge_gap, least_gap) if key == "edge_gap" else real.low
        axes.append(_real_axis(problem, f"build.{key}", replace(real, low=low, high=max(low, real.high))))
    sized = frozenset(k.name for k in problem.hinge_kinds if k.sized)
    if sized:
        axes += [_real_axis(problem, f"build.{key}", real) for key, real in FLEXURES.items()]
    options = {
        "material": tuple(m.id for m in problem.materials),
        "section": problem.sections,
        "hinge": tuple(k.name for k in problem.hinge_kinds),
    }
    axes += [Axis(f"build.{key}", 0.0, 1.0, "1", names) for key, names in options.items()]
    return Space(cell, tuple(axes), sized)


def _real_axis(problem: Problem, name: str, real: Real) -> Axis:
    """A coordinate; a pin below the least gap of the hardware is kept, the candidate then says why it fails."""
    pin = problem.narrowed.get(name)
    low, high = (real.low, real.high) if pin is None else (pin.low, pin.high)
    return Axis(name, low, high, real.unit, scale="log" if name in LOGARITHMIC else "linear")


def _fits_pins(problem: Problem, cell: Cell) -> bool:
    """Whether the fixed fields of a cell obey the problem's pins."""
    build = {"passing": PASSING[0], **dict(cell.build)}
    pairs = [(f"{cell.family}.{k}", v) for k, v in cell.fixed] + [(f"build.{k}", v) for k, v in build.items()]
    for name, value in pairs:
        pin = problem.narrowed.get(name)
        if pin is None:
            continue
        if isinstance(value, str):
            if value not in pin.options:
                return False
        elif not pin.low <= value <= pin.high:
            return False
    return True


def _build_variants(
    problem: Problem, family: str, fixed: Mapping[str, int | str]
) -> Iterator[tuple[tuple[str, int | str], ...]]:
    """Latches and hinge units that make a difference for a topology; without free edges any latch choice is one."""
    pin = problem.narrowed.get("build.latches")
    latches = tuple(k for k in latchings(problem) if pin is None or k in pin.options)
    for latch in latches if families()[family].has_free_edges(fixed) else latches[:1]:
        for pairs in (1, 2):
            yield (("latches", latch), ("pairs", pairs))
            if families()[family].admits_notches(fixed):
                yield (("latches", latch), ("pairs", pairs), ("passing", PASSING[1]))


def first_cells(problem: Problem, family: str) -> list[Cell]:
    """Cells a search of this family starts from, obeying pins and the panel limit."""
    found = []
    for fixed in _starting(problem, family):
        for build in _build_variants(problem, family, fixed):
            if dict(build)["pairs"] != 1 and "build.pairs" not in problem.narrowed:
                continue
            if "passing" in dict(build) and "build.passing" not in problem.narrowed:
                continue
            cell = Cell(family, tuple(sorted(fixed.items())), build)
            if _fits_pins(problem, cell):
                found.append(cell)
    return spread_out(list(dict.fromkeys(found)))


def spread_out(cells: list[Cell]) -> list[Cell]:
    """The same cells in an order whose every beginning is spread over the list (radical inverse in base 2).

    A small budget cannot try all starting cells: those that it tries should not be neighbours.
    """

    def inverse(k: int) -> float:
        out, share = 0.0, 0.5
        while k:
            out += share * (k & 1)
            k, share = k >> 1, share / 2.0
        return out

    return [cells[k] for k in sorted(range(len(cells)), key=inverse)]


def _starting(problem: Problem, family: str) -> list[dict[str, int | str]]:
    """Fixed fields of the family's own first cells, in its order, moved to the nearest that the pins allow."""
    kind, most = families()[family], problem.choices.max_panels
    found: list[dict[str, int | str]] = []
    for given in kind.first_cells(most):
        values = [_moved(problem, f"{family}.{key}", value) for key, value in given.items()]
        for choice in product(*values):
            fixed = dict(zip(given, choice, strict=True))
            if fixed not in found and kind.allowed(fixed) and kind.panel_count(fixed) <= most:
                found.append(fixed)
    return found


def _moved(problem: Problem, name: str, value: int | str) -> Sequence[int | str]:
    """A fixed value itself where its pin allows it; else the nearest count, or every layout allowed."""
    pin = problem.narrowed.get(name)
    if pin is None:
        return (value,)
    if isinstance(value, str):
        return (value,) if value in pin.options else pin.options
    return (int(min(max(value, math.ceil(pin.low)), math.floor(pin.high))),)


def relatives(problem: Problem, cell: Cell, rng: np.random.Generator) -> list[Cell]:
    """Cells one step away: the family's own, and the same topology with other latches or hinge units."""
    family = kinds(cell)
    near = [
        Cell(cell.family, tuple(sorted(c.items())), cell.build)
        for c in family.relatives(dict(cell.fixed), problem.choices.max_panels, rng)
    ]
    variants = _build_variants(problem, cell.family, dict(cell.fixed))
    near += [Cell(cell.family, cell.fixed, b) for b in variants if b != cell.build]
    return [c for c in dict.fromkeys(near) if _fits_pins(problem, c) and _apart(problem, c)]


def _apart(problem: Problem, cell: Cell) -> bool:
    """Whether no other cell stands for the same designs (latches without free edges do)."""
    return cell.build in _build_variants(problem, cell.family, dict(cell.fixed))


def cell_from(problem: Problem, family: str, values: Mapping[str, float | int | str]) -> tuple[Cell, Floats]:
    """A cell and one row [1, D] from variables given by name ("strips" or "accordion.strips", "build.thickness").

    What is not given takes the middle of its range, or what it is in the first starting cell that goes with the rest.
    Raises InputError for unknown names and values out of range.
    """
    if family not in families():
        hint = nearest(family, families())
        raise InputError(f"family: unknown family '{family}'; known: {', '.join(families())}.{hint}")
    kind = families()[family]
    start = _starting(problem, family)
    if not start:
        raise InputError(f"family: no {family} obeys choices.max_panels and choices.variables")
    chosen: dict[str, int | str] = {}
    usual: tuple[tuple[str, int | str], ...] = (("latches", "none"), ("pairs", 1), ("passing", PASSING[0]))
    build = {key: _moved(problem, f"build.{key}", value)[0] for key, value in usual}
    free: dict[str, float | str] = {}
    known = vocabulary().variables
    for name, value in values.items():
        full = name if "." in name else (f"{family}.{name}" if f"{family}.{name}" in known else f"build.{name}")
        if full not in known or not (full.startswith(f"{family}.") or full.startswith("build.")):
            mine = [k for k in known if k.startswith((f"{family}.", "build."))]
            raise InputError(f"set {name}: unknown variable; known: {', '.join(mine)}.{nearest(name, mine)}")
        owner, key = full.split(".", 1)
        if owner == family and key in kind.fixed():
            chosen[key] = _fixed_value(full, kind.fixed()[key], value)
        elif owner == "build" and key in BUILD_FIXED:
            given = Layout(latchings(problem), "") if key == "latches" else BUILD_FIXED[key]
            build[key] = _fixed_value(full, given, value)
        else:
            free[full] = value
    fixed = next((f for f in ({**c, **chosen} for c in start) if kind.allowed(f)), None)
    if fixed is None:
        raise InputError(f"set: these values of {family} do not go together: {chosen}")
    if build["passing"] == PASSING[0]:
        del build["passing"]
    elif not kind.admits_notches(fixed):
        raise InputError(f"set build.passing: no notched panels in {family} with {fixed}; allowed: {PASSING[0]}")
    cell = Cell(family, tuple(sorted(fixed.items())), tuple(sorted(build.items())))
    _within(problem, cell)
    axes = space(problem, cell).axes
    row = np.full((1, len(axes)), 0.5)
    for k, axis in enumerate(axes):
        if axis.options:
            row[0, k] = 0.5 / len(axis.options)
        if axis.name not in free:
            continue
        row[0, k] = _coordinate(axis, free[axis.name])
    return cell, row


def _within(problem: Problem, cell: Cell) -> None:
    """Raises InputError where the fixed fields of a cell break the problem's own choices."""
    panels, most = kinds(cell).panel_count(dict(cell.fixed)), problem.choices.max_panels
    if panels > most:
        raise InputError(f"set: this {cell.family} has {panels} panels, choices.max_panels is {most}")
    if not _fits_pins(problem, cell):
        pinned = [n for n in problem.narrowed if n.startswith((f"{cell.family}.", "build."))]
        raise InputError(f"set: {cell.label} is outside choices.variables, which narrow {', '.join(pinned)}")


def _fixed_value(name: str, variable: Count | Layout, value: float | int | str) -> int | str:
    if isinstance(variable, Layout):
        if variable.options and str(value) not in variable.options:
            raise InputError(f"set {name}: must be one of {', '.join(variable.options)}; got {value}")
        return str(value)
    try:
        number = int(str(value))
    except ValueError:
        raise InputError(f"set {name}: must be a whole number; got {value}") from None
    if not variable.low <= number <= variable.high:
        raise InputError(f"set {name}: must be {variable.low} to {variable.high}; got {number}")
    return number


def _coordinate(axis: Axis, value: float | str) -> float:
    if axis.options:
        if str(value) not in axis.options:
            hint = nearest(str(value), axis.options)
            raise InputError(f"set {axis.name}: must be one of {', '.join(axis.options)}; got {value}.{hint}")
        return axis.encode(str(value))
    bounds = f"{show(axis.low, axis.unit)} to {show(axis.high, axis.unit)}"
    try:
        number = to_si(_number(value), axis.unit)
    except QuantityError:
        raise InputError(f"set {axis.name}: must be {bounds}; got {value}") from None
    if not axis.low - TOLD * abs(axis.low) <= number <= axis.high + TOLD * abs(axis.high):
        raise InputError(f"set {axis.name}: must be {bounds}; got {show(number, axis.unit)}")
    return axis.encode(min(max(number, axis.low), axis.high))


def _number(value: float | str) -> float | str:
    """A text that is a bare number as that number; any other text as it is (it may carry a unit)."""
    try:
        return float(value)
    except ValueError:
        return value
