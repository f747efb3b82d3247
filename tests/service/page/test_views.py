"""Each view of the page driven to a visible result in a real browser."""

import io
import json
import re
import zipfile
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Locator, Page, Route, expect

from tests.near import near
from tests.service.page.conftest import EASY, HAZE, Desk, Sheet, artefact
from tests.service.served import LONG

Make = Callable[..., Sheet]


def shown(page: Page, name: str) -> None:
    """A screenshot for whoever wants to look."""
    path = artefact(name)
    if path is not None:
        page.screenshot(path=path, full_page=True)


def test_submit_a_problem_from_form_file_and_text(sheet: Make, tmp_path: Path) -> None:
    page = sheet().go("new")
    complete, go = page.get_by_text("The problem is complete"), page.get_by_role("button", name="Submit the job")
    expect(complete).to_be_visible()
    circle, room = page.locator(".drawn circle.aperture"), page.locator(".drawn .room .front").first
    across, front = (float(n.evaluate("n => n.getBBox().width")) for n in (circle, room))
    near(across / front, 0.4 / 0.2263, rel=1e-4, why="both to one scale")
    # a value of the wrong kind is told beside its field, and nothing can be submitted
    field = page.get_by_label("Clear diameter")
    field.fill("42 kg")
    field.press("Tab")
    expect(page.locator(".entry.wrong .fault")).to_contain_text("a length such as")
    expect(page.get_by_label("Clear diameter")).to_have_attribute("aria-invalid", "true")
    expect(go).to_be_disabled()
    page.get_by_label("Clear diameter").fill("410 mm")
    page.get_by_label("Clear diameter").press("Tab")
    expect(complete).to_be_visible()
    shown(page, "submit")
    page.get_by_text("The problem file as text").click()
    text = page.get_by_label("Problem file (TOML)")
    assert 'clear_diameter = "410 mm"           # 0.126 m^2' in text.input_value()
    # what was typed is understood before anything is submitted: until then it would be the text of before
    assert text.evaluate(
        "(area) => { area.dispatchEvent(new Event('input')); return [...document.querySelectorAll('button')]"
        ".filter((b) => /^Submit the/.test(b.textContent)).map((b) => b.disabled) }"
    ) == [True, True]
    # what is typed into the text shows in the form
    text.fill(HAZE.replace('limit = "3 kg"', 'limit = "2.5 kg"'))
    expect(page.get_by_label("Limit [kg]", exact=True)).to_have_value("2.5 kg")
    # a file, with another envelope added by the form
    file = tmp_path / "mine.toml"
    file.write_text(HAZE.replace("evaluations = 6000", "evaluations = 15"), encoding="utf-8")
    page.set_input_files("#file", file)
    expect(page.get_by_label("Candidates for each envelope")).to_have_value("15")
    page.get_by_role("button", name="Add an envelope").click()
    expect(page.locator(".drawn .room")).to_have_count(4)
    page.get_by_role("button", name="Take away envelope room_1").click()
    expect(page.locator(".drawn .room")).to_have_count(3)
    page.get_by_label("Seed").fill("7")
    page.get_by_label("Seed").press("Tab")
    expect(complete).to_be_visible()
    go.click()
    page.wait_for_url("**/page#/jobs/*")
    expect(page.get_by_role("heading", name="Harbour-haze lidar receiver, 400 mm")).to_be_visible()


def test_a_job_is_watched_cancelled_resumed_cloned_and_deleted(sheet: Make, desk: Desk) -> None:
    id = desk.service.submit(LONG, "?seed=11&evaluations=6000").document["id"]
    page = sheet().go("jobs")
    row = page.locator("tr", has_text=id)
    expect(row).to_be_visible()
    row.get_by_role("link", name="A drawer and a tube").click()
    expect(page.locator(".curve").first).to_be_visible(timeout=90_000)
    expect(page.get_by_role("progressbar")).to_be_visible()
    expect(page.locator(".shares").first).to_contain_text("of")
    expect(page.locator(".head .badge")).to_have_text("running")
    expect(page.get_by_label("Best so far, scrolls")).to_contain_text("kg", timeout=60_000)
    before = page.get_by_role("progressbar").get_attribute("aria-valuenow")
    expect(page.get_by_role("progressbar")).not_to_have_attribute("aria-valuenow", str(before))  # live, unasked
    shown(page, "job")
    page.get_by_role("button", name=f"Cancel {id}").click()
    expect(page.locator(".head .badge")).to_have_text("stopped", timeout=90_000)
    page.get_by_role("button", name=f"Resume {id}").click()
    expect(page.locator(".head .badge")).to_have_text("running", timeout=90_000)
    resumed = page.get_by_role("progressbar").get_attribute("aria-valuenow")
    expect(page.get_by_role("progressbar")).not_to_have_attribute("aria-valuenow", str(resumed), timeout=90_000)
    page.get_by_role("button", name=f"Cancel {id}").click()
    expect(page.locator(".head .badge")).to_have_text("stopped", timeout=90_000)
    page.get_by_role("link", name=f"Clone {id}").click()
    expect(page.get_by_label("Title")).to_have_value("A drawer and a tube")
    page.go_back()
    page.get_by_role("button", name=f"Delete {id}").click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("cannot be undone")
    dialog.get_by_role("button", name="Delete").click()
    expect(page.get_by_role("heading", name="Jobs", exact=True)).to_be_visible()
    expect(page.locator("tr", has_text=id)).to_have_count(0)
    assert desk.service.ask("GET", f"/api/v1/jobs/{id}").status == 404


def test_a_late_answer_and_news_of_the_past_do_not_hide_how_a_job_stands(sheet: Make, desk: Desk) -> None:
    """The service's answers come late, and a stream taken up after a resume tells every earlier stop once more."""
    id = desk.service.submit(LONG, "?seed=12").document["id"]
    desk.service.client.cancel(id)
    job = desk.service.client.wait(id)
    page = sheet().page
    running = {**job, "state": "running", "exit_code": None, "finished": None}
    past = "".join(f'event: state\ndata: {{"state": "{s}", "over": {o}}}\n\n' for s, o in
                   (("running", "false"), ("stopped", "true"), ("running", "false")))  # fmt: skip
    asked: list[Route] = []
    held: list[Route] = []

    def cancel(route: Route) -> None:
        asked.append(route)
        route.fulfill(json={**running, "stopping": True})

    def look(route: Route) -> None:
        """Running until it was asked to stop; the first answer after that is held back, later ones say stopped."""
        if not asked:
            route.fulfill(json=running)
        elif not held:
            held.append(route)
        else:
            route.fulfill(json=job)

    page.route("**/events", lambda r: r.fulfill(body=past, content_type="text/event-stream"))
    page.route(f"**/api/v1/jobs/{id}", look)
    page.route(f"**/jobs/{id}/cancel", cancel)
    page.goto(f"{desk.address}#/jobs/{id}")
    badge = page.locator(".head .badge")
    expect(badge).to_have_text("running")
    page.get_by_role("button", name=f"Cancel {id}").click()
    expect(badge).to_have_text("stopped")
    held[0].fulfill(json={**running, "stopping": True})
    page.wait_for_load_state("networkidle")
    expect(badge).to_have_text("stopped")


def test_the_views_of_a_front_are_linked(sheet: Make, desk: Desk) -> None:
    page = sheet().go(f"jobs/{desk.first}/front")
    rows, marks = page.locator("table.rows tbody tr"), page.locator(".points .mark")
    expect(rows.first).to_be_visible()
    told = desk.service.ask("GET", f"/page/data/jobs/{desk.first}/front").document
    count = len(told["rows"])
    expect(marks).to_have_count(count)
    expect(page.locator(".parallel .lines .line")).to_have_count(count)
    shown(page, "front")
    # a row picks the candidate everywhere, the address too
    other = rows.nth(count - 1)
    id = str(other.get_attribute("data-id"))
    other.get_by_role("button").first.click()
    expect(page.locator(".candidate .lead")).to_contain_text(id)
    expect(page.locator(".points .mark[aria-selected=true]")).to_have_attribute("aria-label", _begins(id))
    assert f"c={id}" in page.url
    # keys on the scatter go to the next candidate along the axis
    page.locator("svg[role=listbox]").focus()
    page.keyboard.press("ArrowLeft")
    expect(page.locator(".candidate .lead")).not_to_contain_text(id)
    # a filter holds in all views
    masses = sorted(r["values"][_place(told, "mass_kg")] for r in told["rows"])
    middle = masses[count // 2]
    page.get_by_label("Greatest mass with growth in kg").fill(repr(middle))
    page.get_by_label("Greatest mass with growth in kg").press("Enter")
    kept = sum(m <= middle for m in masses)
    expect(page.locator(".count", has_text="candidates")).to_have_text(f"{kept} of {count} candidates")
    expect(page.locator(".points .mark.faint")).to_have_count(count - kept)
    expect(page.locator(".parallel .line.faint")).to_have_count(count - kept)
    page.get_by_role("button", name="Clear filters").click()
    expect(page.locator(".points .mark.faint")).to_have_count(0)
    # a range dragged along a parallel axis is the same filter
    brush = page.locator(".brush").nth(1).bounding_box()
    assert brush is not None
    page.mouse.move(brush["x"] + 14, brush["y"] + 2)
    page.mouse.down()
    page.mouse.move(brush["x"] + 14, brush["y"] + 0.5 * brush["height"], steps=4)
    page.mouse.up()
    expect(page.locator(".parallel .kept")).to_be_visible()
    assert page.locator(".parallel .line.faint").count() == page.locator(".points .mark.faint").count() > 0
    page.get_by_role("button", name="Clear filters").click()
    # sorted by a column
    page.get_by_role("button", name="Surface error rms").click()
    cells = [float(c) for c in page.locator("table.rows tbody tr td:nth-child(6)").all_inner_texts()]
    assert cells == sorted(cells) and len(set(cells)) > 1
    # three objectives in depth, turned; colour and shape by envelope
    page.get_by_label("in depth").check()
    cloud = page.locator("svg.turning")
    first = cloud.locator(".mark").first.get_attribute("transform")
    cloud.focus()
    page.keyboard.press("Shift+ArrowRight")
    expect(cloud.locator(".mark").first).not_to_have_attribute("transform", str(first))
    expect(cloud.locator(".title")).to_have_count(3)
    page.get_by_label("envelope", exact=True).check()
    tones = cloud.locator(".mark").evaluate_all("nodes => [...new Set(nodes.map(n => n.classList[1]))]")
    assert len(tones) == len({r["envelope"] for r in told["rows"]})


def _begins(id: str) -> "re.Pattern[str]":
    return re.compile(f"^{re.escape(id)},")


def _place(told: dict[str, list[dict[str, object]]], metric: str) -> int:
    return [m["name"] for m in told["metrics"]].index(metric)


def drawn(canvas: Locator) -> str:
    """What a canvas shows now."""
    return str(canvas.evaluate("c => c.toDataURL()"))


def test_a_candidate_is_seen_from_every_side(sheet: Make, desk: Desk) -> None:
    made = sheet()
    page = made.go(f"jobs/{desk.first}/front")
    stage = page.locator("canvas.stage")
    expect(stage).to_be_visible()
    panel = page.get_by_role("tabpanel")
    slider = page.get_by_label("State of the deployment, stowed to deployed")
    expect(page.locator(".player .now")).to_have_text("100 % · deployed")
    expect(stage).to_have_attribute("data-drawn", "1.000")
    deployed = drawn(stage)
    slider.focus()
    page.keyboard.press("Home")
    expect(page.locator(".player .now")).to_have_text("0 % · stowed")
    expect(stage).to_have_attribute("data-drawn", "0.000")
    assert drawn(stage) != deployed
    page.get_by_role("button", name="Play").click()
    expect(stage).to_have_attribute("data-drawn", re.compile(r"0\.[1-9]"))
    page.get_by_role("button", name="Pause").click()
    expect(page.locator(".player .now")).to_contain_text("stage")
    page.get_by_role("tab", name="Stowed").click()
    expect(panel.locator("canvas.stage")).to_be_visible()
    _picture(panel)
    shown(page, "stowed")
    page.get_by_role("tab", name="Plan").click()
    _picture(panel)
    id = str(page.locator(".candidate .lead .id").inner_text())
    record = json.loads(desk.service.client.file(desk.first, f"candidates/{id}"))
    page.get_by_role("tab", name="Requirements").click()
    expect(panel.locator("tbody tr")).to_have_count(len(record["requirements"]))
    expect(panel.locator("tbody tr.bad")).to_have_count(sum(not r["ok"] for r in record["requirements"]))
    page.get_by_role("tab", name="Accuracy").click()
    expect(panel.locator("svg.budget")).to_have_count(2)
    micro = 1e6 * record["metrics"]["surface_rms_m"]
    expect(panel.locator(".figure b").first).to_have_text(f"{micro:.{2 if micro >= 1.0 else 3}f} µm")
    shown(page, "accuracy")
    page.get_by_role("tab", name="Modes").click()
    expect(panel.locator(".choice label")).to_have_count(6)
    hertz = float(panel.locator(".choice label").first.inner_text().split(":")[1].split()[0])
    near(hertz, record["metrics"]["first_mode_hz"], rel=0.006, why="told with one decimal")
    panel.locator(".choice label").nth(2).click()
    shown(page, "modes")
    page.get_by_role("tab", name="Build").click()
    expect(panel).to_contain_text(f"{record['metrics']['mass_kg']:.3f} kg with growth")


def _picture(panel: Locator) -> None:
    """A drawing has come and is no empty frame."""
    image = panel.locator(".paper img")
    expect(image).to_have_js_property("complete", True)
    image.evaluate("i => i.decode()")
    assert int(image.evaluate("i => i.naturalWidth")) > 300


def test_pinned_candidates_stand_side_by_side_and_seeds_are_downloaded(sheet: Make, desk: Desk) -> None:
    page = sheet().go(f"jobs/{desk.first}/front")
    rows = page.locator("table.rows tbody tr")
    expect(rows.first).to_be_visible()
    ids = [str(rows.nth(k).get_attribute("data-id")) for k in (0, 3)]
    for id in ids:
        page.locator(f"tr[data-id='{id}'] .pick").click()
        expect(page.locator(".candidate .lead")).to_contain_text(id)
        page.get_by_role("button", name="Pin to compare").click()
    beside = page.get_by_role("region", name="Side by side", exact=True)
    expect(beside.locator("canvas.stage")).to_have_count(2)
    expect(beside.locator(".compared tbody tr").first).to_be_visible()
    expect(beside.locator(".compared td.best").first).to_be_visible()
    assert ",".join(ids).replace(",", "%2C") in page.url
    shown(page, "beside")
    with page.expect_download(timeout=120_000) as waited:
        beside.get_by_role("button", name="Seed package").first.click()
    assert waited.value.suggested_filename == f"seed-{ids[0]}.zip"
    with zipfile.ZipFile(io.BytesIO(Path(waited.value.path()).read_bytes())) as package:
        assert any(n.endswith("deployment.glb") for n in package.namelist())
    beside.get_by_role("button", name=f"Unpin {ids[0]}").click()
    expect(beside.locator("canvas.stage")).to_have_count(1)


def test_fronts_are_compared(sheet: Make, desk: Desk) -> None:
    page = sheet().go("jobs")
    for id in (desk.first, desk.second):
        page.get_by_label(f", {id}").check()
    page.get_by_role("button", name="Compare 2").click()
    over = page.get_by_role("region", name="Fronts over each other")
    expect(over.locator("svg .mark").first).to_be_visible(timeout=90_000)
    told = desk.service.ask("GET", f"/page/data/compare?job={desk.first}&job={desk.second}").document
    with_rows = [e for e in told["entries"] if e["rows"]]
    expect(over.locator("svg .curve")).to_have_count(len(with_rows))
    expect(page.get_by_role("region", name="Findings")).to_contain_text("From ")
    expect(page.locator(".stretch").first).to_be_visible()
    assert page.locator(".stretch").count() == sum(len(w["stretches"]) for w in told["winners"])
    buys = page.get_by_role("region", name="What more buys")
    expect(buys).to_contain_text("kg")
    expect(buys.locator("svg .mark").first).to_be_visible()
    lines = [line for swept in told["sweep"] for line in swept["lines"]]
    for line in lines:  # each of one envelope, over the two limits
        assert [p["x"] for p in line["points"]] == [2.0, 3.0], line
        assert {p["entry"].rpartition(": ")[2] for p in line["points"]} == {line["name"]}
    assert lines
    expect(page.get_by_role("region", name="What is compared", exact=True)).to_contain_text("mass.limit")
    over.get_by_role("button", name=with_rows[0]["label"]).click()
    expect(over.locator("svg .curve")).to_have_count(len(with_rows) - 1)
    shown(page, "compare")


def test_a_sweep_is_submitted_and_compared(sheet: Make, desk: Desk) -> None:
    page = sheet().go("new")
    page.get_by_text("The problem file as text").click()
    page.get_by_label("Problem file (TOML)").fill(EASY.replace("evaluations = 6000", "evaluations = 30"))
    expect(page.get_by_text("The problem is complete")).to_be_visible()
    page.get_by_text("Several jobs: sweep one number").click()
    page.get_by_label("Number", exact=True).select_option(label="Mass with growth, now 3 kg")
    page.get_by_label("First value").fill("4 kg")
    page.get_by_label("Last value").fill("3 kg")
    page.get_by_label("How many values").fill("2")
    page.get_by_role("button", name="Submit the sweep").click()
    page.wait_for_url("**/page#/compare?jobs=*")
    expect(page.get_by_role("region", name="What is compared", exact=True)).to_be_visible(timeout=240_000)
    expect(page.get_by_role("region", name="What is compared", exact=True)).to_contain_text("mass.limit")


def test_empty_and_wrong_states_say_what_to_do(sheet: Make, desk: Desk) -> None:
    page = sheet().page
    page.goto(f"{desk.address}#/jobs?title=no+such+title")
    expect(page.get_by_role("heading", name="No such job")).to_be_visible()
    page.goto(f"{desk.address}#/nowhere")
    expect(page.get_by_role("heading", name="No such page")).to_be_visible()
    page.goto(f"{desk.address}#/compare")
    expect(page.get_by_role("heading", name="Nothing chosen")).to_be_visible()
    id = desk.service.submit(LONG, "?seed=13").document["id"]
    page.goto(f"{desk.address}#/jobs/{id}/front")
    expect(page.get_by_role("heading", name="No front yet")).to_be_visible()
    nothing = {"jobs": [], "next": None, "counts": {}}
    page.route("**/api/v1/jobs?*", lambda route: route.fulfill(json=nothing))
    page.goto(f"{desk.address}#/jobs")
    expect(page.get_by_role("heading", name="No jobs yet")).to_be_visible()
