"""The map by fingers: whatever can be pressed is 15 mm, nothing is cut off, and the sentence stays in sight."""

import re

import pytest
from playwright.sync_api import expect
from tests.page.person import began

FINGER = 56.5
"""Edge of a target. [px] 15 mm at the 96 px to the inch that CSS 2.1 4.3.2 lays down, less rounding"""
SMALL = """least => {
  const out = [];
  for (const e of document.querySelectorAll('main button, main select, main input:not([type=range]), main label:has(input[type=file])')) {
    const own = e.closest('label'), hidden = ['checkbox', 'radio', 'file'].includes(e.type);
    const r = (own && hidden ? own : e).getBoundingClientRect();
    if (r.width && r.height && Math.min(r.width, r.height) < least)
      out.push(`${e.getAttribute('aria-label') || e.innerText || e.type}: ${r.width} by ${r.height}`);
  }
  return out;
}"""
CUT = """() => [...document.querySelectorAll('main button, main p, main label')]
  .filter(e => e.getClientRects().length && !e.closest('.unseen'))
  .filter(e => { const r = e.getBoundingClientRect(); return r.right > innerWidth + 1 || r.left < -1; })
  .map(e => e.innerText.slice(0, 60))"""


@pytest.mark.parametrize(("wide", "high"), [(1366, 768), (1920, 1080), (1024, 768)])
def test_every_target_is_15_mm_by_touch(serve, visit, photo, wide, high):
    seen, me = began(serve, visit, photo, has_touch=True)
    page = me.page
    page.set_viewport_size({"width": wide, "height": high})

    def looked_over(where):
        assert page.evaluate(SMALL, FINGER) == [], where
        assert page.evaluate(CUT) == [], where
        assert page.locator(".panel > .sentence").bounding_box()["y"] >= 0 or wide < 1200, where

    looked_over("drawing")
    for leaf in ("Nets", "Looking", "Board file", "Pictures"):
        me.click(re.compile(f"^{leaf}"))
        looked_over(leaf)
        me.click(re.compile(f"^{leaf}"))
    page.keyboard.press("i")
    looked_over("a chip in hand")
    me._fit()
    me.lay("c", "C1", "C18", "1", "2")
    page.keyboard.press("Escape")
    me.click_pad("C18.1")
    expect(page.get_by_role("heading", name="Copper at C1.1")).to_be_visible()
    looked_over("a pad chosen")
    if wide > 1200:
        tops = page.locator("section.ground .tools > *").evaluate_all("all => all.map(e => e.offsetTop)")
        assert len(set(tops)) == 1, "the picture's tools keep to one line"
    assert not seen.complaints
