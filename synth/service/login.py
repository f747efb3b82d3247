"""Where a browser gives its token: a plain form, and a cookie that only this service gets back."""

from typing import Annotated

from fastapi import FastAPI, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from synth.service.guard import COOKIE
from synth.service.tokens import Tokens

_PAGE = """<!doctype html>
<html lang="en">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Stowfront: token</title>
<style>
:root {{ color-scheme: light dark; font-family: system-ui, sans-serif; }}
main {{ max-width: 24rem; margin: 15vh auto; padding: 1rem; }}
label, input, button {{ display: block; width: 100%; box-sizing: border-box; font: inherit; }}
input, button {{ margin: .4rem 0 1rem; padding: .6rem; }}
</style>
<main>
<h1>Stowfront</h1>
<form method="post" action="/login">
<label for="token">Token</label>
<input id="token" name="token" type="password" autocomplete="current-password" required autofocus>
<button type="submit">Go on</button>
</form>
<p role="alert">{told}</p>
<p>Whoever runs this service makes one with: stowfront token new NAME</p>
</main>
</html>"""
WEEK_S = 7 * 86400


def install(app: FastAPI, tokens: Tokens) -> None:
    """Adds /login and /logout."""

    @app.get("/login", include_in_schema=False)
    def ask() -> HTMLResponse:
        return HTMLResponse(_PAGE.format(told=""))

    @app.post("/login", include_in_schema=False)
    def take(request: Request, token: Annotated[str, Form(max_length=200)] = "") -> Response:
        if tokens.find(token.strip()) is None:
            return HTMLResponse(_PAGE.format(told="This token is not known."), status_code=401)
        answer = RedirectResponse("/", status_code=303)
        secure = request.url.scheme == "https" or request.headers.get("x-forwarded-proto") == "https"
        answer.set_cookie(COOKIE, token.strip(), max_age=WEEK_S, httponly=True, samesite="strict", secure=secure)
        return answer

    @app.post("/logout", include_in_schema=False)
    def leave() -> Response:
        answer = RedirectResponse("/login", status_code=303)
        answer.delete_cookie(COOKIE)
        return answer
