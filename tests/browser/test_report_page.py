# SPDX-License-Identifier: MIT
"""The HTML report as a person uses it, in headless Chromium: mouse, keyboard, screen reader, dark, narrow, paper."""

from __future__ import annotations

import base64
import re
from typing import Any

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import WebDriverWait

pytestmark = pytest.mark.browser

ALL = ["sample", "crowded", "hostile", "control", "empty", "index"]

# smallest contrast of text: WCAG 2.1, success criterion 1.4.3 (level AA)
CONTRAST_MIN = 4.5

TEXT_CONTRASTS = """
const parse = (c) => { const n = c.match(/[\\d.]+/g).map(Number); return n.length > 3 ? n : [...n, 1]; };
const over = (top, under) => top.slice(0, 3).map((v, i) => v * top[3] + under[i] * (1 - top[3]));
const linear = (v) => v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4;
const light = ([r, g, b]) => 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b);
const ratio = (a, b) => { const [x, y] = [light(a), light(b)].sort((p, q) => q - p); return (x + 0.05) / (y + 0.05); };
function ground(element) {
  const layers = [];
  for (let e = element; e; e = e.parentElement) layers.push(parse(getComputedStyle(e).backgroundColor));
  return layers.reverse().reduce((under, top) => over(top, under), [255, 255, 255]);
}
const found = [];
for (const element of document.body.querySelectorAll('*:not(svg *)')) {
  const text = [...element.childNodes].some((n) => n.nodeType === 3 && n.data.trim());
  if (!text || !element.checkVisibility() || element.matches('.quiet, .skip, script, style')) continue;
  const c = parse(getComputedStyle(element).color);
  const under = ground(element);
  found.push([ratio(over(c, under), under), element.tagName + '.' + element.className]);
}
const fill = (e) => parse(getComputedStyle(e).fill).slice(0, 3);
for (const flag of document.querySelectorAll('.pin .flag')) {
  found.push([ratio(fill(flag.querySelector('text')), fill(flag.querySelector('rect'))), 'flag']);
}
for (const words of document.querySelectorAll('.words text')) {
  for (const under of document.querySelectorAll('.r-board .fill, .r-pour .fill, .r-opening .fill')) {
    found.push([ratio(fill(words), fill(under)), 'words on ' + under.parentNode.className.baseVal]);
  }
}
return found;
"""


@pytest.fixture
def page(chromium: Any, pages: dict[str, str]) -> Any:
    """Opens a report by name, wide and light."""

    def open_page(name: str, *, width: int = 1400, scheme: str = "light", media: str = "") -> Any:
        features = [{"name": "prefers-color-scheme", "value": scheme}]
        chromium.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": media, "features": features})
        size = {"width": width, "height": 1000, "deviceScaleFactor": 1, "mobile": False}
        chromium.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
        chromium.get_log("browser")
        chromium.get("about:blank")
        chromium.get(pages[name])
        return chromium

    return open_page


def js(browser: Any, code: str, *args: Any) -> Any:
    return browser.execute_script(code, *args)


def press(browser: Any, *keys: str) -> None:
    chain = ActionChains(browser)
    for key in keys:
        chain.send_keys(key)
    chain.perform()


def active(browser: Any) -> str:
    """What has the focus: its id, number or text."""
    code = "const a = document.activeElement; return a.id || a.dataset.finding || a.textContent.trim();"
    return str(js(browser, code))


def lit(browser: Any) -> list[str]:
    return list(
        js(browser, "return [...document.querySelectorAll('.lit')].map(e => e.id || 'pin ' + e.dataset.finding)")
    )


def shown(browser: Any) -> list[str]:
    code = "return [...document.querySelectorAll('.finding')].filter(e => e.checkVisibility()).map(e => e.id)"
    return list(js(browser, code))


def pin(browser: Any, number: int) -> Any:
    return browser.find_element(By.CSS_SELECTOR, f".pin[data-finding='{number}']")


def press_tab_until(browser: Any, selector: str, limit: int = 60) -> int:
    for count in range(1, limit):
        press(browser, Keys.TAB)
        if js(browser, "return document.activeElement.matches(arguments[0])", selector):
            return count
    raise AssertionError(f"{limit} tabs did not reach {selector}")


# --- loading ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ALL)
def test_loads_without_a_complaint_and_fetches_nothing(page: Any, name: str) -> None:
    browser = page(name)
    assert browser.get_log("browser") == []
    assert js(browser, "return performance.getEntriesByType('resource').length") == 0


@pytest.mark.parametrize("name", ["hostile", "control"])
def test_text_of_the_board_does_not_act(page: Any, name: str) -> None:
    browser = page(name)
    assert browser.title != "pwned"
    assert js(browser, "return document.querySelectorAll('img, iframe, object, script').length") == 1, "our own script"
    handlers = """return [...document.querySelectorAll('*')].flatMap(e => [...e.attributes].map(a => a.name))
        .filter(n => n.startsWith('on') || n === 'style')"""
    assert js(browser, handlers) == []
    # and even a script that got in would not run
    js(browser, "const s = document.createElement('script'); s.textContent = 'window.ran = 1'; document.body.append(s)")
    assert js(browser, "return window.ran === undefined")


def test_everything_is_there_without_script(page: Any, chromium: Any) -> None:
    chromium.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        browser = page("sample")
        rows = browser.find_elements(By.CSS_SELECTOR, ".finding")
        assert len(rows) == 8
        assert all(row.is_displayed() for row in rows)
        assert not browser.find_element(By.CSS_SELECTOR, ".filters").is_displayed(), "filters need the script"
        links = browser.find_elements(By.CSS_SELECTOR, "a.pin, .places a")
        targets = [link.get_dom_attribute("href").split("#")[1] for link in links]
        assert len(targets) > 8
        for target in set(targets):
            assert browser.find_elements(By.ID, target), target
    finally:
        chromium.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})


# --- pins and rows ---------------------------------------------------------------------------------------------------


def test_hovering_a_row_lights_its_pins_and_a_pin_its_row(page: Any) -> None:
    browser = page("sample")
    row = browser.find_element(By.ID, "f6")
    ActionChains(browser).move_to_element(row.find_element(By.CSS_SELECTOR, ".message")).perform()
    assert lit(browser) == ["pin 6", "f6"]
    ActionChains(browser).move_to_element(pin(browser, 7).find_element(By.CSS_SELECTOR, "rect")).perform()
    assert lit(browser) == ["pin 7", "f7"]
    ActionChains(browser).move_to_element(browser.find_element(By.TAG_NAME, "h1")).perform()
    assert lit(browser) == []


def test_clicking_a_pin_goes_to_its_row_and_a_place_goes_back(page: Any) -> None:
    browser = page("sample")
    pin(browser, 8).find_element(By.CSS_SELECTOR, "text").click()
    assert active(browser) == "f8"
    assert set(lit(browser)) == {"pin 8", "f8"}
    inside = "const r = document.getElementById('f8').getBoundingClientRect(); return 0 <= r.top && r.bottom <= 1000"
    WebDriverWait(browser, 5).until(lambda _: js(browser, inside))
    browser.find_element(By.CSS_SELECTOR, "#f8 .places a").click()
    assert js(browser, "return document.activeElement.classList.contains('pin')")
    assert active(browser) == "8"
    assert set(lit(browser)) == {"pin 8", "f8"}


# --- keyboard --------------------------------------------------------------------------------------------------------


def test_the_whole_way_by_keyboard(page: Any) -> None:
    browser = page("sample")
    press(browser, Keys.TAB)
    assert active(browser) == "Skip to the verdict"
    press_tab_until(browser, "#top .pin")
    first = active(browser)
    assert first == "2", "the map is one tab stop, its first pin"
    press(browser, Keys.ARROW_RIGHT, Keys.ARROW_RIGHT)
    assert active(browser) == "4"
    assert "f4" in lit(browser)
    press(browser, Keys.ARROW_LEFT)
    assert active(browser) == "3"
    press(browser, Keys.TAB)
    ActionChains(browser).key_down(Keys.SHIFT).send_keys(Keys.TAB).key_up(Keys.SHIFT).perform()
    assert active(browser) == "3", "the map is entered again where it was left"
    press(browser, Keys.END)
    assert active(browser) == "8"
    press(browser, Keys.HOME, Keys.ARROW_LEFT)
    assert active(browser) == "8", "round and round"
    press(browser, Keys.ENTER)
    assert active(browser) == "f8"
    press(browser, Keys.TAB)
    assert js(browser, "return document.activeElement.matches('#f8 .places a')")
    press(browser, Keys.ENTER)
    assert active(browser) == "8"
    press_tab_until(browser, "#bottom .pin")
    press_tab_until(browser, "[data-filter=consequence]")
    press(browser, Keys.SPACE)
    assert shown(browser) == ["f1"]
    press(browser, Keys.ENTER)
    assert len(shown(browser)) == 8
    press_tab_until(browser, "#search")
    press(browser, "U1")
    assert shown(browser) == ["f8"]
    press_tab_until(browser, "summary")
    press(browser, Keys.ENTER)
    assert js(browser, "return document.activeElement.parentElement.open")


def test_the_focus_can_be_seen_everywhere(page: Any) -> None:
    browser = page("sample")
    for _ in range(40):
        press(browser, Keys.TAB)
        seen = js(
            browser,
            """const a = document.activeElement;
            if (a === document.body) return true;
            const mark = a.matches('.pin') ? getComputedStyle(a.querySelector('rect')).strokeWidth
                : getComputedStyle(a).outlineWidth;
            return parseFloat(mark) >= 2;""",
        )
        assert seen, active(browser)


# --- filters ---------------------------------------------------------------------------------------------------------


def test_filters_hide_rows_and_pins_and_add_up(page: Any) -> None:
    browser = page("sample")

    def push(value: str) -> None:
        browser.find_element(By.CSS_SELECTOR, f"[data-value='{value}']").click()

    push("query")
    assert shown(browser) == ["f5", "f6", "f7", "f8"]
    assert not pin(browser, 2).is_displayed()
    assert pin(browser, 6).is_displayed()
    assert not browser.find_element(By.ID, "area-panel").is_displayed()
    assert browser.find_element(By.ID, "shown").text == "4 of 8 shown"
    pressed = browser.find_element(By.CSS_SELECTOR, "[data-value='query']").get_attribute("aria-pressed")
    assert pressed == "true"
    push("note")
    assert len(shown(browser)) == 7
    push("panel")
    assert shown(browser) == ["f2", "f3", "f4"]
    browser.find_element(By.ID, "search").send_keys("R2 sample-edge")
    assert shown(browser) == ["f3"]
    browser.find_element(By.ID, "search").send_keys(" nowhere")
    assert shown(browser) == []
    assert browser.find_element(By.CSS_SELECTOR, ".nothing").is_displayed()
    browser.find_element(By.ID, "reset").click()
    assert len(shown(browser)) == 8
    assert pin(browser, 2).is_displayed()


def test_a_filtered_pin_is_no_tab_stop(page: Any) -> None:
    browser = page("sample")
    browser.find_element(By.CSS_SELECTOR, "[data-value='query']").click()
    stops = js(
        browser, "return [...document.querySelectorAll('#top .pin[tabindex=\"0\"]')].map(p => p.dataset.finding)"
    )
    assert stops == ["5"]


# --- map -------------------------------------------------------------------------------------------------------------


def test_the_map_grows_and_shrinks(page: Any) -> None:
    browser = page("sample")
    width = "return document.querySelector('#top .r-board').getBoundingClientRect().width"
    before = js(browser, width)
    assert before > 200
    larger = browser.find_element(By.CSS_SELECTOR, "#map-top [data-zoom='1']")
    larger.click()
    larger.click()
    assert js(browser, width) >= 2.5 * before, "the drawing grows, not only its box"
    browser.find_element(By.CSS_SELECTOR, "#map-top [data-zoom='-1']").click()
    browser.find_element(By.CSS_SELECTOR, "#map-top [data-zoom='-1']").click()
    browser.find_element(By.CSS_SELECTOR, "#map-top [data-zoom='-1']").click()
    assert js(browser, width) == before


def test_flags_are_large_enough_to_read_and_do_not_overlap(page: Any) -> None:
    browser = page("crowded")
    boxes = js(
        browser,
        """return [...document.querySelectorAll('#top .flag rect')].map(r => { const b = r.getBoundingClientRect();
        return [b.left, b.top, b.right, b.bottom]; })""",
    )
    assert len(boxes) > 60
    assert min(b[3] - b[1] for b in boxes) >= 12, "a number of at least 8 px"
    for n, a in enumerate(boxes):
        for b in boxes[n + 1 :]:
            apart = a[2] <= b[0] + 2 or b[2] <= a[0] + 2 or a[3] <= b[1] + 2 or b[3] <= a[1] + 2
            assert apart, (a, b)


# --- seeing ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["sample", "hostile", "empty", "index"])
def test_text_stands_out(page: Any, name: str, scheme: str) -> None:
    browser = page(name, scheme=scheme)
    js(browser, "for (const d of document.querySelectorAll('details')) d.open = true;")
    js(browser, "for (const b of document.querySelectorAll('[data-filter]')) b.click();")
    found = js(browser, TEXT_CONTRASTS)
    assert len(found) >= (10 if name == "index" else 15)
    worst = min(found)
    assert worst[0] >= CONTRAST_MIN, worst
    dark = js(browser, "return getComputedStyle(document.body).backgroundColor")
    assert (sum(map(int, re.findall(r"\d+", dark)[:3])) < 200) == (scheme == "dark")


@pytest.mark.parametrize("width", [320, 420, 800, 1400, 2200])
@pytest.mark.parametrize("name", ["sample", "hostile", "index"])
def test_nothing_is_cut_off_at_any_width(page: Any, name: str, width: int) -> None:
    browser = page(name, width=width)
    assert js(browser, "return document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("name", ALL)
def test_a_screen_reader_finds_its_way(page: Any, name: str) -> None:
    browser = page(name)
    for tag in ("main", "h1", "header", "footer"):
        assert len(browser.find_elements(By.TAG_NAME, tag)) == 1, tag
    assert js(browser, "return document.documentElement.lang") == "en"
    levels = js(browser, "return [...document.querySelectorAll('h1,h2,h3,h4,h5,h6')].map(h => Number(h.tagName[1]))")
    assert levels[0] == 1
    assert all(b <= a + 1 for a, b in zip(levels, levels[1:])), levels
    ids = js(browser, "return [...document.querySelectorAll('[id]')].map(e => e.id)")
    assert len(ids) == len(set(ids))
    refs = js(
        browser,
        """return [...document.querySelectorAll('[aria-labelledby],[aria-describedby],label[for]')].flatMap(e =>
        ['aria-labelledby', 'aria-describedby', 'for'].map(a => e.getAttribute(a)).filter(Boolean))""",
    )
    assert set(refs) <= set(ids)
    inner = js(
        browser, "return [...document.querySelectorAll('a[href^=\"#\"]')].map(a => a.getAttribute('href').slice(1))"
    )
    assert set(inner) <= set(ids)
    tables = js(
        browser,
        """return [...document.querySelectorAll('table')].map(t =>
        [!!t.caption, [...t.querySelectorAll('th')].every(h => h.scope)])""",
    )
    assert all(caption and scoped for caption, scoped in tables)
    tree = browser.execute_cdp_cmd("Accessibility.getFullAXTree", {})["nodes"]
    wanted = {"button", "link", "searchbox", "textbox", "region", "search", "figure", "table"}
    nodes = [node for node in tree if not node.get("ignored") and node["role"]["value"] in wanted]
    assert len(nodes) > (4 if name in ("empty", "index") else 20)
    nameless = [node["role"]["value"] for node in nodes if not node.get("name", {}).get("value", "").strip()]
    assert set(nameless) <= {"figure"}, nameless


def test_pins_say_what_they_are(page: Any) -> None:
    browser = page("sample")
    assert pin(browser, 6).get_attribute("aria-label") == "6, query: R1, R2"
    assert pin(browser, 2).get_attribute("aria-label") == "2, note: R1 is near the edge"


# --- paper -----------------------------------------------------------------------------------------------------------


def test_paper_has_everything_open_and_no_controls(page: Any) -> None:
    browser = page("sample", scheme="dark", media="print")
    for selector in (".filters", ".zoom", ".skip"):
        assert not any(e.is_displayed() for e in browser.find_elements(By.CSS_SELECTOR, selector)), selector
    assert js(browser, "return getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert js(browser, "return getComputedStyle(document.body).color") == "rgb(27, 35, 40)", "dark ink although dark"


def test_printing_opens_what_is_folded_and_closes_it_again(page: Any) -> None:
    browser = page("crowded")
    js(
        browser,
        """window.folded = [];
        addEventListener('beforeprint', () => folded.push(document.querySelectorAll('details:not([open])').length));""",
    )
    closed = js(browser, "return document.querySelectorAll('details:not([open])').length")
    assert closed > 3
    printed = browser.execute_cdp_cmd("Page.printToPDF", {"printBackground": True, "preferCSSPageSize": True})
    pdf = base64.b64decode(printed["data"])
    assert pdf.startswith(b"%PDF")
    boxes = re.findall(rb"/MediaBox \[0 0 (\d+)[.\d]* (\d+)", pdf)
    assert len(boxes) >= 3
    # A4 in points, ISO 216: 210 x 297 mm
    assert all((abs(int(w) - 595) <= 1, abs(int(h) - 842) <= 1) == (True, True) for w, h in boxes)
    assert js(browser, "return folded") == [0]
    assert js(browser, "return document.querySelectorAll('details:not([open])').length") == closed
