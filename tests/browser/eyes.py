"""What a careful look at a page finds: its parts, axe, keyboard, large text, forced colours.

Nothing is written into the page: scripts run from outside, sheets are adopted,
so that the content security policy of the page stays in force.
"""

import re
from typing import Any

from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Page, TimeoutError

DIGITS = re.compile(r"\b\d{1,2}/\d{1,2}/\d{2}")
# WCAG 2.2 A and AA, and what axe calls best practice (heading order, landmarks).
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa", "best-practice"]
OPTIONS = {"runOnly": {"type": "tag", "values": TAGS}, "resultTypes": ["violations"]}
RUN_AXE = """(options) => axe.run(document, options).then((found) => found.violations.flatMap(
  (one) => one.nodes.map(
    (node) => `${one.id}: ${node.target.join(" ")}: ${node.failureSummary}`)))"""
SETTLES_MS = 15_000  # only a page that does not fit waits so long
# A function: the page's own policy forbids to evaluate a text.
NOT_WIDE = "() => document.documentElement.scrollWidth <= innerWidth"

LOOK = """() => {
  const shown = (one) => one.checkVisibility();
  const blank = (cell) => !cell.textContent.trim()
    && !cell.querySelector("svg, img, input, select, textarea, button");
  const ids = [...document.querySelectorAll("[id]")].map((one) => one.id);
  const boxes = [...document.querySelectorAll("input, select, textarea")]
    .filter((box) => box.type !== "hidden" && !box.labels.length && !box.ariaLabel);
  const main = document.querySelector("main");
  const sticks = [...main.querySelectorAll(".sheet :is(input, select, textarea, button)")]
    .filter((box) => shown(box) && box.getBoundingClientRect().right
      > box.closest(".sheet").getBoundingClientRect().right + 1 && !box.closest(".table-frame"))
    .map((box) => box.name || box.textContent.trim());
  return {
    titles: document.querySelectorAll("h1").length,
    title: document.title,
    wide: document.documentElement.scrollWidth - innerWidth,
    widest: [...document.querySelectorAll("main *")]
      .filter((one) => shown(one) && one.getBoundingClientRect().right > innerWidth
        && !one.closest(".table-frame, svg"))
      .map((one) => one.tagName + "." + one.className).slice(0, 4),
    blank: [...document.querySelectorAll("td, th")].filter(blank)
      .map((cell) => cell.closest("tr").textContent.trim().slice(0, 60)),
    twice: ids.filter((id, place) => ids.indexOf(id) !== place),
    sticks,
    unlabelled: boxes.map((box) => box.name),
    strips: document.querySelectorAll("section.identity").length,
    main_buttons: [...document.querySelectorAll(".button--main")].filter(shown).length,
    help: document.querySelectorAll("body > aside > details.help").length,
    text: document.body.innerText,
    none: main.innerText.match(/\\bNone\\b|\\bnan\\b|\\{\\{|\\}\\}/g) || [],
  };
}"""

# Each place that the Tab key stops at: can it be seen, and is its ring drawn and uncovered?
FOCUS = """() => {
  const stops = [...document.querySelectorAll(
    "a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex='0']")]
    .filter((one) => one.checkVisibility() && !one.disabled);
  const told = [];
  const name = (one) => one.tagName.toLowerCase() + " "
    + (one.name || one.textContent.trim().slice(0, 30) || one.getAttribute("href"));
  const ring = (one) => {
    const drawn = getComputedStyle(one);
    const box = one.querySelector(".d-target");
    return (drawn.outlineStyle !== "none" && parseFloat(drawn.outlineWidth) >= 2)
      || (box && parseFloat(getComputedStyle(box).strokeWidth) >= 2);
  };
  for (const one of document.querySelectorAll("[tabindex]"))
    if (one.tabIndex > 0) told.push(`${name(one)}: an order of its own`);
  for (const one of stops) {
    one.focus();
    if (document.activeElement !== one) { told.push(`${name(one)}: takes no focus`); continue; }
    if (!ring(one)) told.push(`${name(one)}: no ring`);
    const box = one.getClientRects()[0];  // of a link over two lines, the first
    // A point of it that is on the screen: a long region may begin above.
    const inside = (low, high, most) => (Math.max(low, 1) + Math.min(high, most - 1)) / 2;
    const x = inside(box.left, box.right, innerWidth);
    const y = inside(box.top, Math.min(box.bottom, Math.max(box.top, 0) + 24), innerHeight);
    const top = document.elementFromPoint(x, y);
    const own = top && (one.contains(top) || top.contains(one) || (one.labels
      && [...one.labels].some((label) => label.contains(top))));
    if (!own) told.push(`${name(one)}: hidden under ${top?.className || top?.tagName}`);
  }
  return told;
}"""

# Text that its own box cuts off.
CUT = """() => [...document.querySelectorAll("body *")]
  .filter((one) => one.checkVisibility() && one.clientWidth && one.children.length === 0
    && one.textContent.trim() && !one.closest("svg, .unseen, thead")
    && ["hidden", "clip"].includes(getComputedStyle(one).overflowX)
    && one.scrollWidth > one.clientWidth + 1)
  .map((one) => one.tagName + "." + one.className).slice(0, 4)"""

SPACING = """() => {
  const sheet = new CSSStyleSheet();
  sheet.replaceSync("* { line-height: 1.5 !important; letter-spacing: .12em !important; "
    + "word-spacing: .16em !important } p { margin-bottom: 2em !important }");
  document.adoptedStyleSheets = [sheet];
}"""

# The colours follow the setting some frames later.
FORCED_IS_ON = """() => matchMedia("(forced-colors: active)").matches
  && getComputedStyle(document.body).color === 'rgb(0, 0, 0)'"""
# With the system's colours only: a state keeps its mark, a drawing its outline.
FORCED = """() => {
  const ground = getComputedStyle(document.body).backgroundColor;
  const drawn = (svg) => [...svg.querySelectorAll("path, line, circle, rect, polygon, polyline")]
    .some((part) => ["stroke", "fill"].some((what) => {
      const colour = getComputedStyle(part)[what];
      return colour !== "none" && colour !== ground && !/^rgba.*, 0\\)$/.test(colour);
    }));
  return [...document.querySelectorAll("svg.drawing, svg.mark")]
    .filter((svg) => svg.checkVisibility() && !drawn(svg))
    .map((svg) => "nothing is left of " + (svg.getAttribute("aria-label") || svg.classList));
}"""


def parts(page: Page, *, one_patient: bool) -> list[str]:
    """What is wrong with the parts of a page, in words."""
    if not page.locator("main").count():
        return ["no page: " + page.locator("body").inner_text()[:120]]
    seen: dict[str, Any] = page.evaluate(LOOK)
    told = []
    if seen["titles"] != 1:
        told.append(f"{seen['titles']} main headings")
    if seen["wide"] > 0:
        told.append(f"{seen['wide']} px too wide: {seen['widest']}")
    if seen["strips"] != int(one_patient):
        told.append(f"{seen['strips']} identity strips")
    if seen["main_buttons"] > 1:
        told.append(f"{seen['main_buttons']} main buttons")
    if seen["help"] != 1:
        told.append(f"{seen['help']} panels of help")
    told += [f"empty cell in: {words}" for words in seen["blank"]]
    told += [f"id twice: {name}" for name in seen["twice"]]
    told += [f"sticks out of its sheet: {name}" for name in seen["sticks"]]
    told += [f"box without label: {name}" for name in seen["unlabelled"]]
    told += [f"date in figures: {date}" for date in DIGITS.findall(seen["text"])]
    told += [f"left over: {word}" for word in seen["none"]]
    return told


def axe(page: Page) -> list[str]:
    """What axe finds against WCAG 2.2 AA."""
    page.evaluate(AXE_SCRIPT)
    found: list[str] = page.evaluate(RUN_AXE, OPTIONS)
    return found


def focus(page: Page) -> list[str]:
    """Stops of the Tab key that cannot be seen."""
    page.keyboard.press("Tab")
    told: list[str] = page.evaluate(FOCUS)
    return told


def settled(page: Page) -> bool:
    """Whether the page fits its width; charts follow the screen a moment later."""
    try:
        page.wait_for_function(NOT_WIDE, timeout=SETTLES_MS)
    except TimeoutError:
        return False
    return True


def resized(page: Page) -> list[str]:
    """What breaks at 320 px, with text of twice the size, and with wide spacing."""
    told = []
    page.set_viewport_size({"width": 320, "height": 900})
    told += _fits(page, "at 320 px")
    page.set_viewport_size({"width": 1280, "height": 900})
    page.evaluate("document.documentElement.style.fontSize = '200%'")
    told += _fits(page, "with text of twice the size")
    page.evaluate("document.documentElement.style.fontSize = ''")
    page.evaluate(SPACING)
    told += _fits(page, "with wide spacing")
    page.evaluate("document.adoptedStyleSheets = []")
    return told


def _fits(page: Page, when: str) -> list[str]:
    told = []
    if not settled(page):
        seen = page.evaluate(LOOK)
        told.append(f"{when}: {seen['wide']} px too wide: {seen['widest']}")
    return told + [f"{when}: cut off: {one}" for one in page.evaluate(CUT)]


def forced(page: Page) -> list[str]:
    """What is lost when only the system's colours are shown."""
    page.emulate_media(forced_colors="active")
    page.wait_for_function(FORCED_IS_ON)
    told: list[str] = page.evaluate(FORCED)
    page.emulate_media(forced_colors="none")
    return told
