"""What every patient of the scenario shares: the day, the staff, the shelf, the calendar."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Final

from register.domain.protocol import shipped
from register.domain.timepoints import Timepoint
from reports.demo import course, people, shelf, theatre
from reports.demo.book import Book, Row
from reports.demo.parameters import MONTHS

# Past patients were referred at least so long ago that most are decided and treated.
SETTLED_DAYS: Final = 26


@dataclass
class World:
    """What every patient of the scenario shares."""

    book: Book
    today: date
    first_day: date
    staff: dict[str, Row]
    shelf: shelf.Shelf
    calendar: theatre.Calendar
    timepoints: Sequence[Timepoint]
    people: list[course.Person] = field(default_factory=list)

    @property
    def doctors(self) -> list[Row]:
        """Those who read images and decide."""
        return [self.staff["consultant"], self.staff["consultant2"]]

    @property
    def nurses(self) -> list[Row]:
        """Those who see patients again; mostly the nurse."""
        return [self.staff["nurse"]] * 4 + [self.staff["consultant"]]


def make_world(today: date) -> World:
    """Write staff, shelf and theatre sessions of the whole time into a new book."""
    book = Book()
    staff = people.add_staff(book)
    first_day = today - timedelta(days=round(MONTHS.value * 30.44))
    calendar = theatre.Calendar(book, staff, today)
    calendar.open(first_day, today + timedelta(days=2 * theatre.EVERY_DAYS))
    on_shelf = shelf.add_shelf(book, staff, today)
    return World(book, today, first_day, staff, on_shelf, calendar, shipped(today).timepoints)
