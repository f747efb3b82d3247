"""Refusals as problem details (RFC 9457), each with the fields that are wrong."""

import http
import logging
from collections.abc import Sequence
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel
from starlette.exceptions import HTTPException
from starlette.routing import BaseRoute, Match, Route

from synth.service.errors import Refused

TYPE = "application/problem+json"
log = logging.getLogger("stowfront.service")


class FieldFault(BaseModel):
    """One thing wrong. field: of the problem file, dotted; or the name of a parameter or header."""

    field: str
    detail: str


class ProblemDetails(BaseModel):
    """RFC 9457. errors: what is wrong, field by field, where fields are known."""

    type: str = "about:blank"
    title: str
    status: int
    detail: str
    instance: str
    errors: list[FieldFault] = []


def document(fault: Refused, path: str) -> dict[str, Any]:
    """A refusal as problem details."""
    return {
        "type": "about:blank",
        "title": fault.title,
        "status": fault.status,
        "detail": fault.detail,
        "instance": path,
        "errors": [{"field": f, "detail": d} for f, d in fault.faults],
    }


def answer(status: int, title: str, detail: str, request: Request, errors: list[dict[str, str]]) -> JSONResponse:
    """Problem details as a response."""
    content = {"type": "about:blank", "title": title, "status": status, "detail": detail}
    content |= {"instance": request.url.path, "errors": errors}
    return JSONResponse(content, status, media_type=TYPE)


def install(app: FastAPI) -> None:
    """Makes every fault of the interface an answer of this kind."""

    @app.exception_handler(Refused)
    def refused(request: Request, fault: Refused) -> JSONResponse:
        headers = {} if fault.after_s is None else {"Retry-After": str(fault.after_s)}
        return JSONResponse(document(fault, request.url.path), fault.status, headers, TYPE)

    @app.exception_handler(RequestValidationError)
    def invalid(request: Request, fault: RequestValidationError) -> JSONResponse:
        told = [{"field": _field(e["loc"]), "detail": str(e["msg"])} for e in fault.errors()]
        detail = "; ".join(f"{e['field']}: {e['detail']}" for e in told)
        return answer(422, "Input is wrong", detail, request, told)

    @app.exception_handler(HTTPException)
    def plain(request: Request, fault: HTTPException) -> JSONResponse:
        title = http.HTTPStatus(fault.status_code).phrase
        found = answer(fault.status_code, title, str(fault.detail), request, [])
        found.headers.update(fault.headers or {})
        return found

    @app.exception_handler(Exception)
    def unforeseen(request: Request, fault: Exception) -> JSONResponse:
        log.error("%s %s: %s", request.method, request.url.path, type(fault).__name__, exc_info=fault)
        return answer(500, "Internal error", "the service failed to answer; its log says more", request, [])


def install_unknown(app: FastAPI, routes: Sequence[BaseRoute]) -> None:
    """Answers what no route of the interface takes, before a page at "/" does: 405 where another method would be
    taken, else 404."""
    every = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "QUERY")

    @app.api_route("/api/{rest:path}", include_in_schema=False, methods=list(every))
    def unknown(request: Request, rest: str) -> None:
        near = [r for r in routes if isinstance(r, Route) and r.matches(request.scope)[0] == Match.PARTIAL]
        taken = {m for r in near for m in r.methods or ()}
        if taken:
            raise HTTPException(405, f"{request.method} is not among {', '.join(sorted(taken))}",
                                {"Allow": ", ".join(sorted(taken))})  # fmt: skip
        raise HTTPException(404, f"there is nothing at /api/{rest[:200]}")


def _field(where: tuple[str | int, ...]) -> str:
    """The name of a parameter from its place, such as ("query", "evaluations")."""
    return ".".join(str(p) for p in where[1:]) or str(where[0])
