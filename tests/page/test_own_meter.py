"""The meter in hand is told of on the page, readings carry it, and it is still known at the next start."""

import pytest
from playwright.sync_api import expect
from tests.page.test_eye import own_case

from ohmwright.bootstrap import desk_at
from ohmwright.usecases.desk import view_of


@pytest.mark.slow
def test_a_meter_is_told_of_once(serve, visit, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    quantity = own_case(tmp_path / "cases.sqlite")
    served = serve("--resume")
    seen = visit(served.address)
    page = seen.page
    expect(page.locator(".do")).to_contain_text("Probe", timeout=90_000)
    page.get_by_role("button", name="hand-held meter").click()
    expect(page.get_by_text("Nobody has told what meter this is")).to_be_visible()
    page.screenshot(path=str(tmp_path / "untold.png"))
    use = page.get_by_role("button", name="Use this meter").bounding_box()
    assert use["y"] + use["height"] <= 768  # all of it is in sight
    page.get_by_label("Begin with").select_option(label="hand-held, 0.3 mA in diode mode")
    page.get_by_label("Name").fill("yellow one")
    page.get_by_label("Both leads together").fill("0,12")
    page.get_by_label("ohms: counts").fill("five")
    expect(page.get_by_text("Not a number: limits in ohms")).to_be_visible()
    page.get_by_label("ohms: counts").fill("5")
    page.get_by_role("button", name="Use this meter").click()
    expect(page.get_by_text("Readings from now on are taken with yellow one")).to_be_visible()
    page.screenshot(path=str(tmp_path / "told.png"))
    page.get_by_role("button", name="Close").click()
    expect(page.locator(".bench")).to_contain_text("yellow one, leads 0.12")
    if quantity == "diode":
        for text, words in (
            ("0,425", "= 0.425 V"), ("1", "= 1 mV If it is 1 V, type the unit."), ("1V", None), ("ol", "= OL"),
            ("2", "= 2 mV"),  # volts it cannot be: this meter gives 1.5 V
        ):  # fmt: skip
            page.locator("#typed").fill(text)
            if words is None:
                expect(page.locator("[data-meant]")).to_have_count(0)
            else:
                expect(page.locator("[data-meant]")).to_have_text(words)
    page.locator("#typed").fill("412")
    page.screenshot(path=str(tmp_path / "typed.png"))
    page.locator("#typed").press("Enter")
    expect(page.locator(".known li").first).to_contain_text("412", timeout=20_000)
    served.end()
    desk = desk_at(tmp_path / "cases.sqlite")
    assert desk.meter.name == "yellow one"
    reading = view_of(desk, "own logger").facts.readings[-1]
    assert reading.quantity.value == quantity
    assert (reading.meter.name, reading.meter.diode_current) == ("yellow one", pytest.approx(0.3e-3))
    assert reading.meter.ohms_resolution == pytest.approx(0.5)
    assert not seen.complaints
    assert not seen.abroad
