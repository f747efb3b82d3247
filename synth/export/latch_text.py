"""What the latches of a record must find and pull, as text."""

from collections.abc import Mapping
from typing import Any


def latch_text(record: Mapping[str, Any]) -> str:
    """The worst latch against what its kind captures and holds, and latch-up energy against what opens it."""
    told = [(latch["id"], latch["closing"]) for latch in record["latches"] if latch.get("closing")]
    if not told:
        return ""
    off = max(told, key=lambda one: one[1]["sideways_m"])
    hard = max(told, key=lambda one: one[1]["force_n"])
    energy = float(record["metrics"].get("latch_energy_j", 0.0))
    opens = float(off[1]["opens_with_j"])
    return "\n".join([
        "Latches, before any of them holds (three sigma and the steady error)",
        f"  latch {off[0]} is the farthest off: {1e3 * off[1]['sideways_m']:.3g} mm sideways; it captures "
        f"{1e3 * off[1]['captures_m']:.3g} mm, {_times(off[1]['captures_m'], off[1]['sideways_m'])}",
        f"  latch {hard[0]} takes most to close: {hard[1]['force_n']:.3g} N; it holds {hard[1]['holds_n']:.3g} N, "
        f"{_times(hard[1]['holds_n'], hard[1]['force_n'])}",
        f"  energy at latch-up without damper {1e3 * energy:.3g} mJ; pulling a latch open takes {1e3 * opens:.3g} mJ: "
        + ("it holds even without the damper" if energy <= opens else "the damper has to take the rest"),
    ])  # fmt: skip


def _times(limit: float, need: float) -> str:
    return f"{limit / need:.1f} times" if need > 0.0 else "with nothing asked"
