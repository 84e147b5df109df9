"""The protocol page: every number with unit, source and kind."""

import re

import pytest
from django.utils.timezone import localdate

from planning.services.protocols import in_force
from register.domain.protocol import shipped
from register.history import acting
from tests.web.people import People, make_people


@pytest.fixture
def people(db) -> People:
    with acting("test"):
        return make_people()


def page(people, role="lead"):
    response = people.client(role).get("/protocol/")
    assert response.status_code == 200
    return response


@pytest.mark.parametrize("role", ["consultant", "nurse", "lead", "administrator"])
def test_everybody_may_read_the_protocol(people, role):
    assert "Shipped protocol" in page(people, role).content.decode()


def test_every_value_is_shown_with_unit_source_and_kind(people):
    html = page(people).content.decode()

    values = shipped(localdate()).values
    for entry in values:
        assert entry.words.replace("<", "&lt;") in html
    rows = {r.description: r for _, rows in page(people).context["view"].groups for r in rows}
    assert set(rows) == {entry.description for entry in values}
    assert rows["INR up to which the bleeding risk is accepted"].kind == (
        "published, second-hand or from memory: confirm locally"
    )


def test_what_was_not_published_and_read_is_marked(people):
    response = page(people)
    view = response.context["view"]

    marked = [row for _, rows in view.groups for row in rows if row.confirm_locally]
    values = shipped(localdate()).values
    open_values = [v for v in values if v.source.kind.confirm_locally and v.value is not None]

    assert view.to_enter == sum(v.value is None for v in values) > 0
    assert len(marked) == len(open_values) == view.to_confirm > 0
    words = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))
    assert f"{view.to_confirm} of {view.total} values are to be confirmed locally" in words
    assert words.count("confirm locally") >= view.to_confirm


def test_every_rule_of_the_set_in_force_is_listed(people):
    html = page(people).content.decode()

    for rule in in_force(people.site, localdate()).rules.rules:
        assert f"{rule.id}, version {rule.version}" in html


def test_opening_the_page_twice_keeps_one_protocol(people):
    page(people)
    page(people)

    assert people.site.protocols.count() == 1
