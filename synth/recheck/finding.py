"""What a recheck tells: one finding for each thing that is not as it must be."""

from dataclasses import asdict, dataclass, field
from typing import Any


@dataclass(frozen=True)
class Finding:
    """candidate: its id, or the file for faults of a run. check: short name of the rule. tolerance: in the unit of
    expected and found, or a text that says how they were compared."""

    candidate: str
    check: str
    what: str
    expected: str
    found: str
    tolerance: str = "exact"

    def __str__(self) -> str:
        told = f"{self.candidate}: {self.check}: {self.what}: expected {self.expected}, found {self.found}"
        return f"{told} (tolerance {self.tolerance})"


@dataclass
class Notes:
    """Collects the findings of one candidate."""

    candidate: str
    found: list[Finding] = field(default_factory=list)

    def add(self, check: str, what: str, expected: Any, found: Any, tolerance: Any = "exact") -> None:
        self.found.append(Finding(self.candidate, check, what, _said(expected), _said(found), _said(tolerance)))

    def near(self, check: str, what: str, expected: float, found: float, tolerance: float) -> bool:
        """Adds a finding where the two differ by more than the tolerance; returns whether they agree."""
        agree = abs(expected - found) <= tolerance
        if not agree:
            self.add(check, what, expected, found, tolerance)
        return agree

    def true(self, condition: bool, check: str, what: str, expected: Any, found: Any, tolerance: Any = "exact") -> bool:
        """Adds a finding where the condition does not hold; returns the condition."""
        if not condition:
            self.add(check, what, expected, found, tolerance)
        return bool(condition)


@dataclass(frozen=True)
class Report:
    """The result for a run folder. skipped: checks that could not be made, and why."""

    folder: str
    candidates: int
    findings: tuple[Finding, ...]
    skipped: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        return not self.findings

    def text(self) -> str:
        """Lines for people: the verdict first."""
        head = f"{self.folder}: {self.candidates} candidate records rechecked, "
        head += "all as they should be" if self.ok else f"{len(self.findings)} findings"
        return "\n".join([head, *(f"  {f}" for f in self.findings), *(f"  not checked: {s}" for s in self.skipped)])

    def document(self) -> dict[str, Any]:
        """The same as plain values for JSON."""
        return {
            "folder": self.folder,
            "candidates": self.candidates,
            "ok": self.ok,
            "findings": [asdict(f) for f in self.findings],
            "skipped": list(self.skipped),
        }


def _said(value: Any) -> str:
    return f"{value:.9g}" if isinstance(value, float) else str(value)
