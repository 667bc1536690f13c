"""The main job in the browser, by keyboard, against a practice bench in its own process."""

import re
from itertools import pairwise

import pytest
from playwright.sync_api import expect
from tests.page.conftest import AXE

from ohmwright.bootstrap import desk_at

CASE = ("--board", "logger", "--fault", "logger-no-core", "--seed", "7")
STEPS = 120
SCREENS = [(1366, 768, "light"), (1920, 1080, "dark"), (1024, 768, "light")]


def due(page):
    """Wait until something is due or the case is decided, and give the sentence."""
    sentence = page.locator(".sentence")
    expect(sentence).not_to_have_text(re.compile("Working out|Waiting"), timeout=30_000)
    return sentence.inner_text()


def do_due_step(page) -> None:
    """One step by the one key that a hand has free; twice where power goes on."""
    entries = page.locator("section[aria-labelledby=known] li:has(button)")
    known = entries.count()
    page.keyboard.press("Space")
    armed = page.locator("button.armed")
    if armed.count():
        page.keyboard.press("Space")
    expect(entries).not_to_have_count(known, timeout=10_000)


@pytest.mark.slow
def test_a_case_is_worked_to_its_proof_by_keyboard_alone(serve, visit):
    served = serve("--board", "greenhouse", "--fault", "greenhouse-five-down", "--seed", "7")
    seen = visit(served.address)
    page, keys = seen.page, 0
    while not page.locator("[data-state=proven]").count() and keys < STEPS:
        due(page)
        if page.locator("[data-state=proven]").count() or page.get_by_text("Stop here").count():
            break
        do_due_step(page)
        keys += 1
        due(page)
    expect(page.locator("[data-state=proven]")).to_be_visible()
    assert page.locator(".proof li").count() >= 2, "a proof states its signs"
    named = page.locator("[data-state=proven]").inner_text()
    page.get_by_role("button", name="what was truly wrong").press("Enter")
    truth = page.locator("p[role=status] b").inner_text()
    assert all(part in named for part in truth.split(", ")), f"{named} but truly {truth}"
    print(f"{keys} steps")
    assert not seen.complaints
    assert not seen.abroad


def test_a_reload_and_a_second_tab_show_the_case_where_it_is(serve, visit):
    served = serve(*CASE)
    first = visit(served.address)
    due(first.page)
    do_due_step(first.page)
    sentence = due(first.page)
    first.page.reload()
    assert due(first.page) == sentence
    expect(first.page.get_by_text("Back where it was")).to_be_visible()
    second = visit(served.address)
    assert due(second.page) == sentence
    first.page.keyboard.press("o")
    expect(second.page.get_by_text("(entered: OL)")).to_be_visible(timeout=10_000)
    assert not first.complaints
    assert not second.complaints


def test_a_killed_server_loses_nothing_and_the_page_says_so(serve, visit):
    served = serve(*CASE)
    seen = visit(served.address)
    due(seen.page)
    do_due_step(seen.page)
    known = seen.page.locator("#known").locator("xpath=..").locator("li:has(button)").count()
    served.end(hard=True)
    expect(seen.page.get_by_text("The program does not answer").first).to_be_visible(timeout=10_000)
    serve("--resume", "--port", str(served.port))
    expect(seen.page.get_by_text("The case is where it was")).to_be_visible(timeout=20_000)
    expect(seen.page.locator("#known").locator("xpath=..").locator("li:has(button)")).to_have_count(known)


def test_a_reading_can_be_typed_put_right_and_taken_back(serve, visit):
    served = serve(*CASE)
    page = visit(served.address).page
    due(page)
    do_due_step(page)
    due(page)
    page.keyboard.type("4k7")
    page.keyboard.press("Enter")
    expect(page.get_by_text("4.7 k").first).to_be_visible(timeout=5_000)
    page.get_by_role("button", name="Put right e4").press("Enter")
    page.get_by_role("textbox", name="Right value for e4").fill("5k1")
    page.keyboard.press("Enter")
    expect(page.get_by_text("5.1 k").first).to_be_visible(timeout=5_000)
    page.get_by_role("button", name="Undo e5").press("Enter")
    expect(page.get_by_text("taken back").first).to_be_visible(timeout=5_000)
    due(page)
    page.keyboard.press("1")
    page.keyboard.type("x7")
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("not a number", timeout=5_000)


def test_acts_in_a_row_are_each_answered_and_stored_once_in_order(serve, visit):
    """How long an answer takes is measured by `benchmarks/page_acts.py`."""
    served = serve(*CASE)
    page = visit(served.address).page
    due(page)
    told = page.evaluate(
        """async () => { const told = [];
        for (const figures of ['1k', '2k', '3k', '4k', '5k']) {
            const c = await (await fetch('/api/case')).json();
            const order = {seen: c.sequence, quantity: 'ohms', red: c.board.parts[0].name + '.1', black: c.board.ground,
                figures};
            const answer = await fetch('/api/reading',
                {method: 'POST', headers: {'content-type': 'application/json'}, body: JSON.stringify(order)});
            told.push([answer.status, c.sequence, (await answer.json()).sequence]);
        } return told; }"""
    )
    assert [status for status, _, _ in told] == [200] * 5
    assert all(after == before + 1 for _, before, after in told), f"one event for each act: {told}"
    assert all(later[1] == earlier[2] for earlier, later in pairwise(told)), "nothing between them"
    store = desk_at(served.cases).store
    kept = store.events(store.cases()[0][0], told[0][1])
    assert [(event.sequence, event.what.value) for event in kept] == [
        (after, ohms) for (_, _, after), ohms in zip(told, (1e3, 2e3, 3e3, 4e3, 5e3), strict=True)
    ]


@pytest.mark.parametrize(("width", "height", "scheme"), SCREENS)
def test_accessibility_holds(serve, visit, width, height, scheme):
    served = serve(*CASE)
    # WCAG 2.2 AA as far as a machine can check it: axe-core's rules of those tags.
    seen = visit(served.address, color_scheme=scheme, bypass_csp=True)
    page = seen.page
    page.set_viewport_size({"width": width, "height": height})
    due(page)
    for _ in range(2):
        page.add_script_tag(path=AXE)
        found = page.evaluate(
            "axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']}).then(r => "
            "r.violations.map(v => v.id + ': ' + v.nodes.map(n => n.html.slice(0, 120)).join(' | ')))"
        )
        assert found == []
        do_due_step(page)
        due(page)
    size = page.locator(".sentence").evaluate("e => parseFloat(getComputedStyle(e).fontSize)")
    assert size >= 28
    assert page.locator("output").evaluate("e => parseFloat(getComputedStyle(e).fontSize)") >= 64
    if width > 1200:
        assert page.evaluate("document.documentElement.scrollHeight") <= height, "everything is in sight"
