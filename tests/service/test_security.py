"""Who is let in, to what, from where; and that nothing that comes in reaches further than it may."""

import hashlib
import json
import random
import secrets
import stat
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from synth.core.errors import InputError
from synth.service.client import Client
from synth.service.guard import Rates, host_name, loopback, own_host
from synth.service.tokens import SCOPES, Tokens
from tests.service.served import ROOT, SMALL, Service, environment, leave_idle


@pytest.fixture
def guarded(locked: Service) -> Iterator[tuple[Service, dict[str, str]]]:
    """A service that needs tokens, and a new one of each scope; asked with the one that may read."""
    tokens, own = Tokens(locked.data), secrets.token_hex(4)
    texts = {scope: tokens.new(f"{own}-{scope}", scope) for scope in SCOPES}
    yield replace(locked, token=texts["read"]), texts
    leave_idle(locked)


def bearer(text: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {text}"}


def test_a_token_reaches_as_far_as_its_scope_and_no_further(guarded: tuple[Service, dict[str, str]]) -> None:
    service, texts = guarded
    missing = service.ask("GET", "/api/v1/jobs", Authorization="")
    assert missing.status == 401 and missing.headers["www-authenticate"].startswith("Bearer")
    assert service.ask("GET", "/api/v1/jobs", **bearer("sft_" + "x" * 43)).status == 401
    assert service.ask("GET", "/api/v1/jobs", **bearer(texts["read"] + "x")).status == 401
    assert service.ask("GET", "/api/v1/jobs").status == 200
    refused = service.submit(SMALL)
    assert refused.status == 403 and "scope read" in refused.document["detail"]
    assert refused.headers["content-type"] == "application/problem+json"
    accepted = service.submit(SMALL, **bearer(texts["submit"]))
    assert accepted.status == 201 and accepted.document["owner"].endswith("-submit")
    of_admin = service.submit(SMALL, **bearer(texts["admin"])).document["id"]
    for method, path in (("POST", f"{of_admin}/cancel"), ("POST", f"{of_admin}/resume"), ("DELETE", of_admin)):
        assert service.ask(method, f"/api/v1/jobs/{path}", **bearer(texts["submit"])).status == 403, path
        assert service.ask(method, f"/api/v1/jobs/{path}").status == 403, path
    mine = accepted.document["id"]
    assert service.ask("POST", f"/api/v1/jobs/{mine}/cancel", **bearer(texts["admin"])).status in (200, 409)
    assert service.ask("POST", f"/api/v1/jobs/{of_admin}/cancel", **bearer(texts["admin"])).status in (200, 409)


def test_a_revoked_token_is_refused_at_once_and_the_door_stays_shut(new_service: Callable[..., Service]) -> None:
    service = new_service("--no-page")
    texts = {scope: Tokens(service.data).new(f"a-{scope}", scope) for scope in SCOPES}
    service.token = texts["read"]
    service.start()
    command = [sys.executable, "-m", "synth.cli", "token"]
    where = ["--data", str(service.data), "--json"]
    for scope in SCOPES:
        assert service.ask("GET", "/api/v1/jobs", **bearer(texts[scope])).status == 200
        if scope == "read":
            done = subprocess.run([*command, "revoke", f"a-{scope}", *where], cwd=ROOT, env=environment(), check=True,
                                  capture_output=True)  # fmt: skip
            assert json.loads(done.stdout) == {"revoked": f"a-{scope}"}
        else:
            Tokens(service.data).revoke(f"a-{scope}")
        assert service.ask("GET", "/api/v1/jobs", **bearer(texts[scope])).status == 401
    assert service.ask("GET", "/api/v1/jobs", Authorization="").status == 401


def test_tokens_are_kept_hashed_for_their_owner_alone_and_are_not_in_the_log(
    guarded: tuple[Service, dict[str, str]],
) -> None:
    service, texts = guarded
    service.submit(SMALL, **bearer(texts["admin"]))
    service.ask("GET", "/api/v1/jobs?title=%00%0a", **bearer(texts["admin"]))
    kept = service.data / "tokens.json"
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600
    everything = kept.read_text() + service.log.read_text()
    for text in texts.values():
        assert len(text) == 47 and text not in everything
        assert hashlib.sha256(text.encode()).hexdigest() in kept.read_text()


def test_an_address_that_others_reach_is_not_served_without_a_token(tmp_path: Path) -> None:
    for more in (["--host", "0.0.0.0"], ["--allow-host", "fold.example"]):
        words = [sys.executable, "-m", "synth.cli", "serve", "--data", str(tmp_path / "d"), *more]
        done = subprocess.run(
            words, cwd=ROOT, env=environment(), capture_output=True, text=True, check=False, timeout=60
        )
        assert done.returncode == 2 and "stowfront token new" in done.stderr


def test_bodies_beyond_the_limit_are_refused_with_and_without_their_length(limited: Service) -> None:
    import http.client

    big = SMALL + "#" * 5000
    told = limited.submit(big)
    assert told.status == 413 and "4096 bytes" in told.document["detail"]
    connection = http.client.HTTPConnection("127.0.0.1", limited.port, timeout=30)
    headers = {"Content-Type": "application/toml"}
    chunks = (big.encode()[k : k + 100] for k in range(0, len(big), 100))
    connection.request("POST", "/api/v1/jobs", chunks, headers, encode_chunked=True)
    answer = connection.getresponse()
    assert answer.status == 413 and json.loads(answer.read())["title"] == "Body too large"
    connection.close()


def test_headers_without_end_are_cut_off(service: Service) -> None:
    import socket

    with socket.create_connection(("127.0.0.1", service.port), timeout=30) as connection:
        connection.sendall(b"GET /api/v1/health HTTP/1.1\r\nHost: localhost\r\nX-Long: " + b"x" * 70_000)
        assert connection.recv(64).startswith(b"HTTP/1.1 400")
    assert service.ask("GET", "/api/v1/health").status == 200


PATHS = (
    "/api/v1/jobs/../../../../etc/passwd",
    "/api/v1/jobs/%2e%2e%2f%2e%2e%2ftokens.json",
    "/api/v1/jobs/..%2f..%2ftokens/front.csv",
    "/api/v1/jobs/{id}/candidates/..%2f..%2f..%2ftokens",
    "/api/v1/jobs/{id}/candidates/%2e%2e/%2e%2e/run.json",
    "/api/v1/jobs/{id}/candidates/..%5c..%5crun",
    "/api/v1/jobs/{id}/candidates/.work",
    "/api/v1/jobs/{id}/..%2f..%2f..%2ftokens.json",
    "/api/v1/jobs/{id}/problem.toml%00.svg",
    "/api/v1/docs/assets/..%2f..%2f..%2fcore.py",
    "/api/v1/docs/assets/%2e%2e/core.py",
    "/api/v1/compare?job=../../etc",
    "/api/v1/jobs?after='%20OR%20'1'='1",
    "/api/v1/jobs?state=done'--",
)


def test_no_address_reaches_a_file_outside_the_results_of_a_job(guarded: tuple[Service, dict[str, str]]) -> None:
    service, texts = guarded
    job = service.submit(SMALL, "?evaluations=8", **bearer(texts["submit"])).document["id"]
    client = Client(f"http://127.0.0.1:{service.port}", texts["read"])
    client.wait(job)
    assert client.file(job, "front.csv").startswith(b"id,")
    for path in PATHS:
        answer = service.ask("GET", path.format(id=job))
        assert answer.status in (404, 422), (path, answer.status)
        assert answer.headers["content-type"] == "application/problem+json", path
        assert b"root:" not in answer.body and b"sha256" not in answer.body


def test_titles_are_looked_for_as_text_not_as_patterns(service: Service) -> None:
    job = service.submit(SMALL.replace("A drawer and a tube", "100 % of a_b")).document["id"]
    service.client.cancel(job)
    for text, found in (
        ("100 %25 of", True),
        ("a_b", True),
        ("a%25b", False),
        ("aXb", False),
        ("%25", True),
        ("'", False),
    ):
        listed = service.ask("GET", f"/api/v1/jobs?title={text.replace(' ', '%20')}&limit=200").document["jobs"]
        assert (job in [j["id"] for j in listed]) == found, text


def test_foreign_hosts_and_pages_are_refused_and_answers_carry_their_policy(service: Service) -> None:
    at = f"127.0.0.1:{service.port}"
    toml = {"Content-Type": "application/toml"}
    assert service.ask("GET", "/api/v1/jobs", Host="rebound.example").status == 403
    assert service.ask("GET", "/", Host="rebound.example").status == 403
    assert service.ask("GET", "/api/v1/jobs", Host=f"localhost:{service.port}").status == 200
    for headers in ({"Origin": "https://other.example"}, {"Origin": "null"}, {"Sec-Fetch-Site": "cross-site"},
                    {"Origin": f"http://127.0.0.1:{service.port + 1}"}):  # fmt: skip
        assert service.ask("POST", "/api/v1/jobs", SMALL.encode(), **toml, **headers).status == 403, headers
        assert service.ask("GET", "/api/v1/jobs", **headers).status == 403, headers
    assert service.ask("GET", "/api/v1/jobs", Origin=f"http://{at}").status == 200
    # a form of another site can send text/plain or a form, never one of our types, without asking first
    assert service.ask("POST", "/api/v1/jobs", SMALL.encode(), Content_Type="text/plain").status == 415
    answer = service.ask("GET", "/api/v1/jobs")
    assert answer.headers["content-security-policy"] == "default-src 'none'; frame-ancestors 'none'"
    assert answer.headers["x-content-type-options"] == "nosniff" and answer.headers["cache-control"] == "no-store"
    assert "server" not in answer.headers and "access-control-allow-origin" not in answer.headers
    page = service.ask("GET", "/", Accept="text/html").headers["content-security-policy"]
    assert page.startswith("default-src '") and "frame-ancestors 'none'" in page and "http" not in page


def test_the_docs_page_loads_nothing_from_elsewhere_and_its_one_script_is_known(service: Service) -> None:
    page = service.ask("GET", "/api/v1/docs")
    policy, text = page.headers["content-security-policy"], page.body.decode()
    assert page.status == 200 and "http://" not in text and "https://" not in text and "//cdn" not in text
    script = text.split("<script>")[1].split("</script>")[0]
    import base64

    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"'sha256-{digest}'" in policy and "'unsafe-eval'" not in policy
    for asset in ("swagger-ui-bundle.js", "swagger-ui.css"):
        assert service.ask("GET", f"/api/v1/docs/assets/{asset}").status == 200
    assert service.ask("GET", "/api/v1/openapi.json").document["openapi"].startswith("3.")


def test_a_browser_gives_its_token_once_and_gets_a_cookie_that_scripts_do_not_see(
    guarded: tuple[Service, dict[str, str]],
) -> None:
    service, texts = guarded
    away = service.ask("GET", "/anything", Accept="text/html", Authorization="")
    assert (away.status, away.headers["location"]) == (303, "/login")
    form = {"Content-Type": "application/x-www-form-urlencoded", "Authorization": ""}
    assert service.ask("POST", "/login", b"token=wrong", **form).status == 401
    answer = service.ask("POST", "/login", f"token={texts['read']}".encode(), **form)
    cookie = answer.headers["set-cookie"]
    assert answer.status == 303 and "HttpOnly" in cookie and "samesite=strict" in cookie.lower()
    known = {"Cookie": cookie.partition(";")[0], "Authorization": ""}
    assert service.ask("GET", "/api/v1/jobs", **known).status == 200
    assert service.ask("POST", "/api/v1/jobs", b"x", Content_Type="application/toml", **known).status == 403


def test_names_of_this_machine_and_allowed_ones_are_its_own() -> None:
    for name, bound, own in (
        ("localhost", "127.0.0.1", True), ("127.0.0.1", "127.0.0.1", True), ("::1", "127.0.0.1", True),
        ("other.example", "127.0.0.1", False), ("10.0.0.5", "127.0.0.1", False), ("10.0.0.5", "0.0.0.0", True),
        ("other.example", "0.0.0.0", False), ("fold.example", "0.0.0.0", True), ("", "0.0.0.0", False),
        ("10.0.0.5", "10.0.0.5", True), ("10.0.0.6", "10.0.0.5", False), ("2001:db8::1", "::", True),
    ):  # fmt: skip
        assert own_host(name, bound, ("fold.example",)) == own, (name, bound)
    assert [host_name(h) for h in ("a.b:80", "[::1]:80", "A.B", "::1")] == ["a.b", "::1", "a.b", "::1"]
    assert [loopback(h) for h in ("127.0.0.1", "::1", "localhost", "0.0.0.0", "10.1.1.1")] == [True] * 3 + [False] * 2


def test_a_caller_beyond_the_rate_waits_and_others_do_not(limited: Service) -> None:
    rates = Rates(1e-6, 3)
    assert [rates.take("a") > 0.0 for _ in range(5)] == [False, False, False, True, True]
    assert rates.take("b") == 0.0
    greedy = replace(limited, source="127.0.0.9")
    answers = [greedy.ask("GET", "/api/v1/jobs") for _ in range(75)]
    assert all(a.status == 200 for a in answers[:60])
    refused = [a for a in answers if a.status == 429]
    assert refused and int(refused[0].headers["retry-after"]) >= 1
    assert "0.1 requests a second" in refused[0].document["detail"]
    assert replace(limited, source="127.0.0.8").ask("GET", "/api/v1/jobs").status == 200


def test_tokens_with_bad_names_and_scopes_are_refused(tmp_path: Path) -> None:
    tokens = Tokens(tmp_path)
    for name, scope in (("a/b", "read"), ("", "read"), ("local", "read"), ("x" * 65, "read"), ("ok", "root")):
        with pytest.raises(InputError, match=r"name|scope"):
            tokens.new(name, scope)
    tokens.new("ok", "read")
    with pytest.raises(InputError, match="already"):
        tokens.new("ok", "read")
    with pytest.raises(InputError, match="no token 'nobody'"):
        tokens.revoke("nobody")


def scrambled(chance: random.Random) -> bytes:
    """A problem file with some of its bytes, lines or values damaged."""
    text = bytearray(SMALL.encode())
    kind = chance.randrange(4)
    if kind == 0:  # other bytes
        for _ in range(chance.randint(1, 8)):
            text[chance.randrange(len(text))] = chance.randrange(256)
    elif kind == 1:  # a piece lost
        at = chance.randrange(len(text))
        del text[at : at + chance.randint(1, 60)]
    elif kind == 2:  # a value of another kind
        lines = text.split(b"\n")
        places = [k for k, line in enumerate(lines) if b"=" in line]
        at = chance.choice(places)
        wrong = [b"-1", b"[]", b"{}", b'"no"', b"true", b"nan", b"1e999", b'"3 furlong"', b"[[1]]", b'""']
        lines[at] = lines[at].split(b"=")[0] + b"= " + chance.choice(wrong)
        text = bytearray(b"\n".join(lines))
    else:  # no problem at all
        text = bytearray(chance.randbytes(chance.randint(0, 300)))
    return bytes(text)


def malformed(service: Service, count: int) -> None:
    """So many damaged problems: each is accepted by the reader too, or refused with a sentence; never a failure."""
    from synth.cell import vocabulary
    from synth.problem.reading import loads

    chance, refused = random.Random(5), 0
    while refused < count:
        body = scrambled(chance)
        try:
            loads(body, "problem", vocabulary())
            continue  # the damage does not matter
        except InputError as fault:
            expected = fault
        as_json = chance.random() < 0.2
        kind = "application/json" if as_json else "application/toml"
        path = chance.choice(["/api/v1/jobs", "/api/v1/validate"])
        answer = service.ask("POST", path, body, Content_Type=kind)
        assert answer.status in (400, 422), (answer.status, body)
        told = answer.document
        assert told["detail"] and told["status"] == answer.status
        if not as_json:
            assert told["detail"] == str(expected)
            assert [e["field"] for e in told["errors"]] == [f for f, _ in expected.faults]
        refused += 1


def test_malformed_problems_are_refused_by_field(service: Service) -> None:
    malformed(service, 150)


@pytest.mark.slow
def test_a_thousand_malformed_problems_are_refused_by_field(service: Service) -> None:
    malformed(service, 1000)
