"""The supply on the page: joined, fed under its guard, tripped, stopped; and what is left where the page is killed."""

import re
import time
from dataclasses import replace

import pytest
from playwright.sync_api import expect
from tests.page.bench import Bench, Line
from tests.page.conftest import Served, Visit

from ohmwright.bootstrap import desk_at
from ohmwright.casebook.events import EntryDescribed
from ohmwright.diagnosis import diagnose
from ohmwright.formats.board_json import read_board_json
from ohmwright.practice.choice import boards
from ohmwright.usecases.desk import book_of, record
from ohmwright.usecases.open_case import open_case

pytestmark = pytest.mark.slow
BOARD, FAULT, RAIL = "logger", "logger-driver-down", "VDRV"
"""Three ohms across that rail."""


def a_case(folder):
    """A case of one's own whose entry is described, so that a feed may be permitted."""
    desk = desk_at(folder / "cases.sqlite")
    open_case(desk, "own logger", read_board_json(boards()[BOARD]), note="file")
    record(desk, "own logger", EntryDescribed("V5IN", 5.0, True, True))
    return desk


@pytest.fixture(scope="module")
def bench():
    lying = Bench(BOARD, FAULT, 5)
    yield lying
    lying.close()


@pytest.fixture(scope="module")
def seen(built_page, browser, bench, tmp_path_factory):
    """One page and one bench for all that leaves them as they were; the supply is joined once."""
    folder = tmp_path_factory.mktemp("supply")
    a_case(folder)
    served = Served(folder / "cases.sqlite", "--resume")
    visit = Visit(browser, served.address)
    joined(visit.page, bench)
    yield visit
    visit.context.close()
    served.end()


def output(bench) -> str:
    line = Line(bench.ports["supply"])
    try:
        return line.ask("OUTP?")
    finally:
        line.close()


def joined(page, bench) -> None:
    """Join the supply at its address, after it was asked who it is."""
    page.get_by_role("button", name="Supply", exact=True).click()
    page.get_by_role("tab", name="Instruments").click()
    page.get_by_label("Address").fill(f"TCPIP0::127.0.0.1::{bench.ports['supply']}::SOCKET")
    page.get_by_role("button", name="Ask who it is").click()
    page.get_by_role("button", name="Join the supply").click()
    expect(page.get_by_text("Joined: practice supply.")).to_be_visible(timeout=15_000)


def switched_on(page, bench, rail: str, seconds: str = "20") -> None:
    bench.do("clip", plus=rail, minus="GND")
    page.get_by_role("tab", name="Feed", exact=True).click()
    page.get_by_label("Rail").select_option(rail)
    page.get_by_label("Held for").fill(seconds)
    page.get_by_role("button", name="Switch on, guarded").click()
    assert output(bench) == "0"  # one press is not enough
    page.get_by_role("button", name="Press again: power on").click()
    expect(page.locator("[data-volts]")).to_have_text(re.compile(r"\d"), timeout=20_000)


def watched(page) -> None:
    """So many looks of the guard as make a trace, and some more."""
    several = re.compile(r"^(1\d|[2-9]\d|\d{3,})$")
    expect(page.locator("[data-samples]")).to_have_attribute("data-samples", several, timeout=30_000)


def known(page) -> list[str]:
    return [k["text"] for k in page.evaluate("fetch('/api/case').then((a) => a.json())")["known"]]


def test_a_meter_s_port_is_not_taken_for_a_supply(seen, bench):
    answer = seen.page.evaluate(
        "(a) => fetch('/api/supply/join', {method: 'POST', headers: {'content-type': 'application/json'},"
        " body: JSON.stringify({address: a})}).then((r) => r.json())",
        f"TCPIP0::127.0.0.1::{bench.ports['meter']}::SOCKET",
    )
    assert answer["message"] == "practice meter is a meter, not a supply."
    assert len(seen.complaints) == 1  # the browser's own word about the refusal
    seen.complaints.clear()


def test_fed_watched_stopped_and_on_record(seen, bench):
    page = seen.page
    switched_on(page, bench, RAIL)
    assert output(bench) == "1"
    for shown in ("[data-volts]", "[data-amps]"):  # read from a metre
        assert page.locator(shown).evaluate("(e) => parseFloat(getComputedStyle(e).fontSize)") >= 64
    rules = page.get_by_label("Stop rules")
    for name in ("Power", "Energy", "Time", "Hottest place", "Volts come back", "Beyond its setting", "Supply silent"):
        expect(rules.get_by_text(name)).to_be_visible()
    watched(page)
    stop = page.get_by_role("button", name="STOP: supply off")
    box = stop.bounding_box()
    assert box["height"] >= 90
    assert box["width"] >= 400
    began = time.monotonic()
    page.keyboard.press("Space")
    expect(page.get_by_text("Off: switched off by hand")).to_be_visible(timeout=15_000)
    print(f"off and on record {time.monotonic() - began:.2f} s after the key")
    assert output(bench) == "0"
    texts = known(page)
    assert any("supply volts" in text for text in texts), texts
    page.get_by_role("tab", name="Current traces").click()
    expect(page.get_by_text("Levels").first).to_be_visible()
    expect(page.locator("dd").get_by_text("below the limit;")).to_be_visible()
    assert seen.complaints == []
    assert seen.abroad == []


def test_two_feeds_give_the_resistance_and_the_way_to_the_place(seen, bench):
    """The board has three ohms there: 0.8 V does not reach the limit, so half the volts are asked for."""
    page = seen.page
    page.get_by_role("tab", name="Feed", exact=True).click()
    page.get_by_label("Rail").select_option(RAIL)
    expect(page.locator(".found")).to_contain_text("take 400 mV too, for the slope", timeout=60_000)
    page.get_by_label("Volts").fill("0,4")
    expect(page.locator(".sentence").last).to_contain_text("400 mV", timeout=60_000)
    switched_on(page, bench, RAIL, "3")
    expect(page.locator(".found")).to_contain_text("Heat finds it", timeout=90_000)
    said = page.locator(".found").inner_text()
    ohms, low, high = (float(w) for w in re.search(r"([\d.]+) Ω from 2 currents \(([\d.]+) Ω to ([\d.]+) Ω", said).groups())
    assert low < 3.0 < high
    assert ohms == pytest.approx(3.0, rel=0.05)
    page.get_by_label("Leads").fill("0")
    expect(page.locator(".found")).to_contain_text("0 Ω of leads taken out", timeout=60_000)
    page.get_by_label("Volts").fill("")
    page.get_by_role("button", name="Take heat pictures").click()
    expect(page.locator("#heat")).to_be_visible()
    page.get_by_role("button", name="Supply", exact=True).click()


def test_a_rule_trips_it_and_says_which(seen, bench):
    page = seen.page
    switched_on(page, bench, RAIL)
    page.get_by_label("Hottest place").fill("85")
    page.get_by_role("button", name="Tell the guard").click()
    expect(page.locator(".tripped")).to_contain_text("too hot: 85 °C", timeout=15_000)
    assert output(bench) == "0"


def test_a_thermal_picture_with_the_supply_on_trips_it_too(seen, bench, tmp_path):
    """Three broken pixels are no hot place; a patch of ten is."""
    page = seen.page
    celsius = [[24.0] * 40 for _ in range(30)]
    for k in range(3):
        celsius[3][5 * k] = 140.0
    answers = []
    switched_on(page, bench, RAIL)
    for hot in (False, True):
        if hot:
            for k in range(10):
                celsius[12][10 + k] = 91.0
        answers.append(page.evaluate(
            "(text) => fetch('/api/heat/picture?role=during', {method: 'POST', body: text,"
            " headers: {'content-type': 'application/octet-stream'}}).then((r) => r.json())",
            "\n".join(";".join(map(str, row)) for row in celsius),
        ))  # fmt: skip
        if not hot:
            page.wait_for_timeout(1500)
            assert output(bench) == "1"
    expect(page.locator(".tripped")).to_contain_text("too hot: 91 °C", timeout=20_000)
    assert output(bench) == "0"


def test_a_sweep_is_driven_and_its_knee_named_or_not(seen, bench):
    page = seen.page
    bench.do("clip", plus=RAIL, minus="GND")
    page.get_by_role("tab", name="Volts sweep").click()
    page.get_by_label("Rail").select_option(RAIL)
    page.get_by_label("up to").fill("0.8")
    page.get_by_role("textbox", name="in steps").fill("8")
    page.get_by_role("button", name="Sweep, guarded").click()
    page.get_by_role("button", name="Press again: power on").click()
    expect(page.locator(".ended")).to_contain_text("all steps done", timeout=30_000)
    assert output(bench) == "0"
    points = page.evaluate("fetch('/api/supply/now').then((a) => a.json())")["samples"]
    assert len(points) == 8
    # Ohm's law on the shorted rail: the volts asked for, until its resistance takes the limit of 0.1 A
    ohms = points[1][1] / points[1][2]
    assert [p[1] for p in points] == pytest.approx([min(0.1 * k, 0.1 * ohms) for k in range(1, 9)], abs=0.02)
    expect(page.locator(".sentence").first).to_contain_text(re.compile("knee", re.IGNORECASE))


def test_killing_the_page_switches_the_supply_off_and_loses_no_trace(visit, bench, serve, tmp_path):
    desk = a_case(tmp_path)
    served = serve("--resume")
    page = visit(served.address).page
    joined(page, bench)
    switched_on(page, bench, RAIL)
    watched(page)
    before = book_of(desk, "own logger").facts
    assert before.state.feed is not None
    served.end(hard=True)
    began = time.monotonic()
    while output(bench) == "1" and time.monotonic() - began < 10:
        time.sleep(0.05)
    print(f"off {time.monotonic() - began:.2f} s after the kill")
    assert output(bench) == "0"
    again = visit(serve("--resume").address).page
    expect(again.locator(".tripped")).to_contain_text("program gone", timeout=20_000)
    facts = book_of(desk, "own logger").facts
    assert facts.state.feed is None
    assert len(facts.traces) == 1
    assert {r.quantity.value for r in facts.readings} == {"supply volts", "supply amps"}
    assert _on_rail(desk, facts) > max(0.3, 5 * _on_rail(desk, replace(before, state=facts.state)))


def _on_rail(desk, facts) -> float:
    """Probability of a short or a leak at a pin of the rail."""
    board = book_of(desk, "own logger").board
    suspects = diagnose(board, facts)[1].suspects
    on = [s for s in suspects if s.mode in ("short", "leak") and RAIL in {board.net_at(point) for point in s.where}]
    return sum(s.probability for s in on)


def test_a_supply_that_is_gone_while_it_feeds_is_said_to_be_perhaps_on(visit, serve, tmp_path):
    """The practice bench is killed under the guard: nobody can say that the output is off, so nobody does."""
    a_case(tmp_path)
    lying = Bench(BOARD, FAULT, 6)
    page = visit(serve("--resume").address).page
    joined(page, lying)
    switched_on(page, lying, RAIL)
    watched(page)
    lying.kill()
    alarm = page.get_by_role("alert").filter(has_text="It may still be ON")
    expect(alarm).to_be_visible(timeout=30_000)
    for look in ("light", "dark"):
        page.evaluate(f"document.documentElement.dataset.look = '{look}'")
        for wide, high in ((1366, 768), (1920, 1080)):
            page.set_viewport_size({"width": wide, "height": high})
            expect(alarm).to_be_in_viewport()
            page.screenshot(path=str(tmp_path / f"unknown-{wide}-{look}.png"))
    assert book_of(desk_at(tmp_path / "cases.sqlite"), "own logger").facts.state.feed is not None
