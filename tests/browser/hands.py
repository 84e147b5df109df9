"""What a person's hands do on a page, in the words of the page."""

import re
from datetime import date

from playwright.sync_api import Locator, Page, expect

from register.domain.days import MONTHS

PASSPHRASE = "a long passphrase 1"


def sign_in(page: Page, name: str, passphrase: str = PASSPHRASE) -> None:
    """Sign in through the page for it."""
    page.goto("/account/sign-in/")
    page.get_by_label("User name").fill(name)
    page.get_by_label("Passphrase").fill(passphrase)
    page.get_by_role("button", name="Sign in").click()


def choose(within: Page | Locator, answers: dict[str, str]) -> None:
    """Choose the answer of each select by the words of both."""
    for question, answer in answers.items():
        within.get_by_label(question, exact=True).select_option(label=answer)


def write(within: Page | Locator, texts: dict[str, str]) -> None:
    """Type into boxes by how their labels begin."""
    for question, text in texts.items():
        starts = re.compile(f"^{re.escape(question)}")
        within.get_by_role("textbox", name=starts).fill(text)


def write_day(within: Page | Locator, question: str, day: date) -> None:
    """Type a date into its three boxes."""
    boxes = within.get_by_role("group", name=question)
    boxes.get_by_label("Day").fill(str(day.day))
    boxes.get_by_label("Month").fill(MONTHS[day.month - 1])
    boxes.get_by_label("Year").fill(str(day.year))


def press(page: Page, words: str) -> None:
    """Press the button of these words."""
    page.get_by_role("button", name=words, exact=True).click()


def told(page: Page, words: str) -> None:
    """Wait for the message that names what was saved."""
    expect(page.get_by_role("status").filter(has_text=words)).to_be_visible()


def sheet(page: Page, heading: str) -> Locator:
    """The area under a heading."""
    there = page.get_by_role("heading", name=heading, exact=True)
    return page.locator("section, form, nav").filter(has=there).last


class Keyboard:
    """Somebody who has no mouse: counts the keys, and finds things with Tab alone."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.keys = 0

    def press(self, key: str) -> None:
        self.page.keyboard.press(key)
        self.keys += 1

    def type(self, text: str) -> None:
        self.page.keyboard.type(text)
        self.keys += len(text)

    def go(self, target: Locator) -> None:
        """Press Tab until the target has the focus, and see that the focus can be seen."""
        for _ in range(160):
            if target.evaluate("one => one === document.activeElement"):
                break
            self.press("Tab")
        expect(target).to_be_focused()
        drawn = target.evaluate(
            "one => getComputedStyle(one).outlineStyle + getComputedStyle(one).boxShadow"
        )
        assert drawn != "nonenone", f"the focus on {target} cannot be seen"

    def choose(self, target: Locator, answer: str) -> None:
        """Choose an answer by typing its first letters."""
        self.go(target)
        self.type(answer)

    def enter(self, target: Locator) -> None:
        """Go to a link or button and press Enter."""
        self.go(target)
        self.press("Enter")
