"""No serious or critical finding of axe-core (rules of WCAG 2.2 A and AA, and good practice) on any page."""

from __future__ import annotations

import pytest

from leakdown.report.theme import INK, LIMIT, LOOKS, QUIET, SHADE, SHADE_STRONG
from tests.browser.test_narrow import WIDTHS, show  # noqa: F401
from tests.report.test_residuals import _luminance

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("width", ["desk", "phone"])
@pytest.mark.parametrize("name", ["analysis", "located", "job", "customer", "overview"])
def test_nothing_serious_is_found(show, name, width):  # noqa: F811
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed")
    page = show(name, WIDTHS[width])
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    found = axe.Axe().run(page).response["violations"]
    told = [(v["id"], v["impact"], [node["html"][:120] for node in v["nodes"]]) for v in found]
    assert [one for one in told if one[1] in ("serious", "critical")] == []


def test_figures_are_named_in_words_and_their_drawings_are_not_read_out(show):  # noqa: F811
    page = show("analysis", WIDTHS["desk"])
    names = page.locator(".chart").evaluate_all("all => all.map(e => e.getAttribute('aria-label'))")
    assert all(len(name) > 60 for name in names)
    assert "Fitted from 45.0 kPa at 10.0 s" in names[0] and "root mean square" in names[1]
    hidden = page.locator(".chart .main-svg").evaluate_all("all => all.map(e => e.getAttribute('aria-hidden'))")
    assert hidden and set(hidden) == {"true"}


def test_the_tab_key_goes_through_the_page_in_its_order_and_is_seen(show):  # noqa: F811
    page = show("job", WIDTHS["phone"])
    tops, seen = [], []
    for _ in range(30):
        page.keyboard.press("Tab")
        at = page.evaluate(
            """() => { const e = document.activeElement; if (!e || e === document.body) return null;
            const s = getComputedStyle(e), top = e.getBoundingClientRect().top + scrollY;
            return [top, s.outlineStyle, s.outlineWidth]; }"""
        )
        if at is None:
            break
        tops.append(at[0])
        seen.append((at[1], at[2]))
    assert len(tops) >= 4 and tops == sorted(tops)
    assert set(seen) == {("solid", "3px")}


@pytest.mark.parametrize("ground", ["#ffffff", SHADE, SHADE_STRONG])
def test_words_on_charts_stand_out(ground):
    """4.5 to 1 by WCAG 2.2, 1.4.3, on every ground of a chart."""
    colours = [INK, QUIET, LIMIT, *(look.colour for look in LOOKS.values())]
    for colour in colours:
        assert (_luminance(ground) + 0.05) / (_luminance(colour) + 0.05) >= 4.5, colour
