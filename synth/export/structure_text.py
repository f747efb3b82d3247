"""Deployed modes and the stowed stack of a record, in words and tables."""

from collections.abc import Mapping
from typing import Any

from synth.export.engineering import table

NAMED = 4
"""Joints and panels named of one mode."""


def mode_words(record: Mapping[str, Any], mode: Mapping[str, Any]) -> str:
    """What a mode is: in or out of the plane, who moves, where the strain sits."""
    flat = float(mode["in_plane"])
    how = "out of plane" if flat < 0.2 else ("in plane" if flat > 0.8 else f"mixed, {100 * flat:.0f} % in plane")
    moving = sorted(enumerate(mode["moving"]), key=lambda m: (-round(m[1], 3), m[0]))
    who = [f"{p} ({100 * share:.0f} %)" for p, share in moving[:NAMED] if share >= 0.05]
    words = f"{how}; panel{'s' if len(who) > 1 else ''} {', '.join(who)} move{'' if len(who) > 1 else 's'} most"
    held = [
        f"{j['joint']} {j['component']} {100 * j['share']:.0f} %" for j in mode["joints"][:NAMED] if j["share"] > 0.05
    ]
    bent = float(mode["panels_bending"])
    strain = [*held, f"panels bending {100 * bent:.0f} %"] if bent >= 0.005 else held
    return f"{words}; {_sides(record, mode)}; strain: {', '.join(strain)}"


def _sides(record: Mapping[str, Any], mode: Mapping[str, Any]) -> str:
    """Whether panels that move go the same way: signs of their mean deflection."""
    means = [(p["id"], sum(c[2] for c in corners) / len(corners))
             for p, corners in zip(record["panels"], mode["corners"], strict=True)]  # fmt: skip
    most = max(abs(m) for _, m in means)
    if most < 0.05:
        return "little goes up or down"
    up, down = ([p for p, m in means if s * m > 0.25 * most] for s in (1.0, -1.0))
    if not up or not down:
        return "all that moves goes one way"
    lead, other = (up, down) if len(up) >= len(down) else (down, up)
    return f"{_listed(other)} against {_listed(lead)}"


def _listed(panels: list[int]) -> str:
    some = " ".join(str(p) for p in panels[:6])
    return some + (f" and {len(panels) - 6} more" if len(panels) > 6 else "")


def modes_text(record: Mapping[str, Any]) -> str:
    """First deployed modes, free of the spacecraft's own motion: the mount is the ground."""
    rows = [[str(k), f"{m['frequency_hz']:.2f} Hz", mode_words(record, m)]
            for k, m in enumerate(record.get("modes") or [], start=1)]  # fmt: skip
    if not rows:
        return ""
    return "Deployed modes, mount on rigid ground\n" + table(["", "frequency", "shape"], rows, left=3)


def stowed_text(record: Mapping[str, Any]) -> str:
    """The stack under the launch load: mode, stress with its margin of safety, deflection against the gap, preload."""
    told, metrics = record.get("launch"), record["metrics"]
    if not told:
        return ""
    points = sorted({len(p["hold_downs"]) for p in told["panels"]})
    layers = max(p["layer"] for p in told["panels"])
    pile = (
        f"{layers} layers in one stack" if told["stacked"] else "panels beside each other, each on its own hold-downs"
    )
    rows = [
        ["hold-downs", f"{' or '.join(str(n) for n in points)} a panel by rule; {pile}"],
        ["first mode", f"{metrics['stowed_first_mode_hz']:.1f} Hz (panels on pads, stack; spacecraft rigid)"],
    ]
    ratio = float(metrics["launch_stress_ratio"])
    if told["load_g"] > 0.0:
        strength = 1e-6 * told["allowable_pa"] * told["safety_factor"]
        rows += [
            ["quasi-static load", f"{told['load_g']:g} standard gravities along the stack"],
            ["panel stress", f"{1e-6 * ratio * told['allowable_pa']:.2f} MPa, strength {strength:.0f} MPa,"
             f" factor of safety {told['safety_factor']:g}: margin of safety {1.0 / max(ratio, 1e-9) - 1.0:+.2f}"],
            ["panel deflection", f"{1e3 * metrics['launch_deflection_m']:.3f} mm, {_contact(metrics)}"],
            ["hold-down preload", f"at least {metrics['restraint_preload_n']:.0f} N each keeps the stack seated"],
        ]  # fmt: skip
    return "Stowed\n" + table(["what", "found"], rows, left=2)


def _contact(metrics: Mapping[str, Any]) -> str:
    share = float(metrics["launch_contact_ratio"])
    if share >= 1.0:
        return f"{share:.2f} of the panel gap: PANELS TOUCH unless they are snubbed"
    if share > 0.5:
        return f"{share:.2f} of the panel gap: panels that move against each other touch"
    return f"{share:.2f} of the panel gap"
