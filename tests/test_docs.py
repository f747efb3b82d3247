"""The documentation names everything there is, its links lead somewhere, and its examples run."""

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from pydantic import BaseModel

from synth.cell import BUILD_CHOICES, BUILD_FIXED, BUILD_REALS, FLEXURES, vocabulary
from synth.cli import app
from synth.families import families
from synth.hinges import all_kinds
from synth.metrics import METRICS
from synth.problem import Problem, from_mapping
from synth.problem.objective import OBJECTIVES

ROOT = Path(__file__).resolve().parent.parent
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md"), *(ROOT / "problems").glob("*.md")])
TEXT = "\n".join(page.read_text() for page in PAGES)
README = (ROOT / "README.md").read_text()
LINK = re.compile(r"\]\(([^)#\s]+)(#[^)\s]*)?\)")
COMMANDS = [c.name or c.callback.__name__ for c in app.registered_commands]  # type: ignore[union-attr]
COMMANDS += [str(g.name) for g in app.registered_groups]


def missing(names: list[str]) -> list[str]:
    """Names that no page holds as a whole word."""
    return [n for n in names if not re.search(rf"(?<![\w.]){re.escape(n)}(?!\w)", TEXT)]


def keys() -> Iterator[str]:
    """Every field of the problem file as section.field."""
    for section, field in Problem.model_fields.items():
        model = field.annotation
        inner = [
            m for m in (model, *getattr(model, "__args__", ())) if isinstance(m, type) and issubclass(m, BaseModel)
        ]
        yield from (f"{section}.{key}" for key in inner[0].model_fields) if inner else (section,)


def blocks(text: str, language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", text, flags=re.DOTALL)


def told_keys() -> set[str]:
    """Fields named as section.field, or written in a TOML example or on a row below a table of their section."""
    found = set(re.findall(r"\b[a-z_]+\.[a-z_]+\b", TEXT))
    for example in blocks(TEXT, "toml"):
        section = ""
        for line in example.splitlines():
            header = re.match(r"#?\s*\[+([a-z_.]+)\]+", line)
            field = re.match(r"#?\s*\"?([a-z_.]+)\"?\s*=", line)
            if header:
                section = f"{header[1]}."
            elif field:
                found.add(section + field[1])
    return found


def test_the_key_finder_finds_the_keys() -> None:
    assert {"title", "aperture.clear_diameter", "envelope.preset", "keep_out.min", "search.seed"} <= set(keys())
    assert len(list(keys())) > 35


def test_every_command_is_in_the_readme() -> None:
    assert [c for c in COMMANDS if f"stowfront {c}" not in README] == []


def test_every_family_has_a_page() -> None:
    pages = {p.stem for p in (ROOT / "docs" / "families").glob("*.md")}
    assert [f for f in families() if f not in pages] == []


def test_every_variable_of_every_family_is_on_its_page() -> None:
    lost = []
    for name, family in families().items():
        page = ROOT / "docs" / "families" / f"{name}.md"
        text = page.read_text() if page.exists() else ""
        lost += [f"{name}.{key}" for key in family.variables() if not re.search(rf"\b{key}\b", text)]
    assert lost == []


def test_every_metric_is_told() -> None:
    assert missing(list(METRICS)) == []


def test_every_objective_is_told() -> None:
    assert missing(list(OBJECTIVES)) == []


def test_every_build_variable_is_told() -> None:
    assert missing([f"build.{k}" for k in (*BUILD_REALS, *FLEXURES, *BUILD_FIXED, *BUILD_CHOICES)]) == []


def test_every_kind_of_joint_is_told() -> None:
    assert missing(list(all_kinds())) == []


def test_every_problem_key_is_told() -> None:
    assert [k for k in keys() if k not in told_keys()] == []


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_links_lead_to_files_of_the_repository(page: Path) -> None:
    broken = []
    for target, _ in LINK.findall(page.read_text()):
        if not target.startswith(("http://", "https://", "mailto:")) and not (page.parent / target).exists():
            broken.append(target)
    assert broken == []


def test_shipped_problems_and_examples_are_right() -> None:
    shipped = sorted((ROOT / "problems").glob("*.toml"))
    assert len(shipped) >= 3
    examples = [(p.name, tomllib.loads(p.read_text())) for p in shipped]
    examples += [("example", tomllib.loads(b)) for b in blocks(TEXT, "toml") if 'schema = "problem/1"' in b]
    for name, data in examples:
        assert from_mapping(data, name, vocabulary()).title


def test_shell_examples_name_commands_and_options_that_exist() -> None:
    for block in blocks(TEXT, "sh") + blocks(TEXT, "bash"):
        for words in re.findall(r"(?<![\w./-])(?:\S*/)?stowfront ([a-z]+)\b", block):
            assert words in COMMANDS, words


def test_the_readme_example_runs_in_twelve_lines(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """With a smaller budget, from a folder of its own."""
    (example,) = blocks(README, "python")
    lines = [line for line in example.splitlines() if line.strip()]
    assert len(lines) <= 12
    assert re.search(r"evaluations=\d+", example)
    monkeypatch.chdir(tmp_path)
    (tmp_path / "problems").mkdir()
    for problem in (ROOT / "problems").glob("*.toml"):
        text = problem.read_text().replace("[choices]\n", '[choices]\nfamilies = ["accordion", "wing"]\n', 1)
        (tmp_path / "problems" / problem.name).write_text(text)
    ast.parse(example)
    names: dict[str, object] = {}
    exec(compile(re.sub(r"evaluations=\d+", "evaluations=16", example), "README.md", "exec"), names)
    assert (tmp_path / "results").exists()


def test_nothing_written_for_people_names_machines_or_paths_of_this_place() -> None:
    for page in PAGES:
        assert not re.search(r"(?<![\w.])/(work|tmp|root|opt)/", page.read_text()), page


def test_library_names_are_functions_and_no_subpackage_hides_them() -> None:
    """A subpackage of the same name, once imported, would stand in a function's place."""
    import importlib
    import pkgutil

    import synth

    assert synth.__doc__ and all(name in synth.__doc__ for name in synth.__all__)
    inner = {m.name for m in pkgutil.iter_modules(synth.__path__)}
    assert not inner & set(synth.__all__)
    for name in synth.__all__:
        assert callable(getattr(importlib.import_module("synth"), name))
