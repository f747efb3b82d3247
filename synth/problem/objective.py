"""What a search may be asked to better."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Objective:
    """metric: the metric that is bettered; sign: 1 where less is better, -1 where more is; unit: SI."""

    name: str
    metric: str
    sign: int
    unit: str


OBJECTIVES: dict[str, Objective] = {
    name: Objective(name, metric, sign, unit)
    for name, metric, sign, unit in (
        ("stowed_volume", "stowed_volume_m3", 1, "m^3"),
        ("longest_stowed_side", "longest_stowed_side_m", 1, "m"),
        ("mass", "mass_kg", 1, "kg"),
        ("surface_rms", "surface_rms_m", 1, "m"),
        ("in_plane_rms", "in_plane_rms_m", 1, "m"),
        ("blur", "blur_rad", 1, "rad"),
        ("collecting_area", "collecting_area_m2", -1, "m^2"),
        ("first_mode", "first_mode_hz", -1, "Hz"),
        ("part_count", "part_count", 1, "1"),
        ("distinct_parts", "distinct_parts", 1, "1"),
    )
}
