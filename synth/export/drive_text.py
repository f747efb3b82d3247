"""Torque margins, energy and speed of a record's hinges, as tables."""

from collections.abc import Mapping
from typing import Any

from synth.export.engineering import table


def drive_text(record: Mapping[str, Any]) -> str:
    """Margins of both standard forms, worst angle, latch-up energy and speed; hinges alike in one row."""
    told = record.get("drive")
    if not told:
        return ""
    c, h = told["cold"], told["hot"]
    text = "Drive, least margin over all angles on the way, the worse of cold and hot\n"
    groups: dict[tuple[str, ...], list[int]] = {}
    for row in told["hinges"]:
        groups.setdefault(tuple(_cells(row)), []).append(row["hinge"])
    heads = ["hinge", "ECSS", "NASA", "one spring out", "weakest\n[mN m]", "at\n[deg]", "inertia\n[kg m2]",
             "stored\n[mJ]", "free end\n[rad/s]", "damped\n[rad/s]"]  # fmt: skip
    text += table(heads, [[_span(ids), *cells] for cells, ids in groups.items()])
    if told.get("loop"):
        loop = told["loop"]
        text += (f"\nLoops tie the hinges together; as one mechanism: ECSS {loop['ecss_margin']:+.2f}, "
                 f"NASA {loop['nasa_margin']:+.2f}.")  # fmt: skip
    first, second = told["forms"]
    return text + (
        "\nECSS: 0.8 x supplied / (2 (1.2 spring + 3 friction + 3 hysteresis + 3 harness) + 1.25 inertia) - 1,"
        f"\n  {first}. NASA: supplied / (1.5 spring + 3 (friction + hysteresis + harness) + 1.25 inertia) - 1,"
        f"\n  {second}. Both are met at 0 or more. weakest: supplied torque where it is least."
        f"\nCold: friction x {c['friction']:g}, harness x {c['harness']:g}; hot: springs x {h['spring']:g}; a stage"
        f" takes {told['stage_seconds']:g} s (practice, to be"
        "\n  measured: the standards ask for a test whatever the analysis says)."
        "\nfree end: rate at the stop without damper or friction; damped: greatest rate of the damped stage."
    )


def _cells(row: Mapping[str, Any]) -> list[str]:
    """Everything of a hinge but its number."""
    margins = [f"{row[k]:+.2f}" if row.get(k) is not None else "-"
               for k in ("ecss_margin", "nasa_margin", "one_spring_out_margin")]  # fmt: skip
    weak = min(range(len(row["angle_rad"])), key=lambda k: (row["supplied_n_m"][k], k))
    return [*margins, f"{1e3 * row['supplied_n_m'][weak]:.1f}", f"{57.29577951308232 * row['angle_rad'][weak]:.0f}",
            f"{row['moved_inertia_kg_m2']:.4f}", f"{1e3 * row['stored_energy_j']:.0f}",
            f"{row['free_rate_rad_s']:.2f}", f"{row['damped_rate_rad_s']:.3f}"]  # fmt: skip


def _span(ids: list[int]) -> str:
    """Numbers with runs joined: 0-2 5."""
    runs: list[list[int]] = []
    for i in ids:
        if runs and i == runs[-1][-1] + 1:
            runs[-1].append(i)
        else:
            runs.append([i])
    return " ".join(str(r[0]) if len(r) == 1 else f"{r[0]}-{r[-1]}" for r in runs)
