"""Progress on a terminal; silence anywhere else."""

import sys
from dataclasses import replace
from types import TracebackType
from typing import Self

from rich.console import Console
from rich.live import Live
from rich.table import Table

from synth.search.pool import Pool, PoolState
from synth.search.progress import Progress


class Display:
    """A table that is redrawn while a search goes on: a row an envelope. Draws nothing where stderr is no terminal.

    pool: asked at each redrawing for its workers, tasks in flight and retries; between rounds nothing is in flight.
    """

    def __init__(self, pool: Pool | None = None) -> None:
        self._pool, self._news = pool, None if pool is None else waiting(pool.state())
        self._live: Live | None = None
        if sys.stderr.isatty():
            console = Console(stderr=True)
            self._live = Live(console=console, refresh_per_second=4, get_renderable=self._draw)

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
        """Takes the news of one round in; drawn within a quarter of a second."""
        self._news = news

    def _draw(self) -> Table:
        if self._news is None:
            return Table()
        return drawn(self._news if self._pool is None else replace(self._news, pool=self._pool.state()))


def waiting(pool: PoolState) -> Progress:
    """What is known before the first round."""
    return Progress("search", 0, 0.0, None, 0.0, 0, 0, (), pool)


def drawn(news: Progress) -> Table:
    """The news as a table."""
    left = "" if news.seconds_left is None else f", about {clock(news.seconds_left)} left"
    doing = "searching" if news.phase == "search" else "verifying the fronts"
    pool = news.pool
    told = [f"{pool.workers} workers, {pool.in_flight} tasks in flight" if pool.workers else "in this process"]
    told += [f"{pool.retries} retries"] if pool.retries else []
    told += [f"{news.aside} set aside"] if news.aside else []
    told += [f"{news.rate:.0f} candidates/s", f"{news.cells} cells"]
    table = Table(
        title=f"{doing}: {clock(news.seconds)}{left} ({', '.join(told)})",
        title_justify="left",
        caption=pool.note or None,
        caption_justify="left",
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
