"""What the tests of the waiting list share: somebody who waits, and the page."""

import re
from datetime import timedelta

from django.utils.timezone import localdate

from planning.selectors.waiting import waiting_fractures
from planning.services.protocols import in_force
from register.history import acting
from tests.factories import make_fracture, make_patient, make_reading, make_referral

DAY = timedelta(days=1)
URL = "/waiting/"


def wait(people, days=20, *, site=None, person=None, precision="day", state="waiting", **referral):
    """A waiting fracture whose onset was so many days ago; None for an unknown onset."""
    today = localdate()
    onset = None if days is None else today - days * DAY
    referral.setdefault("referred_on", today - min(10 if days is None else days, 10) * DAY)
    with acting("test"):
        patient = make_patient(site or people.site, **(person or {}))
        known = {"onset_on": onset, "onset_precision": precision if onset else ""}
        return make_fracture(make_referral(patient, **known, **referral), state=state)


def read(people, fracture, **fields):
    fields.setdefault("read_on", localdate() - DAY)
    with acting("test"):
        return make_reading(fracture, people.users["consultant"], **fields)


def listed(people):
    today = localdate()
    return waiting_fractures(people.site, on=today, current=in_force(people.site, today))


def page(people, role="consultant", **filters):
    response = people.client(role).get(URL, filters)
    assert response.status_code == 200
    return response


def text(response):
    """The words of a page, without markup."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))
