"""How much of the machine other programs took while something was timed."""

import os
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

TICK = 1.0 / os.sysconf("SC_CLK_TCK")


@dataclass(frozen=True)
class Timing:
    """Seconds by the clock; processor seconds of this process, of its descendants too, and of all other programs."""

    seconds: float
    own: float
    family: float
    others: float

    @property
    def disturbed(self) -> float:
        """Other programs' share of the machine."""
        return self.others / (self.seconds * (os.cpu_count() or 1))


def _machine() -> float:
    """Processor seconds of everything so far (user, nice, system, interrupts)."""
    fields = Path("/proc/stat").read_text().split("\n", 1)[0].split()[1:]
    return TICK * sum(int(fields[k]) for k in (0, 1, 2, 5, 6))


def _family() -> float:
    """Processor seconds of this process, its descendants, and their descendants that have ended."""
    spent, parents = {}, {}
    for place in Path("/proc").iterdir():
        if place.name.isdigit():
            try:
                fields = (place / "stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue
            parents[int(place.name)] = int(fields[1])
            spent[int(place.name)] = TICK * sum(int(f) for f in fields[11:15])
    below, grown = {os.getpid()}, True
    while grown:
        more = {p for p, parent in parents.items() if parent in below} - below
        grown, below = bool(more), below | more
    return sum(spent.get(p, 0.0) for p in below)


def timed(action: Callable[[], object]) -> Timing:
    """Does something and tells what it took."""
    machine, family, own, begun = _machine(), _family(), time.process_time(), time.perf_counter()
    action()
    seconds, own = time.perf_counter() - begun, time.process_time() - own
    machine, family = _machine() - machine, _family() - family
    return Timing(seconds, own, family, max(machine - family, 0.0))
