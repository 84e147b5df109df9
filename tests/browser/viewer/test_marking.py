"""Marking by keyboard, mouse and touch, on made-up pictures."""

import pytest
from playwright.sync_api import expect

from tests.browser.hands import Keyboard
from tests.browser.viewer.on_page import drawn, on_screen, point, sent, stage
from tests.browser.viewer.pictures import SPACING, phantom

TRUE = phantom().marks(SPACING)
CORNERS = ("upper_anterior", "upper_posterior", "lower_posterior", "lower_anterior")


COUNT_WHAT_IS_TOLD = """() => {
  window.told = 0;
  document.querySelector(".mark-page form").addEventListener("input", () => { window.told += 1; });
}"""


def test_a_vertebra_is_marked_by_keyboard_alone(opened, picture):
    page = opened("empty")
    hands = Keyboard(page)
    page.evaluate(COUNT_WHAT_IS_TOLD)
    hands.go(stage(page))
    expect(page.locator("[data-next]")).to_have_text("Next: L1, upper end plate, front corner")
    for name in CORNERS:
        hands.press("Enter")
        expect(point(page, "L1", name)).to_be_focused()
        side = "ArrowLeft" if name.endswith("anterior") else "ArrowRight"
        up = "ArrowUp" if name.startswith("upper") else "ArrowDown"
        for key in [f"Control+{side}"] * 4 + [f"Control+{up}"] * 3 + ["Shift+ArrowLeft", up]:
            hands.press(key)
        hands.press("Escape")
    # 0.1 px is a tenth, and 149.5 − 40 − 0.1 is what ten, ten, ten, ten and a tenth make.
    assert sent(page)["L1"]["upper_anterior"] == [109.4, 168.5]
    assert sent(page)["L1"]["lower_posterior"] == [189.4, 230.5]
    assert "upper_middle" not in sent(page)["L1"], "a proposal is no mark"
    proposal = point(page, "L1", "upper_middle")
    expect(proposal).to_have_attribute(
        "aria-label",
        "L1, upper end plate, middle: proposed at 149.4 across, 168.5 down; Enter confirms it",
    )
    picture(page, "viewer-proposal")
    hands.go(proposal)
    hands.press("Enter")
    expect(point(page, "L1", "lower_middle")).to_be_focused()
    hands.press("ArrowUp")
    assert len(sent(page)["L1"]) == 6
    assert sent(page)["L1"]["lower_middle"] == [149.4, 229.5]
    hands.press("Delete")
    assert "lower_middle" not in sent(page)["L1"]
    hands.press("Control+z")
    assert sent(page)["L1"]["lower_middle"] == [149.4, 229.5]
    hands.press("Control+z")
    assert "lower_middle" not in sent(page)["L1"], "the move of a proposal is one step"
    hands.press("Control+Shift+z")
    assert sent(page)["L1"]["lower_middle"] == [149.4, 229.5]
    expect(page.locator("[data-numbers] tbody tr").nth(1)).to_contain_text("24.4 ±3.3")
    assert page.evaluate("window.told") > 40, "each change is told to what keeps drafts"
    expect(page.locator("[data-said]")).to_contain_text("L1: anterior height 24.8 ±3.3 mm, middle")
    print(f"{hands.keys} keys, no pointer")


def test_what_the_box_of_the_form_holds_is_shown_again(opened):
    page = opened("resumed")  # its data know of no marks; the box comes back filled
    expect(page.locator("[data-next]")).to_have_text("Every point is marked.")
    expect(page.locator("[data-numbers] tbody tr").first).to_contain_text("16.0 ±3.3")
    expect(page.locator("#id_marks")).to_be_hidden()
    assert sent(page) == TRUE
    point(page, "L1", "upper_middle").focus()
    page.keyboard.press("Delete")
    assert sent(page)["T12"] == TRUE["T12"]
    assert "upper_middle" not in sent(page)["L1"]


def test_points_are_set_and_dragged_with_the_mouse(opened, picture):
    page = opened("empty")
    for name in CORNERS:
        page.mouse.click(*on_screen(page, TRUE["L1"][name]))
    for name, place in sent(page)["L1"].items():
        assert place == pytest.approx(TRUE["L1"][name], abs=0.6), name
    expect(page.locator("[data-next]")).to_have_text("Next: L1, upper end plate, middle")
    page.mouse.click(*on_screen(page, TRUE["L1"]["upper_middle"]))  # beside its proposal
    assert sent(page)["L1"]["upper_middle"] == pytest.approx(TRUE["L1"]["upper_middle"], abs=0.6)
    start = on_screen(page, sent(page)["L1"]["upper_anterior"])
    before = sent(page)["L1"]["upper_anterior"]
    page.mouse.move(start[0] + 5, start[1] + 3)  # beside the point: it must not jump
    page.mouse.down()
    page.mouse.move(start[0] + 5, start[1] + 3 + 30, steps=4)
    expect(page.locator("[data-loupe]").first).to_be_visible()
    picture(page, "viewer-drag")
    page.mouse.up()
    after = sent(page)["L1"]["upper_anterior"]
    assert after[0] == pytest.approx(before[0], abs=0.02)
    assert after[1] > before[1] + 10
    page.get_by_role("button", name="Undo").click()
    assert sent(page)["L1"]["upper_anterior"] == before, "a drag is one step"
    page.get_by_role("button", name="Redo").click()
    assert sent(page)["L1"]["upper_anterior"] == after

    # Who goes on to the next body leaves a proposal standing; it takes no place there.
    page.mouse.click(*on_screen(page, TRUE["T12"]["upper_anterior"]))
    assert "lower_middle" not in sent(page)["L1"]
    assert list(sent(page)["T12"]) == ["upper_anterior"]
    page.get_by_role("button", name="Undo").click()

    # Dragging beside the points shifts the picture and marks nothing.
    count = len(sent(page)["L1"])
    left, top = on_screen(page, [20, 20])
    page.mouse.move(left, top)
    page.mouse.down()
    page.mouse.move(left + 60, top + 40, steps=3)
    page.mouse.up()
    assert len(sent(page)["L1"]) == count
    seen = point(page, "L1", "lower_anterior").bounding_box()
    there = on_screen(page, sent(page)["L1"]["lower_anterior"])
    assert seen["x"] + seen["width"] / 2 == pytest.approx(there[0] + 60, abs=1.5)

    # The list names a point out of turn; a reversed film changes the view, not the marks.
    page.get_by_text("T12 0 of 6 marked").click()
    page.locator(".points__level").nth(1).get_by_role("button").first.click()
    expect(page.locator("[data-next]")).to_have_text("Next: T12, upper end plate, front corner")
    kept = sent(page)
    page.get_by_role("button", name="Mirrored").click()
    expect(page.get_by_label("Reversed film")).to_be_checked()
    assert sent(page) == kept
    drawn(page)
    turned, box = point(page, "L1", "lower_anterior").bounding_box(), stage(page).bounding_box()
    both = turned["x"] + seen["x"] + (turned["width"] + seen["width"]) / 2
    assert both / 2 == pytest.approx(box["x"] + box["width"] / 2, abs=1), "left is right now"


def test_a_finger_marks_moves_and_zooms(opened):
    page = opened("empty")
    touch = page.context.new_cdp_session(page)

    def fingers(kind: str, *places: tuple[float, float]) -> None:
        points = [{"x": x, "y": y, "id": n} for n, (x, y) in enumerate(places)]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    start = on_screen(page, TRUE["L1"]["upper_anterior"])
    fingers("touchStart", start)
    fingers("touchEnd")
    assert sent(page)["L1"]["upper_anterior"] == pytest.approx(
        TRUE["L1"]["upper_anterior"], abs=0.6
    )
    fingers("touchStart", start)
    for step in (10, 20, 30):
        fingers("touchMove", (start[0] - step, start[1]))
    fingers("touchEnd")
    assert sent(page)["L1"]["upper_anterior"][0] < TRUE["L1"]["upper_anterior"][0] - 10

    width = "() => document.querySelector('.line--known, .point').getBoundingClientRect().x"
    before = page.evaluate(width)
    middle = on_screen(page, [150, 300])
    fingers("touchStart", (middle[0] - 30, middle[1]), (middle[0] + 30, middle[1]))
    for apart in (45, 60):
        fingers("touchMove", (middle[0] - apart, middle[1]), (middle[0] + apart, middle[1]))
    fingers("touchEnd")
    drawn(page)
    assert page.evaluate(width) < before - 30, "twice as large"
    assert len(sent(page)["L1"]) == 1, "two fingers set no point"


def test_a_known_length_gives_millimetres(opened):
    page = opened("uncalibrated")
    expect(page.locator("[data-numbers]")).not_to_contain_text("mm")
    expect(page.locator("[data-basis]")).to_contain_text("Not calibrated")
    hands = Keyboard(page)
    hands.go(page.get_by_role("button", name="Draw a known length"))
    hands.press("Enter")
    hands.press("Enter")
    expect(point(page, "known", "start")).to_be_focused()
    hands.press("Escape")
    hands.press("Enter")
    for _ in range(10):
        hands.press("Control+ArrowRight")
    box = page.get_by_label("It is")
    box.fill("3o")
    box.press("Tab")
    expect(page.locator("[data-known-trouble]")).to_contain_text("for example 25.4")
    assert sent(page)["known"]["mm"] == "3o", "what was typed stays"
    box.fill("30")  # 100 columns of 0.3 mm
    box.press("Tab")
    expect(page.locator("[data-known-trouble]")).to_be_hidden()
    expect(page.locator("[data-basis]")).to_contain_text("known length")
    row = page.locator("[data-numbers] tbody tr").filter(has_text="Anterior height, mm")
    expect(row).to_contain_text("16.0 ±3.8")
    assert sent(page)["known"]["end"][0] - sent(page)["known"]["start"][0] == 100
