"""A service with tokens: the page asks for one, shows what its scope allows, and lets go of it."""

from playwright.sync_api import Browser, expect

from synth.service.tokens import Tokens
from tests.service.served import Service


def test_the_page_asks_for_a_token_and_tells_what_it_may_not(chromium: Browser, locked: Service) -> None:
    context = chromium.new_context()
    page = context.new_page()
    strange: list[str] = []
    page.on("pageerror", lambda e: strange.append(str(e)))
    page.goto(f"http://127.0.0.1:{locked.port}/")
    expect(page.get_by_label("Token")).to_be_visible()
    page.get_by_label("Token").fill("wrong")
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_role("alert")).to_have_text("This token is not known.")
    page.get_by_label("Token").fill(Tokens(locked.data).new("desk", "read"))
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_role("heading", name="Jobs", exact=True)).to_be_visible()
    page.get_by_role("link", name="New job").first.click()
    expect(page.get_by_text("The problem is complete")).to_be_visible()
    page.get_by_role("button", name="Submit the job").click()
    expect(page.locator(".failure")).to_contain_text("scope read; this needs submit")
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_label("Token")).to_be_visible()
    page.goto(f"http://127.0.0.1:{locked.port}/page")
    expect(page.get_by_label("Token")).to_be_visible()
    context.close()
    assert not strange
