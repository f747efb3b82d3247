"""The gate before every request, of the interface and of the page: host, origin, token, rate, size, headers."""

import ipaddress
import json
import time
from collections import OrderedDict
from collections.abc import Iterable
from http.cookies import CookieError, SimpleCookie
from typing import Any

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from synth.core.errors import RunFolderError
from synth.service.errors import Forbidden, Refused, TooLarge, TooMany, Unauthenticated, Unavailable
from synth.service.problems import document
from synth.service.settings import Limits
from synth.service.tokens import LOCAL, Identity, Tokens

COOKIE = "stowfront_token"
OPEN = ("/api/v1/health", "/api/v1/ready", "/login")
"""Paths that need no token: they tell nothing about jobs."""
SAFE = ("GET", "HEAD", "OPTIONS")
API_POLICY = "default-src 'none'; frame-ancestors 'none'"
PICTURE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'self'; sandbox"
DOCS_POLICY = (
    "default-src 'none'; script-src 'self' {script}; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
    "connect-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
)
PAGE_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; connect-src 'self'; "
    "img-src 'self' blob:; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
"""No script, style, picture or request from anywhere but the service itself, and nothing inline."""
LOGIN_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
HEADERS = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",  # none at all would make the origin of our own forms "null"
    "x-frame-options": "DENY",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), payment=(), usb=()",
}


def identity(scope: Scope) -> Identity | None:
    """Who makes this request, as the gate found; for pages: identity(request.scope)."""
    found: Identity | None = scope.get("stowfront.identity")
    return found


class Rates:
    """Token buckets: `rate` requests a second and `burst` at once for each caller. The last 4,096 are remembered."""

    def __init__(self, rate: float, burst: int) -> None:
        self._rate, self._burst = rate, float(burst)
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def take(self, who: str) -> float:
        """0 where the request may pass, else the seconds to wait."""
        now = time.monotonic()
        left, then = self._left.pop(who, (self._burst, now))
        left = min(self._burst, left + (now - then) * self._rate)
        passes = left >= 1.0
        self._left[who] = (left - 1.0 if passes else left, now)
        if len(self._left) > 4096:
            self._left.popitem(last=False)
        return 0.0 if passes else (1.0 - left) / self._rate


def own_host(name: str, bound: str, allowed: Iterable[str]) -> bool:
    """Whether a Host header addresses this service: a name that a foreign page made point here does not.

    Names by which a machine calls itself, names allowed, and the address listened on; where that is every address,
    any address, since only names can be made to point elsewhere.
    """
    if name in ("localhost", "127.0.0.1", "::1", bound) or name in allowed:
        return True
    if not _is_address(name) or not _is_address(bound):
        return False
    return ipaddress.ip_address(bound).is_unspecified and not ipaddress.ip_address(name).is_unspecified


def loopback(host: str) -> bool:
    """Whether an address to listen on is reached from this machine alone."""
    return host == "localhost" or (_is_address(host) and ipaddress.ip_address(host).is_loopback)


def _is_address(text: str) -> bool:
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True


def host_name(header: str) -> str:
    """The name of a Host header, without port and brackets."""
    if header.startswith("["):
        return header[1:].partition("]")[0].lower()
    return header.rpartition(":")[0].lower() if header.count(":") == 1 else header.lower()


class Guard:
    """ASGI middleware. Adds "stowfront.identity" to the scope of what it lets pass."""

    def __init__(
        self, app: ASGIApp, tokens: Tokens, bound: str, hosts: tuple[str, ...], limits: Limits, script: str = ""
    ) -> None:
        self._app, self._tokens, self._bound, self._limits = app, tokens, bound, limits
        self._hosts = tuple(h.lower() for h in hosts)
        self._rates = Rates(limits.rate, limits.burst)
        self._docs_policy = DOCS_POLICY.format(script=script)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        try:
            self._admit(scope, headers)
        except Refused as fault:
            await self._refuse(scope, headers, fault, send)
            return
        if scope["type"] == "websocket":
            await self._app(scope, receive, send)
            return
        await self._app(scope, _limited(receive, self._limits.body), self._headed(scope, send))

    def _admit(self, scope: Scope, headers: Headers) -> None:
        host = headers.get("host", "")
        if not own_host(host_name(host), self._bound, self._hosts):
            raise Forbidden("the host addressed is not this service's; a proxy's name is allowed with --allow-host")
        unsafe = scope["type"] == "websocket" or scope["method"] not in SAFE
        api = scope["path"].startswith("/api/")
        origin, site = headers.get("origin"), headers.get("sec-fetch-site", "none")
        foreign = (origin is not None and origin.partition("://")[2] != host) or site in ("cross-site", "same-site")
        if foreign and (unsafe or api):
            raise Forbidden("requests from pages of other sites are not let in")
        who = self._who(scope, headers)
        scope["stowfront.identity"] = who
        if api:
            peer = (scope.get("client") or ("?",))[0]
            wait = self._rates.take(f"token {who.name}" if who is not None and who != LOCAL else f"from {peer}")
            if wait > 0.0:
                limits = f"{self._limits.rate:g} requests a second and {self._limits.burst} at once"
                raise TooMany(f"more than {limits} from one caller", after_s=max(1, round(wait)))
        if who is None and scope["path"] not in OPEN:
            raise Unauthenticated("this service needs a token: Authorization: Bearer TOKEN")
        length = headers.get("content-length", "0")
        if length.isdecimal() and int(length) > self._limits.body:
            raise TooLarge(f"a body may have {self._limits.body} bytes")

    def _who(self, scope: Scope, headers: Headers) -> Identity | None:
        try:
            if loopback(self._bound) and not self._hosts and not self._tokens.needed():
                return LOCAL
            kind, _, text = headers.get("authorization", "").partition(" ")
            if kind.lower() != "bearer":
                text = _cookie(headers)
            return self._tokens.find(text.strip()) if text.strip() else None
        except RunFolderError:
            raise Unavailable("the file of tokens is damaged") from None

    async def _refuse(self, scope: Scope, headers: Headers, fault: Refused, send: Send) -> None:
        if scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008})
            return
        page = not scope["path"].startswith("/api/") and "text/html" in headers.get("accept", "")
        if isinstance(fault, Unauthenticated) and page and scope["method"] in SAFE:
            reply, content, status = {"location": "/login"}, b"", 303
        else:
            reply, content, status = {"content-type": "application/problem+json"}, b"", fault.status
            content = json.dumps(document(fault, scope["path"])).encode()
        if isinstance(fault, Unauthenticated) and status == 401:
            reply["www-authenticate"] = 'Bearer realm="stowfront"'
        if fault.after_s is not None:
            reply["retry-after"] = str(fault.after_s)
        reply["content-length"] = str(len(content))
        raw = [(k.encode(), v.encode()) for k, v in reply.items()]
        to = self._headed(scope, send)
        await to({"type": "http.response.start", "status": status, "headers": raw})
        await to({"type": "http.response.body", "body": content})

    def _headed(self, scope: Scope, send: Send) -> Send:
        async def headed(message: Message) -> None:
            if message["type"] == "http.response.start":
                found = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    found.setdefault(name, value)
                found.setdefault("content-security-policy", self._policy(scope, found))
                if scope["path"].startswith("/api/"):
                    found.setdefault("cache-control", "no-store")
            await send(message)

        return headed

    def _policy(self, scope: Scope, headers: MutableHeaders) -> str:
        path = scope["path"]
        if path.startswith("/api/v1/docs"):
            return self._docs_policy
        if path.startswith("/api/"):
            return PICTURE_POLICY if headers.get("content-type", "").startswith("image/") else API_POLICY
        return LOGIN_POLICY if path == "/login" else PAGE_POLICY


def _cookie(headers: Headers) -> str:
    try:
        found = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
    except CookieError:
        return ""
    return found.value if found is not None else ""


def _limited(receive: Receive, most: int) -> Receive:
    """Counts a body that comes without its length, and ends it at the limit."""
    taken = [0]

    async def limited() -> Message:
        message: Any = await receive()
        if message["type"] == "http.request":
            taken[0] += len(message.get("body", b""))
            if taken[0] > most:
                raise TooLarge(f"a body may have {most} bytes")
        return message  # type: ignore[no-any-return]

    return limited
