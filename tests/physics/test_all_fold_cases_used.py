"""Every reference case of fold geometry is read by a test, or struck out with the reason."""

import ast
import re
from pathlib import Path

from tests.physics.fold_cases import all_cases

STRUCK = {
    "pack_reflectarray_1p5m": "a folded and wrapped film: no rigid panels, quotients of published sizes",
    "pack_power_satellite_60m": "a slip-wrapped film structure: no rigid panels, quotients of published sizes",
    "pack_wrapped_gore": "curved reflectors: this program knows flat apertures only, quotients of published sizes",
    "pack_reflectarray_6U": "the way of folding is not told: a quotient of published sizes, nothing to work out",
}


def named(tree: ast.AST) -> tuple[set[str], set[str], list[str]]:
    """Whole texts, beginnings given to cases() or startswith(), and patterns of f-strings given to case()."""
    whole, starts, patterns = set(), set(), []
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            whole.add(node.value)
        if not isinstance(node, ast.Call):
            continue
        called = getattr(node.func, "id", getattr(node.func, "attr", ""))
        given = [a for a in node.args if isinstance(a, ast.Constant) and isinstance(a.value, str)]
        if called in ("cases", "startswith"):
            starts |= {str(a.value) for a in given}
        if called == "case":
            for text in (a for a in node.args if isinstance(a, ast.JoinedStr)):
                parts = [re.escape(str(p.value)) if isinstance(p, ast.Constant) else r"\d+" for p in text.values]
                patterns.append("".join(parts))
    return whole, starts, patterns


def used() -> set[str]:
    found: set[str] = set()
    for file in Path(__file__).parent.parent.rglob("test_*.py"):
        text = file.read_text(encoding="utf-8")
        if "tests.physics.fold_cases import" not in text or file == Path(__file__):
            continue
        whole, starts, patterns = named(ast.parse(text))
        for name in all_cases():
            if name in whole or name.startswith(tuple(starts)) or any(re.fullmatch(p, name) for p in patterns):
                found.add(name)
    return found


def test_there_are_a_hundred_and_three_cases_and_each_is_used_or_struck_out() -> None:
    known = set(all_cases())
    assert len(known) == 103
    assert set(STRUCK) <= known and not set(STRUCK) & used()
    assert known - set(STRUCK) - used() == set(), "neither used nor struck out"


def test_every_case_keeps_its_flag_and_source_and_every_striking_out_has_a_reason() -> None:
    assert {c.checked for c in all_cases().values()} <= {"seen", "derived", "memory"}
    assert all(c.source for c in all_cases().values())
    assert all(len(reason) > 20 for reason in STRUCK.values())
