"""What the service is told when it starts, with every default stated here."""

from dataclasses import dataclass, field
from pathlib import Path


@dataclass(frozen=True)
class Limits:
    """What one service takes on. A request beyond a limit is refused with the limit in the answer.

    body: bytes of a request's body. evaluations: of a job, for each envelope. queued: jobs waiting or running.
    rate, burst: requests under /api a second and at once, for each token (or address). streams: event streams open at
    a time. aside: comparisons, pictures and the like waiting or under way.
    """

    body: int = 1 << 20
    evaluations: int = 200_000
    queued: int = 1000
    rate: float = 50.0
    burst: int = 200
    streams: int = 200
    aside: int = 32


@dataclass(frozen=True)
class Settings:
    """host, port: where to listen. data: the folder that holds everything but a Postgres database. database: a
    postgresql:// address, or None for SQLite files in `data`. hosts: names that requests may address besides the
    host's own (a proxy's). running: jobs worked at a time; workers: processes of each (None: one a core); ray: as of
    `stowfront run`; nice: how far jobs stand back behind the answers of the service. page: whether the page is served.
    """

    data: Path
    host: str = "127.0.0.1"
    port: int = 8750
    database: str | None = None
    hosts: tuple[str, ...] = ()
    running: int = 1
    workers: int | None = None
    ray: str | None = None
    nice: int = 10
    page: bool = True
    limits: Limits = field(default_factory=Limits)
