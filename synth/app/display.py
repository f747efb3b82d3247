"""Progress on a terminal; silence anywhere else."""

import sys
from types import TracebackType
from typing import Self

from rich.console import Console
from rich.live import Live
from rich.table import Table

from synth.search.progress import Progress


class Display:
    """A table that is redrawn while a search goes on: a row an envelope. Draws nothing where stderr is no terminal."""

    def __init__(self) -> None:
        self._live = Live(console=Console(stderr=True), refresh_per_second=4) if sys.stderr.isatty() else None

    def __enter__(self) -> Self:
        if self._live is not None:
            self._live.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._live is not None:
            self._live.stop()

    def show(self, news: Progress) -> None:
        """Draws the news of one round."""
        if self._live is not None:
            self._live.update(drawn(news))


def drawn(news: Progress) -> Table:
    """The news as a table."""
    left = "" if news.seconds_left is None else f", about {clock(news.seconds_left)} left"
    doing = "searching" if news.phase == "search" else "verifying the fronts"
    workers = f"{news.pool.workers} workers" if news.pool.workers else "in this process"
    retries = f", {news.pool.retries} retries" if news.pool.retries else ""
    table = Table(
        title=f"{doing}: {clock(news.seconds)}{left} ({workers}{retries}, {news.cells} cells)", title_justify="left"
    )
    for name in ("envelope", "evaluations", "feasible", "on the front", "verified", "hypervolume"):
        table.add_column(name, justify="left" if name == "envelope" else "right")
    for e in news.envelopes:
        table.add_row(
            e.name,
            f"{e.evaluations}/{e.budget}" if e.budget else "ruled out",
            str(e.feasible),
            str(e.on_front),
            str(e.verified),
            f"{e.hypervolume:.4f}",
        )
    return table


def clock(seconds: float) -> str:
    """Seconds as 0:07 or 1:02:03."""
    whole = int(seconds)
    hours, minutes, rest = whole // 3600, whole // 60 % 60, whole % 60
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"
