"""A service with two finished jobs and a real browser, shared by the tests of the page."""

import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from tests.service.served import ROOT, Service, ended, leave_idle

HAZE = (ROOT / "problems" / "harbour_haze.toml").read_text(encoding="utf-8")
EASY = (
    HAZE.replace('"10 um"', '"60 um"')
    .replace('"5 Hz"', '"1 Hz"')
    .replace('"100 Hz"', '"20 Hz"')
    .replace("0.095", "0.08")
)
"""Limits so loose that a few candidates make a front, whatever else is refined."""
LIGHTER = EASY.replace('limit = "3 kg"', 'limit = "2 kg"').replace("receiver, 400 mm", "receiver, lighter")
WAIT_MS = 30_000
expect.set_options(timeout=WAIT_MS)


@dataclass(frozen=True)
class Desk:
    """A service and the ids of two jobs that are done: one problem under two mass limits."""

    service: Service
    first: str
    second: str

    @property
    def address(self) -> str:
        """Where the page lies."""
        return f"http://127.0.0.1:{self.service.port}/page"


@dataclass
class Sheet:
    """A browser page, and whatever it did that no page of ours may do."""

    page: Page
    desk: Desk
    strange: list[str] = field(default_factory=list)

    def go(self, where: str) -> Page:
        """Opens a view."""
        self.page.goto(f"{self.desk.address}#/{where}")
        return self.page


@pytest.fixture(scope="session")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    """One service for all tests of the page that a process runs."""
    folder = tmp_path_factory.mktemp("page") / "data"
    more = ("--rate", "2000", "--burst", "5000", "--nice", "0", "--workers", "0", "--running", "2")
    service = Service(folder, more).start()
    try:
        ids = [service.submit(text, "?evaluations=45").document["id"] for text in (EASY, LIGHTER)]
        for id in ids:
            job = service.client.wait(id)
            assert job["state"] == "done" and job["exit_code"] == 0, job
        yield Desk(service, *ids)
    finally:
        ended(service)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Headless Chromium as Debian has it; where there is none the tests are skipped, but never in the recipe."""
    found = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        if os.environ.get("CI"):
            pytest.fail("no Chromium: .ci/run installs it")
        pytest.skip("no Chromium on this machine: apt-get install chromium, or name one in CHROMIUM")
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture
def sheet(chromium: Browser, desk: Desk) -> Iterator[Callable[..., Sheet]]:
    """Makes pages of a width and a colour scheme; in the end none may have asked elsewhere or told an error."""
    contexts: list[BrowserContext] = []
    made: list[Sheet] = []

    def make(width: int = 1280, scheme: str = "light") -> Sheet:
        context = chromium.new_context(viewport={"width": width, "height": 860}, color_scheme=scheme)  # type: ignore[arg-type]
        contexts.append(context)
        context.set_default_timeout(WAIT_MS)
        one = Sheet(context.new_page(), desk)
        home = f"http://127.0.0.1:{desk.service.port}/"
        one.page.on("request", lambda r: None if r.url.startswith((home, "blob:")) else one.strange.append(r.url))
        one.page.on("pageerror", lambda e: one.strange.append(str(e)))
        one.page.on("console", lambda m: one.strange.append(m.text) if m.type == "error" else None)
        made.append(one)
        return one

    yield make
    strange = [s for one in made for s in one.strange]
    for context in contexts:
        context.close()
    leave_idle(desk.service)
    assert not strange, strange


def artefact(name: str) -> Path | None:
    """Where a screenshot goes, if somebody wants to look: the folder named in PAGE_PICTURES."""
    folder = os.environ.get("PAGE_PICTURES")
    return Path(folder) / f"{name}.png" if folder else None
