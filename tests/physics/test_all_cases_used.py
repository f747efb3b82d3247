"""Every reference case of mass, structure, hinges, accuracy, optics, drive and fronts is a test or struck out."""

import ast
from pathlib import Path

from tests.physics.structure_cases import STRUCK, all_cases


def used() -> set[str]:
    """Ids given to case(...), and those that begin with what is given to cases(...), anywhere in the tests."""
    names: set[str] = set()
    starts: list[str] = []
    for file in Path(__file__).parent.parent.rglob("*.py"):
        if file == Path(__file__):
            continue
        tree = ast.parse(file.read_text(encoding="utf-8"))
        for call in (n for n in ast.walk(tree) if isinstance(n, ast.Call)):
            called = call.func.id if isinstance(call.func, ast.Name) else ""
            if called in ("case", "cases"):
                given = [a.value for a in call.args if isinstance(a, ast.Constant) and isinstance(a.value, str)]
                names.update(given)
                starts += given if called == "cases" else []
        if "structure_cases" in file.read_text(encoding="utf-8"):
            # names that go to case() through a variable stand in a list of parameters
            names |= {n.value for n in ast.walk(tree) if isinstance(n, ast.Constant) and isinstance(n.value, str)}
            names |= numbered(tree)
    known = all_cases()
    return {k for k in known if k in names or k.startswith(tuple(s for s in starts if "." in s) or ("?",))}


def numbered(tree: ast.AST) -> set[str]:
    """case(f"error.chain_n{count}") stands for its one to six."""
    found: set[str] = set()
    for n in ast.walk(tree):
        if isinstance(n, ast.JoinedStr) and isinstance(n.values[0], ast.Constant):
            start = str(n.values[0].value)
            found |= (
                {k for k in all_cases() if k.startswith(start) and k[len(start) :].isdigit()} if "." in start else set()
            )
    return found


def test_there_are_ninety_cases_and_each_is_used_or_struck_out() -> None:
    known = all_cases()
    assert len(known) == 90
    assert set(STRUCK) <= set(known)
    left = set(known) - set(STRUCK) - used()
    assert left == set(), f"neither used nor struck out: {sorted(left)}"


def test_every_striking_out_has_a_reason() -> None:
    assert all(len(reason) > 20 for reason in STRUCK.values())
    called = {name for name in used() if name in STRUCK and f'case("{name}")' in _texts()}
    assert called == set()


def _texts() -> str:
    return "".join(f.read_text(encoding="utf-8") for f in Path(__file__).parent.parent.rglob("*.py"))
