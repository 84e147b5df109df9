"""What a request brings beside its form."""

import pytest
from django.test import RequestFactory

from register.views.sent import page_asked_for, version_sent


@pytest.mark.parametrize(
    ("sent", "version"),
    [("3", 3), ("", 0), ("-3", 0), ("3.0", 0), ("²", 0), ("٣", 0), ("123456789", 0)],
)
def test_a_version_is_a_plain_number_or_none_at_all(sent, version):
    assert version_sent(RequestFactory().post("/", {"version": sent})) == version


@pytest.mark.parametrize(
    "wanted", ["", "//elsewhere.test/", "https://elsewhere.test/", "audit", "/\\e"]
)
def test_an_address_elsewhere_is_never_led_to(wanted):
    request = RequestFactory().get("/", {"next": wanted})
    assert page_asked_for(request, "/audit/") == "/audit/"


def test_the_page_that_was_asked_for_is_led_to():
    request = RequestFactory().get("/", {"next": "/theatre-log/3/?page=2"})
    assert page_asked_for(request, "/audit/") == "/theatre-log/3/?page=2"
