"""Budgets that keep the code readable, and no word about machines in what is committed."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SOURCES = sorted(p for folder in ("synth", "workers", "problems") for p in (ROOT / folder).rglob("*.py"))


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(ROOT)))
def test_modules_and_functions_stay_small(path: Path) -> None:
    text = path.read_text()
    assert text.count("\n") <= 400, f"{path.name} has more than 400 lines"
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            length = (node.end_lineno or node.lineno) - node.lineno + 1
            assert length <= 60, f"{path.name}: {node.name} has {length} lines"


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(ROOT)))
def test_every_public_function_and_module_is_documented(path: Path) -> None:
    tree = ast.parse(path.read_text())
    assert path.name == "__init__.py" or ast.get_docstring(tree), f"{path.name} does not say what it is"
    for node in tree.body:
        if (
            isinstance(node, ast.FunctionDef | ast.ClassDef)
            and not node.name.startswith("_")
            and path.parts[-2] != "cli"
        ):
            assert ast.get_docstring(node) or len(node.body) <= 4, f"{path.name}: {node.name} has no docstring"
