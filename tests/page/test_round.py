"""A round without a hand on the keyboard: the page says where, the probes go there, the meter speaks SCPI elsewhere."""

from __future__ import annotations

import json
import re
import time

from playwright.sync_api import expect
from tests.page.bench import Bench


def opened_round(serve, visit, tmp_path, bench):
    board = tmp_path / "board.json"
    board.write_text(json.dumps(bench.do("board")["board"]))
    meter = f"TCPIP0::127.0.0.1::{bench.ports['meter']}::SOCKET"
    served = serve("--file", str(board), "--meter", meter)
    page = visit(served.address).page
    expect(page.locator(".sentence")).not_to_have_text(re.compile("Working|Waiting"), timeout=60_000)
    page.get_by_role("button", name=re.compile("^Round")).click()
    page.get_by_label("Only").select_option("diode")
    page.get_by_role("button", name="Begin the round").click()
    return served, page


def points(page) -> tuple[str, str]:
    found = re.match(r"Red on (.+), black on (.+)\.", page.locator(".mark .sentence").inner_text())
    assert found
    return found[1], found[2]


def first_heard(page) -> list[str]:
    """Voice and words of what is said first; a condition as text is refused by the page's own policy."""
    given_up = time.monotonic() + 30.0
    while time.monotonic() < given_up:
        if said := page.evaluate("window.said"):
            return said[0]
        page.wait_for_timeout(50)
    raise AssertionError("nothing was said")


def test_a_round_is_read_hands_free(serve, visit, tmp_path):
    """Nothing is pressed from the first point to the last but the pedal where a point reads OL."""
    bench = Bench("greenhouse", "greenhouse-no-relays", 5)
    served, page = opened_round(serve, visit, tmp_path, bench)
    expect(page.locator(".mark")).to_be_visible(timeout=20_000)
    many = int(re.search(r"of (\d+)", page.locator("#round").inner_text())[1])
    assert many >= 4
    taken = []
    for number in range(1, many + 1):
        expect(page.locator("#round")).to_contain_text(f"point {number} of {many}", timeout=15_000)
        red, black = points(page)
        bench.do("lift")
        time.sleep(1.5)  # the hands are on their way; two rails that read alike need them off a little longer
        shown = bench.read("diode", red, black)
        if shown == "OL":
            expect(page.get_by_label("Meter")).to_have_text("OL", timeout=5_000)
            time.sleep(0.8)
            page.keyboard.press("Space")
        taken.append((red, black, shown))
    expect(page.locator("section.round")).to_contain_text("The round is done", timeout=15_000)
    bench.do("lift")
    case = page.evaluate("fetch('/api/case').then(r => r.json())")
    texts = [line["text"] for line in case["known"] if line["reading"]]
    assert len(texts) == many
    for (red, black, shown), text in zip(taken, texts, strict=True):
        assert text.startswith(f"diode {red} to {black}: "), (text, red, black)
        if shown == "OL":
            assert "OL" in text
        else:
            figure = re.search(r": (-?[\d.]+) (m?)V", text)
            assert figure, text
            assert abs(float(figure[1]) * (1e-3 if figure[2] else 1.0) - float(shown)) < 0.004
    assert case["diagnosis"] is not None
    served.end()
    bench.close()


def test_back_takes_the_last_value_away_and_reads_again(serve, visit, tmp_path):
    bench = Bench("greenhouse", "greenhouse-no-relays", 5)
    served, page = opened_round(serve, visit, tmp_path, bench)
    expect(page.locator("#round")).to_contain_text("point 1 of", timeout=20_000)
    bench.do("lift")
    time.sleep(0.7)
    red, black = points(page)
    bench.read("diode", red, black)
    page.wait_for_timeout(1500)
    if "point 1 of" in page.locator("#round").inner_text():
        page.keyboard.press("Space")  # it reads OL
    expect(page.locator("#round")).to_contain_text("point 2 of", timeout=10_000)
    page.keyboard.press("b")
    expect(page.locator("#round")).to_contain_text("point 1 of", timeout=10_000)
    assert points(page) == (red, black)
    case = page.evaluate("fetch('/api/case').then(r => r.json())")
    assert [line["undone"] for line in case["known"] if line["reading"]] == [True]
    page.keyboard.press("n")
    expect(page.locator("#round")).to_contain_text("point 2 of", timeout=10_000)
    served.end()
    bench.close()


VOICES = """() => {
  window.said = [];
  window.SpeechSynthesisUtterance = class { constructor(text) { this.text = text; } };
  speechSynthesis.getVoices = () => window.voices;
  speechSynthesis.speak = (words) => window.said.push([words.voice.name, words.text]);
  window.voices = [{ name: "far", lang: "en-US", localService: false, default: true }];
}"""


def test_what_is_said_names_dial_and_probes_and_never_leaves_the_machine(serve, visit, tmp_path):
    """A voice that is no service of this machine would be sent the words (Web Speech API, localService)."""
    bench = Bench("greenhouse", "greenhouse-no-relays", 5)
    served, page = opened_round(serve, visit, tmp_path, bench)
    expect(page.locator(".mark")).to_be_visible(timeout=20_000)
    page.evaluate(VOICES)
    page.keyboard.press("r")
    page.wait_for_timeout(1_000)  # what is to be said is said after the key was answered
    assert page.evaluate("window.said") == []
    page.evaluate("window.voices.push({ name: 'near', lang: 'en-GB', localService: true, default: false })")
    page.keyboard.press("r")
    red, black = points(page)
    assert page.evaluate("window.said") == [["near", f"1. Meter on diode mode. Red on {red}, black on {black}."]]
    page.evaluate("window.said = []")
    page.keyboard.press("n")
    first = first_heard(page)
    red, black = points(page)
    assert first == ["near", f"Skipped. 2. Red on {red}, black on {black}."]
    page.wait_for_timeout(700)
    assert len(page.evaluate("window.said")) == 1  # once, whatever the meter does meanwhile
    bench.close()
    served.end()


SHOUT = """() => {
  speechSynthesis.speak = (words) => window.said.push(words.text);
  speechSynthesis.cancel = () => window.said.push("cut off");
}"""
STOPS = [{"quantity": "diode", "red": "GND", "black": "V5"}, {"quantity": "diode", "red": "GND", "black": "V24"}]


def word_of_round(at: int, phase: str, done: list[dict] | None = None, **more) -> dict:
    """One word about a round as the server's own `RoundDesk.plain` puts it."""
    word = {
        "kind": "round", "on": True, "held": False, "at": at, "phase": phase, "stops": STOPS, "done": done or [],
        "trouble": "", "seconds": 10.0, "stop": None, "meter": "", "ready": True,
    }  # fmt: skip
    return word | more


def before_the_page(served, visit):
    """A page whose line and whose questions about a round this test answers; what it says is written down."""
    page, lines, kept = visit(served.address).page, [], []

    def between(line):
        lines.append(line)
        line.connect_to_server()

    page.route_web_socket(re.compile("/api/words"), between)
    page.route("**/api/round", lambda route: kept.append(route))
    page.reload()
    expect(page.locator(".sentence").first).not_to_have_text(re.compile("Working|Waiting"), timeout=60_000)
    page.evaluate(VOICES)
    page.evaluate(SHOUT)
    page.evaluate("window.voices.push({ name: 'near', lang: 'en-GB', localService: true, default: false })")
    return page, lambda word: lines[-1].send(json.dumps(word)), kept


def said(page) -> list[str]:
    page.wait_for_timeout(300)
    words = page.evaluate("window.said")
    page.evaluate("window.said = []")
    return words


def test_a_point_is_said_once_whatever_comes_over_the_line_meanwhile(serve, visit):
    """A word about the round comes with each change of its phase, the case with each thought, an answer may be late."""
    page, tell, kept = before_the_page(serve("--board", "greenhouse", "--seed", "7"), visit)
    page.get_by_role("button", name=re.compile("^Round")).click()
    page.wait_for_timeout(200)
    case = page.evaluate("fetch('/api/case').then(r => r.json())")
    assert kept  # the page has asked how the round stands, and is not answered yet
    tell(word_of_round(0, "lift"))
    assert said(page) == ["cut off", "1. Meter on diode mode. Red on GND, black on V5."]
    for old in kept:
        old.fulfill(json=word_of_round(0, "lift") | {"on": False, "stops": []})
    tell(word_of_round(0, "open"))
    tell({**case, "probe": ["diode", "GND", "V5"], "thinking": True})
    tell({**case, "probe": ["diode", "GND", "V5"], "thinking": False})
    tell(word_of_round(0, "touching"))
    assert said(page) == []
    expect(page.locator("#round")).to_contain_text("point 1 of 2")
    tell({"kind": "tone", "tone": "refused", "words": "It slipped."})
    tell(word_of_round(0, "lift"))
    tell(word_of_round(0, "open"))
    assert said(page) == ["cut off", "It slipped."]  # and nothing cuts that off
    done = [{"at": 0, "text": "404 mV", "value": 0.404, "sequence": 9}]
    tell(word_of_round(1, "lift", done))
    assert said(page) == ["cut off", "404 mV. 2. Red on GND, black on V24."]
    done = [*done, {"at": 1, "text": "OL", "value": None, "sequence": 10}]
    tell(word_of_round(2, "lift", done, on=False, trouble="The round is done."))
    assert said(page) == ["cut off", "OL. The round is done."]


def test_a_round_is_there_again_after_the_page_was_loaded_anew(serve, visit):
    served = serve("--board", "greenhouse", "--seed", "7")
    page = visit(served.address).page
    expect(page.locator(".sentence").first).not_to_have_text(re.compile("Working|Waiting"), timeout=60_000)
    page.get_by_role("button", name=re.compile("^Round")).click()
    page.get_by_role("button", name="Begin the round").click()
    expect(page.locator("#round")).to_contain_text("point 1 of", timeout=20_000)
    page.keyboard.press("h")
    expect(page.get_by_text("On hold")).to_be_visible()
    page.reload()
    expect(page.get_by_text("On hold")).to_be_visible(timeout=10_000)
