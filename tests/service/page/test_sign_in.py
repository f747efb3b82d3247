"""A service with tokens: the page asks for one, shows what its scope allows, and lets go of it."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from synth.service.tokens import Tokens
from tests.service.served import Service, ended


@pytest.fixture
def guarded(tmp_path: Path) -> Iterator[Service]:
    """A service that knows a token, which may read alone."""
    data = tmp_path / "data"
    data.mkdir()
    made = Service(data, ("--rate", "2000"))
    made.token = Tokens(data).new("desk", "read")
    yield made.start()
    ended(made)


def test_the_page_asks_for_a_token_and_tells_what_it_may_not(chromium: Browser, guarded: Service) -> None:
    context = chromium.new_context()
    page = context.new_page()
    strange: list[str] = []
    page.on("pageerror", lambda e: strange.append(str(e)))
    page.goto(f"http://127.0.0.1:{guarded.port}/")
    expect(page.get_by_label("Token")).to_be_visible()
    page.get_by_label("Token").fill("wrong")
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_role("alert")).to_have_text("This token is not known.")
    page.get_by_label("Token").fill(str(guarded.token))
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_role("heading", name="No jobs yet")).to_be_visible()
    page.get_by_role("link", name="New job").first.click()
    expect(page.get_by_text("The problem is complete")).to_be_visible()
    page.get_by_role("button", name="Submit the job").click()
    expect(page.locator(".failure")).to_contain_text("scope read; this needs submit")
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_label("Token")).to_be_visible()
    page.goto(f"http://127.0.0.1:{guarded.port}/page")
    expect(page.get_by_label("Token")).to_be_visible()
    context.close()
    assert not strange
