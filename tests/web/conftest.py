"""What most tests of pages start from; a file that needs something else says so itself."""

import pytest
from django.test import Client

from register.history import acting
from register.models import Review
from tests.web.follow_up import make_contact
from tests.web.people import People, make_people


@pytest.fixture
def people(db) -> People:
    """One department with somebody of each role."""
    with acting("test"):
        return make_people()


@pytest.fixture
def nurse(people: People) -> Client:
    """The signed-in nurse."""
    return people.client("nurse")


@pytest.fixture
def contact(people: People) -> Review:
    """A contact of follow-up that is due."""
    with acting("test"):
        return make_contact(people.site)


@pytest.fixture
def undrawn(monkeypatch) -> None:
    """Documents come as a stub: who gets one matters here, and drawing takes a second each."""
    monkeypatch.setattr("register.paper._draw", lambda html: b"%PDF-1.7 " + html.encode())
