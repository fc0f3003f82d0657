"""An owner's engine on its pages, in a real browser: described, said where it contradicts itself, printed, answered."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from course.owner.filled_sheet import EXAMPLE
from course.owner.kept_engines import FOLDER
from tests.browser.axe import violations
from tests.browser.conftest import SCREEN, faults_of

WITHIN_MS = 60_000


@pytest.fixture(scope="module")
def at_home(plain_server, browser):
    """The pages with one engine that was mailed, and a browser's page, for all tests here."""
    context = browser.new_context(viewport=SCREEN, accept_downloads=True)
    page = context.new_page()
    faults = faults_of(page)
    page.goto(plain_server.index)
    page.goto(f"{plain_server.origin}/my-engine")
    page.get_by_label("Take in a file").set_input_files(EXAMPLE)
    page.get_by_role("button", name="Take it in").click()
    expect(page).to_have_url(f"{plain_server.origin}/my-engine/hoist_in_the_yard")
    yield plain_server, page
    context.close()
    assert faults == []


def test_an_engine_is_described_and_a_contradiction_is_said_at_its_field(at_home):
    """Typed by name, kept, and kept again; a contradiction stands at the field, and nothing typed is lost."""
    pages, page = at_home
    page.goto(f"{pages.origin}/my-engine")
    page.get_by_label("Describe another engine").fill("Ärger's pump")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Ärger's pump")
    page.get_by_label("Cylinders").select_option("6")
    page.get_by_label("Bore", exact=True).fill("3,5")
    page.get_by_label("Stroke", exact=True).fill("3.75")
    page.get_by_label("Displacement", exact=True).fill("300")
    page.get_by_role("button", name="Keep", exact=True).click()
    fault = page.locator("[id='build.displacement_l--fault']")
    expect(fault).to_contain_text("make 3.55 litres")
    expect(page.get_by_label("Displacement", exact=True)).to_have_attribute("aria-invalid", "true")
    expect(page.locator("#wrong")).to_be_focused()
    assert violations(page) == []
    assert page.get_by_label("Displacement", exact=True).input_value() == "300"
    page.get_by_label("Displacement", exact=True).fill("")
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(page.locator(".ow-saved")).to_contain_text("Kept in")
    assert "bore_mm = 88.9" in (pages.folder / FOLDER / "argers_pump.toml").read_text(encoding="utf-8")


def test_what_is_typed_is_kept_without_a_press(at_home):
    """A page that is closed while it is filled in loses nothing."""
    pages, page = at_home
    page.goto(f"{pages.origin}/my-engine/hoist_in_the_yard")
    page.get_by_label("Idle speed", exact=True).last.fill("575")
    page.get_by_label("Idle speed", exact=True).last.blur()
    expect(page.locator("#kept")).to_have_text("What you typed is kept.")
    page.goto(f"{pages.origin}/my-engine")
    page.goto(f"{pages.origin}/my-engine/hoist_in_the_yard")
    expect(page.get_by_label("Idle speed", exact=True).last).to_have_value("575")
    expect(page.locator(".ow-saved")).to_contain_text("not in the engine's file yet")


def test_a_sweep_is_entered_in_either_unit(at_home):
    """The unit of the column is chosen beside its heading; what is wrong in a row is said at that row, in that unit."""
    pages, page = at_home
    page.goto(f"{pages.origin}/my-engine")
    page.get_by_label("Describe another engine").fill("Swept in kPa")
    page.keyboard.press("Enter")
    page.locator("summary", has_text="Your own sweep").click()
    page.get_by_label("Unit of vacuum", exact=True).select_option("kPa")
    for row, (light, vacuum) in enumerate((("6", "57,6"), ("10", "600")), start=1):
        page.get_by_label(f"Halts of the sweep, row {row}, light").fill(light)
        page.get_by_label(f"Halts of the sweep, row {row}, vacuum").fill(vacuum)
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(page.locator("#wrong")).to_contain_text("Halts of the sweep, row 2: 600 kPa is 177.2 inHg.")
    expect(page.locator("[id='readings.sweep.1.vacuum_inhg--fault']")).to_contain_text("at most 28")
    page.get_by_label("Halts of the sweep, row 2, vacuum").fill("60")
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(page.locator(".ow-saved")).to_contain_text("Kept in")
    kept = (pages.folder / FOLDER / "swept_in_kpa.toml").read_text(encoding="utf-8")
    assert "vacuum_inhg = 17.00927" in kept and "kpa" not in kept.lower().split("[readings]")[1]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_and_nothing_is_cut_off(at_home, scheme):
    """List, form, sheet and answer, in the light and in the dark; on a phone nothing scrolls sideways."""
    pages, page = at_home
    page.emulate_media(color_scheme=scheme)
    for place in ("", "/hoist_in_the_yard", "/hoist_in_the_yard/sheet", "/hoist_in_the_yard/answer"):
        page.goto(f"{pages.origin}/my-engine{place}")
        page.evaluate("document.querySelectorAll('main details').forEach((one) => { one.open = true; })")
        assert violations(page) == [], place
        for width in (1280, 640, 390):
            page.set_viewport_size({"width": width, "height": 800})
            assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), (place, width)
        page.set_viewport_size(SCREEN)


def test_what_to_expect_is_worked_out_and_shown(at_home):
    """Progress first where it takes long; then bands, starting figure, distributor and the list, with no violation."""
    pages, page = at_home
    page.goto(f"{pages.origin}/my-engine/hoist_in_the_yard/look")
    expect(page.get_by_role("heading", name="What to expect")).to_be_visible(timeout=WITHIN_MS)
    expect(page.locator(".ow-bands .band").first).to_be_visible()
    expect(page.locator(".ow-suspects > li").first).to_contain_text("%")
    for title in ("A figure to start it with", "Does this distributor suit this engine?", "What not to do"):
        expect(page.get_by_role("heading", name=title)).to_be_visible()
    assert violations(page) == []
    for address in ("expect", "start", "suits", "compare"):
        page.locator(f".ow-groups a[href='#{address}']").click()
        expect(page.locator(f"#{address}")).to_be_in_viewport()


def test_the_sheet_prints_on_two_pages_of_either_size(at_home):
    """As the browser prints it: A4 and Letter, of the blank one, the example and the engine's own."""
    pages, page = at_home
    for name in ("blank", "example", "of-hoist_in_the_yard"):
        page.goto(f"{pages.origin}/my-engine-sheet/{name}.html")
        for paper in ("A4", "Letter"):
            printed = page.pdf(format=paper)
            assert len(re.findall(rb"/Type /Page\b", printed)) == 2, (name, paper)
        answer = page.request.get(f"{pages.origin}/my-engine-sheet/{name}-letter.pdf?{pages.key}")
        assert answer.body().startswith(b"%PDF")


def test_the_answer_is_written_by_a_person_and_taken_along(at_home):
    """The sentences are kept and come as a file; nothing is sent anywhere else."""
    pages, page = at_home
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(f"{pages.origin}/my-engine/hoist_in_the_yard/answer")
    page.get_by_label("Safe", exact=True).fill("Stop: the lead stays off.")
    expect(page.locator("#kept")).to_have_text("What you wrote is kept.")
    with page.expect_download() as taken:
        page.get_by_role("button", name="take them along as a file").click()
    text = taken.value.path().read_text(encoding="utf-8")
    assert text.startswith("SAFE\n\nStop: the lead stays off.") and "(your sentences)" in text
    page.goto(f"{pages.origin}/my-engine/hoist_in_the_yard/answer")
    expect(page.get_by_label("Safe", exact=True)).to_have_value("Stop: the lead stays off.")
    assert all(url.startswith((pages.origin, "data:", "blob:")) for url in asked)


def test_a_stand_in_is_practised_at(at_home):
    """From the engine's page to the bench: its own plate, and nothing written down."""
    pages, page = at_home
    page.goto(f"{pages.origin}/my-engine/hoist_in_the_yard/practise")
    bench = page.locator(".engine-bench")
    expect(bench).to_contain_text("Hoist in the yard", timeout=WITHIN_MS)
    page.set_viewport_size({"width": 390, "height": 800})
    for box in page.locator(".sh-field select").all():
        assert box.bounding_box()["x"] + box.bounding_box()["width"] < 390 - 16, box
    page.set_viewport_size(SCREEN)
    bench.locator("[data-control=starter]").click()
    expect(bench.locator(".eb-state")).to_have_text("Running", timeout=WITHIN_MS)
    assert not list((pages.folder / FOLDER).rglob("evidence.jsonl"))
