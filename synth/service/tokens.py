"""Tokens: who may ask, and for what. Kept as SHA-256 of 256 random bits (nothing to guess, so no slow hash is needed),
in a file that the running service reads again when it changes: a revoked token is refused at once."""

import contextlib
import fcntl
import hashlib
import json
import os
import re
import secrets
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

from synth.core.errors import InputError, RunFolderError, nearest
from synth.fronts.store import replace_file

SCOPES = ("read", "submit", "admin")
"""Each reaches as far as those before it: read looks; submit also submits, and cancels, resumes and deletes its own
jobs; admin does so with the jobs of everybody."""
PREFIX = "sft_"


@dataclass(frozen=True)
class Token:
    """What is kept of a token. created: seconds since 1970."""

    name: str
    scope: str
    sha256: str
    created: float


@dataclass(frozen=True)
class Identity:
    """Who asks. name: of the token, or "local" where none is needed."""

    name: str
    scope: str

    def may(self, scope: str) -> bool:
        """Whether this identity reaches so far."""
        return SCOPES.index(self.scope) >= SCOPES.index(scope)

    def owns(self, owner: str) -> bool:
        """Whether this identity may change a job of that owner."""
        return self.may("admin") or (self.may("submit") and owner == self.name)


LOCAL = Identity("local", "admin")


class Tokens:
    """The tokens of a data folder."""

    def __init__(self, data: Path) -> None:
        self._file = data / "tokens.json"
        self._stamp: tuple[int, int, int] = (0, 0, 0)
        self._known: dict[str, Token] = {}

    def needed(self) -> bool:
        """Whether a token was ever made here: every request then needs one, also when all are revoked."""
        return self._file.exists()

    def find(self, text: str) -> Identity | None:
        """Whose token this is."""
        found = self._fresh().get(hashlib.sha256(text.encode("utf-8", "replace")).hexdigest())
        return None if found is None else Identity(found.name, found.scope)

    def list(self) -> tuple[Token, ...]:
        """All tokens by name; their texts are known to nobody."""
        return tuple(sorted(self._fresh().values(), key=lambda t: t.name))

    def new(self, name: str, scope: str) -> str:
        """Makes a token and returns its text, which is shown this once. InputError for a bad or used name or scope."""
        if scope not in SCOPES:
            raise InputError(f"scope: must be one of {', '.join(SCOPES)}; got '{scope}'.{nearest(scope, SCOPES)}")
        if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}", name) or name == LOCAL.name:
            raise InputError(f"name: must be 1 to 64 letters, digits, dots, dashes, not 'local'; got {name!r}")
        text = PREFIX + secrets.token_urlsafe(32)
        with self._alone():
            known = {t.name: t for t in self._fresh().values()}
            if name in known:
                raise InputError(f"name: there is a token '{name}' already; revoke it first or choose another name")
            known[name] = Token(name, scope, hashlib.sha256(text.encode()).hexdigest(), time.time())
            self._write(known)
        return text

    def revoke(self, name: str) -> None:
        """Takes a token back; the running service refuses it from now on. InputError where there is none."""
        with self._alone():
            known = {t.name: t for t in self._fresh().values()}
            if name not in known:
                raise InputError(f"name: there is no token '{name}'.{nearest(name, known)}")
            del known[name]
            self._write(known)

    def _fresh(self) -> dict[str, Token]:
        try:
            about = self._file.stat()
        except FileNotFoundError:
            self._stamp, self._known = (0, 0, 0), {}
            return self._known
        stamp = (about.st_mtime_ns, about.st_ino, about.st_size)
        if stamp != self._stamp:
            try:
                told = [Token(**t) for t in json.loads(self._file.read_text(encoding="utf-8"))["tokens"]]
                if not all(t.scope in SCOPES for t in told):
                    raise ValueError
            except (OSError, ValueError, KeyError, TypeError):
                raise RunFolderError(f"{self._file}: is damaged; nobody is let in until it is mended") from None
            self._known, self._stamp = {t.sha256: t for t in told}, stamp
        return self._known

    @contextlib.contextmanager
    def _alone(self) -> Iterator[None]:
        self._file.parent.mkdir(parents=True, exist_ok=True)
        with open(self._file.with_suffix(".lock"), "a", encoding="utf-8") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            yield

    def _write(self, tokens: dict[str, Token]) -> None:
        before = os.umask(0o077)
        try:
            replace_file(self._file, json.dumps({"tokens": [asdict(t) for t in tokens.values()]}, indent=1).encode())
        finally:
            os.umask(before)
