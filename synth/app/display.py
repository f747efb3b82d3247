"""Progress: a table that is redrawn on a terminal, a line now and then anywhere else."""

import sys
import time
from collections.abc import Callable
from dataclasses import replace
from types import TracebackType
from typing import Self

from rich.console import Console
from rich.live import Live
from rich.table import Table

from synth.search.pool import Pool, PoolState
from synth.search.progress import Progress

LINE_EVERY_S = 30.0
"""Between two lines where stderr is a file or a pipe; a run that is shorter says nothing there."""


class Display:
    """A table that is redrawn while a search goes on: a row an envelope. Where stderr is no terminal, a line at most
    every LINE_EVERY_S, so that a log of a long run shows that it lives.

    pool: asked at each redrawing for its workers, tasks in flight and retries; between rounds nothing is in flight.
    """

    def __init__(self, pool: Pool | None = None, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock, self._told = clock, clock()
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
        if self._live is None and self._clock() - self._told >= LINE_EVERY_S:
            self._told = self._clock()
            print(line(news), file=sys.stderr, flush=True)

    def _draw(self) -> Table:
        if self._news is None:
            return Table()
        return drawn(self._news if self._pool is None else replace(self._news, pool=self._pool.state()))


def waiting(pool: PoolState) -> Progress:
    """What is known before the first round."""
    return Progress("search", 0, 0.0, None, 0.0, 0, 0, (), pool)


def doing(news: Progress) -> str:
    """The phase, the time it took so far, what is still to verify and, where it can be told, the time left."""
    left = "" if news.seconds_left is None else f", about {clock(news.seconds_left)} left"
    if news.phase == "search":
        return f"searching: {clock(news.seconds)}{left}"
    return f"verifying the fronts: {clock(news.seconds)}, {news.to_verify} to verify{left}"


def line(news: Progress) -> str:
    """The news as one line."""
    rows = [
        f"{e.name} {e.evaluations}/{e.budget}, {e.on_front} on the front, {e.verified} of them verified"
        for e in news.envelopes
        if e.budget
    ]
    return "; ".join([doing(news), *rows])


def drawn(news: Progress) -> Table:
    """The news as a table."""
    pool = news.pool
    told = [f"{pool.workers} workers, {pool.in_flight} tasks in flight" if pool.workers else "in this process"]
    told += [f"{pool.retries} retries"] if pool.retries else []
    told += [f"{news.aside} set aside"] if news.aside else []
    if news.phase == "search":  # the rate of a budget that is spent says nothing
        told += [f"{news.rate:.0f} candidates/s", f"{news.cells} cells"]
    table = Table(
        title=f"{doing(news)} ({', '.join(told)})",
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
