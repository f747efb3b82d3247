"""The table of jobs, on SQLite or Postgres: what was accepted and how it stands. One row is one accepted job."""

import secrets
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.exc import DBAPIError, IntegrityError, SQLAlchemyError
from sqlalchemy.exc import TimeoutError as PoolTimeout

from synth.service.errors import Conflict, NotFound, Unavailable

QUEUED, RUNNING, DONE, STOPPED, FAILED = STATES = ("queued", "running", "done", "stopped", "failed")
_META = sa.MetaData()
_TABLE = sa.Table(
    "stowfront_jobs",
    _META,
    sa.Column("number", sa.Integer, primary_key=True, autoincrement=True),
    sa.Column("id", sa.String(32), nullable=False, unique=True),
    sa.Column("state", sa.String(16), nullable=False, index=True),
    sa.Column("title", sa.Text, nullable=False),
    sa.Column("owner", sa.String(80), nullable=False),
    sa.Column("evaluations", sa.Integer, nullable=False),
    sa.Column("seed", sa.BigInteger, nullable=False),
    sa.Column("objectives", sa.Text, nullable=False),
    sa.Column("problem_digest", sa.String(64), nullable=False),
    sa.Column("source", sa.LargeBinary, nullable=False),
    sa.Column("key", sa.String(200), nullable=True),
    sa.Column("asked", sa.String(64), nullable=False),
    sa.Column("attempt", sa.Integer, nullable=False),
    sa.Column("stop", sa.Boolean, nullable=False),
    sa.Column("created", sa.Float, nullable=False),
    sa.Column("started", sa.Float, nullable=True),
    sa.Column("finished", sa.Float, nullable=True),
    sa.Column("exit_code", sa.Integer, nullable=True),
    sa.Column("message", sa.Text, nullable=False),
    sa.UniqueConstraint("owner", "key", name="stowfront_one_key"),
)
_T = _TABLE.c


@dataclass(frozen=True)
class Job:
    """One job. state: queued, running, done, stopped, failed. exit_code: as of `stowfront run`, once it ended.
    attempt: how often it was queued (1, more after a resume). stop: somebody asked it to stop. Times: seconds since
    1970. number: place in the order of arrival."""

    number: int
    id: str
    state: str
    title: str
    owner: str
    evaluations: int
    seed: int
    objectives: tuple[str, ...]
    problem_digest: str
    attempt: int
    stop: bool
    created: float
    started: float | None
    finished: float | None
    exit_code: int | None
    message: str

    @property
    def over(self) -> bool:
        """Whether it is neither waiting nor running."""
        return self.state not in (QUEUED, RUNNING)


_SHOWN = [c for c in _T if c.name not in ("source", "key", "asked")]


def _job(row: Any) -> Job:
    told = dict(row._mapping)
    return Job(**{**told, "objectives": tuple(told["objectives"].split(","))})


def new_id() -> str:
    """A job's id: 16 letters and digits that nobody guesses; safe in a path and an address."""
    return "".join(secrets.choice("abcdefghijkmnpqrstuvwxyz23456789") for _ in range(16))


class Store:
    """The rows. Every change is one transaction, conditional on the state it changes, so that two askers at once and
    a kill at any instant leave a row that makes sense. Raises Unavailable where the database is away."""

    def __init__(self, database: str | None, data: Path) -> None:
        url = sa.make_url(database or f"sqlite:///{(data / 'jobs.sqlite').absolute()}")
        self.sqlite = url.get_backend_name() == "sqlite"
        if url.drivername in ("postgresql", "postgres"):
            url = url.set(drivername="postgresql+psycopg")
        options: dict[str, Any] = {"pool_size": 8, "max_overflow": 8, "pool_timeout": 5.0}
        if self.sqlite:
            options["connect_args"] = {"timeout": 10.0}
        else:
            options |= {"pool_pre_ping": True, "connect_args": {"connect_timeout": 5}}
        self._engine = sa.create_engine(url, hide_parameters=True, **options)
        self._writing = threading.Lock()
        self._pending: deque[_Entry] = deque()
        if self.sqlite:
            event.listen(self._engine, "connect", _durable)
        with self._changing() as db:
            _META.create_all(db)

    def close(self) -> None:
        """Lets go of the database."""
        self._engine.dispose()

    @contextmanager
    def _asking(self) -> Iterator[sa.Connection]:
        with _told(), self._engine.connect() as db:
            yield db

    @contextmanager
    def _changing(self) -> Iterator[sa.Connection]:
        # SQLite has one writer at a time: waiting here is fair, its own waiting is by sleeps
        with _told(), self._writing, self._engine.begin() as db:
            yield db

    # -- asking

    def ready(self) -> None:
        """Raises Unavailable where the database does not answer."""
        with self._asking() as db:
            db.execute(sa.select(sa.literal(1)))

    def get(self, id: str) -> Job:
        """One job; NotFound."""
        with self._asking() as db:
            row = db.execute(sa.select(*_SHOWN).where(_T.id == id)).first()
        if row is None:
            raise NotFound(f"there is no job '{id}'")
        return _job(row)

    def source(self, id: str) -> bytes:
        """The problem's text as it was accepted; NotFound."""
        with self._asking() as db:
            found = db.execute(sa.select(_T.source).where(_T.id == id)).scalar()
        if found is None:
            raise NotFound(f"there is no job '{id}'")
        return bytes(found)

    def keyed(self, owner: str, key: str) -> tuple[Job, str] | None:
        """The job that an owner submitted under a key, with the digest of what was asked."""
        with self._asking() as db:
            row = db.execute(sa.select(_T.id, _T.asked).where(_T.owner == owner, _T.key == key)).first()
        return None if row is None else (self.get(row.id), row.asked)

    def list(
        self, states: Sequence[str] = (), title: str = "", owner: str = "", limit: int = 50, after: str | None = None
    ) -> tuple[Job, ...]:
        """Jobs, the youngest first; only those in the states, whose title holds the text, of the owner, and older
        than the job `after`."""
        ask = sa.select(*_SHOWN).order_by(_T.number.desc()).limit(limit)
        if states:
            ask = ask.where(_T.state.in_(states))
        if title:
            ask = ask.where(_T.title.icontains(title, autoescape=True))
        if owner:
            ask = ask.where(_T.owner == owner)
        if after is not None:
            ask = ask.where(_T.number < self.get(after).number)
        with self._asking() as db:
            return tuple(_job(r) for r in db.execute(ask))

    def counts(self) -> dict[str, int]:
        """How many jobs are in each state."""
        with self._asking() as db:
            found = {r[0]: int(r[1]) for r in db.execute(sa.select(_T.state, sa.func.count()).group_by(_T.state))}
        return {s: found.get(s, 0) for s in STATES}

    def waiting(self) -> int:
        """How many jobs wait or run."""
        with self._asking() as db:
            ask = sa.select(sa.func.count()).where(_T.state.in_((QUEUED, RUNNING)))
            return int(db.execute(ask).scalar_one())

    def unfinished(self) -> tuple[Job, ...]:
        """Jobs waiting or running, the oldest first."""
        with self._asking() as db:
            ask = sa.select(*_SHOWN).where(_T.state.in_((QUEUED, RUNNING))).order_by(_T.number)
            return tuple(_job(r) for r in db.execute(ask))

    # -- changing

    def add(self, values: dict[str, Any], source: bytes, key: str | None, asked: str) -> Job | None:
        """Accepts a job; None where the owner has used the key already (find it with keyed())."""
        row = {"id": new_id(), "state": QUEUED, "attempt": 1, "stop": False, "created": time.time(), "message": ""}
        entry = _Entry(row | {**values, "source": source, "key": key, "asked": asked})
        self._pending.append(entry)
        with self._writing:
            if not entry.settled:
                self._insert_pending()
        if entry.fault is not None:
            raise entry.fault
        if entry.number is None:
            return None
        shown = {c.name: entry.row.get(c.name) for c in _SHOWN}
        objectives = tuple(str(values["objectives"]).split(","))
        return Job(**{**shown, "number": entry.number, "objectives": objectives})  # type: ignore[arg-type]

    def _insert_pending(self) -> None:
        """All who wait are accepted by one write to the disk, which is what takes the time."""
        entries = [self._pending.popleft() for _ in range(len(self._pending))]
        try:
            self._insert(entries)
        except IntegrityError:  # a key that is used: one by one, to tell whose
            for entry in entries:
                try:
                    self._insert([entry])
                except (IntegrityError, Unavailable) as fault:
                    entry.number, entry.fault = None, fault if isinstance(fault, Unavailable) else None
        except Unavailable as fault:
            for entry in entries:
                entry.fault = fault
        for entry in entries:
            entry.settled = True

    def _insert(self, entries: Sequence["_Entry"]) -> None:
        with _told(), self._engine.begin() as db:
            for entry in entries:
                made = db.execute(sa.insert(_TABLE).values(entry.row)).inserted_primary_key
                assert made is not None
                entry.number = int(made[0])

    def begin(self, id: str, attempt: int) -> bool:
        """Marks a job running; False where it was stopped, removed, or queued anew since."""
        ours = (_T.id == id) & (_T.attempt == attempt) & _T.state.in_((QUEUED, RUNNING)) & ~_T.stop
        with self._changing() as db:
            change = sa.update(_TABLE).where(ours).values(state=RUNNING, started=time.time())
            return bool(db.execute(change).rowcount)

    def end(self, id: str, attempt: int, state: str, exit_code: int | None, message: str = "") -> None:
        """Marks a job over; nothing where it is over already."""
        ours = (_T.id == id) & (_T.attempt == attempt) & _T.state.in_((QUEUED, RUNNING))
        told = {"state": state, "exit_code": exit_code, "message": message[:4000], "finished": time.time()}
        with self._changing() as db:
            db.execute(sa.update(_TABLE).where(ours).values(told))

    def ask_stop(self, id: str) -> Job:
        """A queued job is stopped at once; a running one is marked to be stopped. Conflict where it is over."""
        now = time.time()
        with self._changing() as db:
            waiting = sa.update(_TABLE).where(_T.id == id, _T.state == QUEUED)
            stopped = db.execute(waiting.values(state=STOPPED, stop=True, exit_code=130, finished=now)).rowcount
            marked = db.execute(sa.update(_TABLE).where(_T.id == id, _T.state == RUNNING).values(stop=True)).rowcount
        job = self.get(id)
        if not stopped and not marked:
            raise Conflict(f"job {id} is {job.state}: only a queued or running job can be cancelled")
        return job

    def again(self, id: str) -> Job:
        """Queues a stopped or failed job anew. Conflict where it is in another state."""
        fresh = {"state": QUEUED, "stop": False, "attempt": _T.attempt + 1, "finished": None, "exit_code": None}
        with self._changing() as db:
            ask = sa.update(_TABLE).where(_T.id == id, _T.state.in_((STOPPED, FAILED)))
            changed = db.execute(ask.values({**fresh, "message": ""})).rowcount
        job = self.get(id)
        if not changed:
            raise Conflict(f"job {id} is {job.state}: only a stopped or failed job can be resumed")
        return job

    def renew(self, id: str, attempt: int) -> Job | None:
        """A new attempt at a job whose attempt the queue lost or takes for over; None where it is over by now."""
        ours = (_T.id == id) & (_T.attempt == attempt) & _T.state.in_((QUEUED, RUNNING))
        with self._changing() as db:
            if not db.execute(sa.update(_TABLE).where(ours).values(state=QUEUED, attempt=attempt + 1)).rowcount:
                return None
        return self.get(id)

    def remove(self, id: str) -> Job:
        """Forgets a job that is over. Conflict where it waits or runs."""
        job = self.get(id)
        with self._changing() as db:
            gone = db.execute(sa.delete(_TABLE).where(_T.id == id, _T.state.not_in((QUEUED, RUNNING)))).rowcount
        if not gone:
            raise Conflict(f"job {id} is {job.state}: cancel it first")
        return job


@dataclass(eq=False)
class _Entry:
    """A row on its way into the table. number: its place, None where the key was used; fault: why it is not in."""

    row: dict[str, Any]
    number: int | None = None
    fault: Unavailable | None = None
    settled: bool = False


def _durable(connection: Any, _: Any) -> None:
    """An accepted job is on the disk before it is answered; readers do not wait for the writer."""
    cursor = connection.cursor()
    cursor.execute("PRAGMA journal_mode=WAL")
    cursor.execute("PRAGMA synchronous=FULL")
    cursor.close()


@contextmanager
def _told() -> Iterator[None]:
    """Faults of the database as what a person gets; addresses and statements stay out of it."""
    try:
        yield
    except IntegrityError:
        raise
    except (DBAPIError, PoolTimeout) as fault:
        reason = str(getattr(fault, "orig", None) or "no connection came free").strip().splitlines()[0]
        kind = "is full" if "full" in reason else "does not answer"
        raise Unavailable(f"the database {kind}; what was accepted is kept", after_s=5) from fault
    except SQLAlchemyError as fault:
        raise Unavailable("the database cannot be used; what was accepted is kept", after_s=5) from fault


def patiently(do: Callable[[], Any], closing: Callable[[], bool]) -> Any:
    """Does it, waiting out a database that is away; gives up with Unavailable only where the service closes."""
    wait = 0.2
    while True:
        try:
            return do()
        except Unavailable:
            if closing():
                raise
            time.sleep(wait)
            wait = min(2.0 * wait, 5.0)
