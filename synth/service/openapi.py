"""The interface's own description, and a page that shows it without asking any other host."""

import base64
import hashlib
import re
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.docs import get_swagger_ui_html
from fastapi.openapi.utils import get_openapi
from fastapi.responses import HTMLResponse, JSONResponse
from fastapi.staticfiles import StaticFiles

from synth.service.problems import TYPE, ProblemDetails

_ABOUT = {
    400: "The request cannot be read.",
    401: "No token, or one that is not known.",
    403: "The token's scope does not reach so far, or the request comes from a page of another site.",
    404: "There is no such job, candidate or file (yet).",
    409: "The job's state does not allow it.",
    413: "The body is larger than the service takes.",
    415: "The body is of a type that is not read.",
    422: "The input is wrong; `errors` names each field.",
    429: "Too many requests or waiting jobs; Retry-After says when to try again.",
    503: "The database or the disk is away; Retry-After says when to try again.",
}


def description(app: FastAPI) -> dict[str, Any]:
    """OpenAPI with the refusals that each operation may answer, as problem details."""
    told = get_openapi(title=app.title, version=app.version, routes=app.routes, description=(
        "Jobs that search ways to fold a large flat aperture into a small stowed envelope. Every fault is told as "
        "problem details (RFC 9457)."
    ))  # fmt: skip
    parts = told.setdefault("components", {}).setdefault("schemas", {})
    schema = ProblemDetails.model_json_schema(ref_template="#/components/schemas/{model}")
    parts.update(schema.pop("$defs", {}))
    parts["ProblemDetails"] = schema
    for name in ("HTTPValidationError", "ValidationError"):
        parts.pop(name, None)
    told["components"]["securitySchemes"] = {"token": {"type": "http", "scheme": "bearer"}}
    content = {TYPE: {"schema": {"$ref": "#/components/schemas/ProblemDetails"}}}
    for path, operations in told["paths"].items():
        for method, operation in operations.items():
            open_to_all = path in ("/api/v1/health", "/api/v1/ready")
            if not open_to_all:
                operation["security"] = [{"token": []}]
            for status in _refusals(path, method, open_to_all):
                operation["responses"][str(status)] = {"description": _ABOUT[status], "content": content}
    return told


def _refusals(path: str, method: str, open_to_all: bool) -> list[int]:
    found = [400, 403, 429, 503] if open_to_all else [400, 401, 403, 422, 429, 503]
    if "{id}" in path or path.endswith(("/compare", "/jobs")):
        found += [404, 409]
    if method == "post":
        found += [413]
    if path.endswith(("/jobs", "/validate")) and method == "post":
        found += [415]
    return found


def install(app: FastAPI) -> str:
    """Adds /api/v1/openapi.json and /api/v1/docs; returns the source expression that lets the page's script run."""
    from fastapi_offline import core as offline

    page = get_swagger_ui_html(
        openapi_url="openapi.json",
        title="Stowfront: the HTTP interface",
        swagger_js_url="docs/assets/swagger-ui-bundle.js",
        swagger_css_url="docs/assets/swagger-ui.css",
        swagger_favicon_url="docs/assets/favicon.png",
    ).body
    text = bytes(page).decode()
    scripts = re.findall(r"<script>(.*?)</script>", text, re.S)

    @app.get("/api/v1/openapi.json", include_in_schema=False)
    def openapi_json() -> JSONResponse:
        if app.openapi_schema is None:
            app.openapi_schema = description(app)
        return JSONResponse(app.openapi_schema)

    @app.get("/api/v1/docs", include_in_schema=False)
    def docs() -> HTMLResponse:
        return HTMLResponse(text)

    app.mount("/api/v1/docs/assets", StaticFiles(directory=offline._STATIC_PATH), name="docs-assets")
    digests = [base64.b64encode(hashlib.sha256(s.encode()).digest()).decode() for s in scripts]
    return " ".join(f"'sha256-{d}'" for d in digests)
