"""Numbers as engineers read them: litres, millimetres, micrometres, microradians."""

from dataclasses import dataclass

_TITLES = {
    "stowed_volume_m3": "stowed volume",
    "longest_stowed_side_m": "longest side",
    "mass_kg": "mass",
    "basic_mass_kg": "basic mass",
    "collecting_area_m2": "area",
    "surface_rms_m": "surface rms",
    "in_plane_rms_m": "in-plane rms",
    "blur_rad": "blur",
    "first_mode_hz": "first mode",
    "stowed_first_mode_hz": "stowed mode",
    "packing_efficiency": "packing",
    "part_count": "parts",
    "panel_count": "panels",
    "distinct_parts": "distinct parts",
    "fit_ratio": "fit",
    "launch_stress_ratio": "launch stress",
    "launch_deflection_m": "launch deflection",
    "launch_contact_ratio": "launch contact",
    "torque_ratio": "torque ratio",
    "latch_energy_j": "latch energy",
    "restraint_preload_n": "hold-down preload",
    "hinge_stress_ratio": "hinge stress",
    "least_panel_width_m": "least width",
    "longest_panel_m": "longest panel",
    "panel_gap_m": "panel gap",
    "edge_gap_m": "edge gap",
}
_SUFFIXES = {
    "_m3": "m^3",
    "_m2": "m^2",
    "_m": "m",
    "_kg": "kg",
    "_hz": "Hz",
    "_rad": "rad",
    "_n_m": "N m",
    "_n": "N",
    "_j": "J",
}
_COUNTS = ("part_count", "panel_count", "distinct_parts")


@dataclass(frozen=True)
class Shown:
    """How a quantity is shown: value times scale, in unit, with that many decimals."""

    title: str
    unit: str
    scale: float
    decimals: int

    def number(self, value: float) -> str:
        """The number alone."""
        return f"{value * self.scale:.{self.decimals}f}"

    def text(self, value: float) -> str:
        """Number and unit."""
        return f"{self.number(value)} {self.unit}".rstrip()

    @property
    def heading(self) -> str:
        """Title, and under it the unit in brackets."""
        return f"{self.title}\n[{self.unit}]" if self.unit else self.title


def shown(name: str, unit: str | None = None) -> Shown:
    """How a metric, a requirement or a gene is shown, from its name and its SI unit (default: from its suffix)."""
    title = _TITLES.get(name, name.rsplit(".", 1)[-1].replace("_", " "))
    if unit is None:
        suffix = next((s for s in sorted(_SUFFIXES, key=len, reverse=True) if name.endswith(s)), "")
        unit = _SUFFIXES.get(suffix, "1")
    if name in _COUNTS:
        return Shown(title, "", 1.0, 0)
    if unit == "m":
        fine = "rms" in name
        return (
            Shown(title, "um", 1e6, 2)
            if fine
            else Shown(title, "mm", 1e3, 2 if "gap" in name or "deflection" in name else 1)
        )
    table = {
        "m^3": ("l", 1e3, 2),
        "m^2": ("m^2", 1.0, 4),
        "kg": ("kg", 1.0, 2),
        "Hz": ("Hz", 1.0, 2),
        "rad": ("urad", 1e6, 1),
        "N m": ("N m", 1.0, 2),
        "N": ("N", 1.0, 1),
        "J": ("J", 1.0, 4),
    }
    return Shown(title, *table.get(unit, ("", 1.0, 3)))


def table(heads: list[str], rows: list[list[str]], left: int = 1) -> str:
    """Aligned columns under their heads and a rule; the first `left` columns to the left, the others to the right.

    A head may have several lines.
    """
    deep = max(h.count("\n") for h in heads) + 1
    stacked = [h.split("\n") + [""] * (deep - 1 - h.count("\n")) for h in heads]
    wide = [max(len(c) for c in (*h, *(r[k] for r in rows))) for k, h in enumerate(stacked)]

    def line(cells: list[str]) -> str:
        parts = [c.ljust(w) if k < left else c.rjust(w) for k, (c, w) in enumerate(zip(cells, wide, strict=True))]
        return "  ".join(parts).rstrip()

    above = [line([h[k] for h in stacked]) for k in range(deep)]
    return "\n".join([*above, "  ".join("-" * w for w in wide), *(line(r) for r in rows)])
