"""The administrator's pages: techniques, stock, accounts. No patient is behind them."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.timezone import localdate

from register.history import acting
from register.history.reading import changes_of_row
from register.models import StockItem, Technique, User
from tests.factories import make_site, make_technique, make_user
from tests.web.people import People, make_people

TODAY = localdate()
PASSPHRASE = "seven quiet harbours"


@pytest.fixture
def people(db) -> People:
    with acting("test"):
        return make_people()


@pytest.fixture
def admin(people):
    return people.client("administrator")


def words(answer) -> str:
    return answer.content.decode()


def key(client, url) -> dict[str, str]:
    """The hidden boxes of a form page."""
    form = client.get(url).context["form"]
    return {f.html_name: f.value() or "" for f in form.hidden_fields()}


def three(name, day) -> dict[str, str]:
    boxes = zip(("day", "month", "year"), (day.day, day.month, day.year), strict=True)
    return {f"{name}_{part}": str(value) for part, value in boxes}


# --- techniques -------------------------------------------------------------------


def technique(client, url, **changes):
    return key(client, url) | {"name": "Balloon tamping", "route": "balloon"} | changes


def test_a_technique_is_added_once_however_often_the_button_is_pressed(admin, people):
    url = reverse("technique-new")
    sent = technique(admin, url, typical_minutes="45")
    for _ in range(5):
        assert admin.post(url, sent).url == reverse("techniques")
    added = Technique.objects.get()
    assert (added.site, added.typical_minutes) == (people.site, 45)
    assert changes_of_row(added)[0].actor == people.users["administrator"].username
    assert "Balloon tamping" in words(admin.get(reverse("techniques")))


def test_what_is_new_here_needs_committee_and_day(admin):
    url = reverse("technique-new")
    answer = admin.post(url, technique(admin, url, is_new_here="on"))
    assert answer.status_code == 422
    assert "A technique that is new here needs committee and date." in words(answer)
    approved = {"approving_committee": "New procedures group"} | three("approved_on", TODAY)
    assert admin.post(url, technique(admin, url, is_new_here="on", **approved)).status_code == 302


def test_a_second_technique_of_the_name_is_refused(admin, people):
    with acting("test"):
        make_technique(people.site, name="Balloon tamping")
    url = reverse("technique-new")
    assert "A technique of this name exists already." in words(
        admin.post(url, technique(admin, url))
    )


def test_two_administrators_see_both_values(admin, people):
    with acting("test"):
        made = make_technique(people.site)
    url = reverse("technique-edit", args=[made.pk])
    sent = technique(admin, url, typical_minutes="60")
    other = technique(admin, url, typical_minutes="30")
    assert admin.post(url, other).status_code == 302
    answer = admin.post(url, sent)
    assert answer.status_code == 422
    told = {
        d.label: (str(d.theirs), str(d.yours)) for d in answer.context["form"].conflict.differences
    }
    assert told["Usual length"] == ("30\u00a0minutes", "60\u00a0minutes")


def test_who_may_operate_is_chosen_among_the_consultants_of_the_site(admin, people):
    with acting("test"):
        made = make_technique(people.site)
        foreign = make_user(make_site(), "consultant")
    url = reverse("technique-edit", args=[made.pk])
    own = people.users["consultant"]
    assert admin.post(url, technique(admin, url, operators=[own.pk])).status_code == 302
    assert list(made.operators.all()) == [own]
    assert admin.post(url, technique(admin, url, operators=[foreign.pk])).status_code == 422


# --- stock ------------------------------------------------------------------------------


def lot(client, url, **changes):
    return (
        key(client, url)
        | {"kind": "implant", "name": "Expandable implant", "quantity": "4"}
        | changes
    )


def test_a_lot_with_a_mistyped_item_number_is_refused(admin):
    url = reverse("stock-new")
    wrong = admin.post(url, lot(admin, url, gtin="05012345678901"))
    assert "the check digit does not fit" in words(wrong)
    assert admin.post(url, lot(admin, url, gtin="0501 2345 6789 00")).status_code == 302
    assert StockItem.objects.get().gtin == "05012345678900"


def test_zero_on_the_shelf_is_a_number_and_empty_is_asked_about(admin):
    url = reverse("stock-new")
    assert admin.post(url, lot(admin, url, quantity="")).status_code == 422
    assert admin.post(url, lot(admin, url, quantity="0")).status_code == 302
    assert StockItem.objects.get().quantity == 0


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"recalled_on": TODAY, "quantity": 5}, "recalled: do not use"),
        ({"expires_on": TODAY - timedelta(days=1), "quantity": 5}, "expired: do not use"),
        ({"expires_on": TODAY, "quantity": 5}, "expires soon"),
        ({"quantity": 2, "reorder_at": 2}, "order"),
        ({"quantity": 3, "reorder_at": 2}, "on the shelf"),
    ],
)
def test_the_shelf_says_what_to_do_about_a_lot(admin, people, fields, told):
    with acting("test"):
        StockItem.objects.create(site=people.site, kind="implant", name="Implant", **fields)
    [row] = admin.get(reverse("stock")).context["rows"]
    assert row.word == told


@pytest.mark.parametrize("name", ["techniques", "stock", "users"])
def test_a_list_costs_the_same_for_3_rows_and_for_300(admin, people, name):
    def add(number):
        for place in range(number):
            if name == "techniques":
                make_technique(people.site)
            elif name == "stock":
                StockItem.objects.create(site=people.site, kind="other", name=f"Thing {place}")
            else:
                make_user(people.site, "nurse")

    def queries():
        with CaptureQueriesContext(connection) as log:
            assert admin.get(reverse(name)).status_code == 200
        return len(log.captured_queries)

    with acting("test"):
        add(3)
    few = queries()
    with acting("test"):
        add(297)
    assert queries() == few


# --- accounts -----------------------------------------------------------------------------


def account(client, url, **changes):
    return key(client, url) | {
        "username": "nora.quill", "first_name": "Nora", "last_name": "Quill", "role": "nurse",
        "passphrase": PASSPHRASE,
    } | changes  # fmt: skip


def test_a_new_person_can_sign_in_and_has_the_role(admin, people):
    url = reverse("user-new")
    sent = account(admin, url)
    for _ in range(3):
        assert admin.post(url, sent).url == reverse("users")
    person = User.objects.get(username="nora.quill")
    assert (person.site, person.role) == (people.site, "nurse")
    client = Client()
    signed = client.post(reverse("account_login"), {"login": "nora.quill", "password": PASSPHRASE})
    assert signed.status_code == 302
    assert client.get(reverse("follow-up-due")).status_code == 200
    [made] = changes_of_row(person)
    assert made.new["password"] == "withheld"


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"passphrase": "short"}, "at least 12 characters"),
        ({"username": ""}, "User name: enter one."),
        ({"role": ""}, "Role: choose one."),
    ],
)
def test_an_account_that_lacks_something_is_refused_with_what_to_do(admin, changes, told):
    url = reverse("user-new")
    answer = admin.post(url, account(admin, url, **changes))
    assert answer.status_code == 422
    assert told in words(answer)
    assert not User.objects.filter(first_name="Nora").exists()


def edited(client, person, **changes):
    url = reverse("user-edit", args=[person.pk])
    fields = {"first_name": "Sam", "last_name": "New", "role": person.role, "is_active": "on"}
    sent = key(client, url) | fields | changes
    return url, {name: value for name, value in sent.items() if value is not None}


def test_a_closed_account_stops_at_once(admin, people):
    nurse = people.client("nurse")
    assert nurse.get(reverse("follow-up-due")).status_code == 200
    url, sent = edited(admin, people.users["nurse"], is_active=None)
    assert admin.post(url, sent).status_code == 302
    assert nurse.get(reverse("follow-up-due")).status_code == 302


def test_a_new_role_counts_at_once(admin, people):
    nurse = people.client("nurse")
    url, sent = edited(admin, people.users["nurse"], role="lead")
    admin.post(url, sent)
    assert nurse.get(reverse("follow-up-due")).status_code == 302  # has to sign in again
    people.users["nurse"].refresh_from_db()
    assert people.client("nurse").get(reverse("follow-up-due")).status_code == 403


@pytest.mark.parametrize("change", [{"is_active": None}, {"role": "nurse"}])
def test_nobody_closes_or_demotes_the_own_account(admin, people, change):
    url, sent = edited(admin, people.users["administrator"], **change)
    answer = admin.post(url, sent)
    assert answer.status_code == 422
    assert "another administrator has to" in words(answer)


def test_two_administrators_do_not_overwrite_each_other(admin, people):
    url, sent = edited(admin, people.users["nurse"], role="lead")
    _, other = edited(admin, people.users["nurse"], is_active=None)
    assert admin.post(url, other).status_code == 302
    answer = admin.post(url, sent)
    assert answer.status_code == 422
    assert "specialist nurse, may not sign in" in words(answer)
    assert User.objects.get(pk=people.users["nurse"].pk).role == "nurse"


def test_a_forgotten_passphrase_is_set_anew_and_ends_the_old_sessions(admin, people):
    person, client = people.users["nurse"], people.client("nurse")
    url = reverse("user-passphrase", args=[person.pk])
    assert admin.post(url, {"passphrase": "short"}).status_code == 422
    assert admin.post(url, {"passphrase": PASSPHRASE}).status_code == 302
    person.refresh_from_db()
    assert person.check_password(PASSPHRASE)
    assert client.get(reverse("follow-up-due")).status_code == 302


def test_a_new_passphrase_opens_a_name_that_was_closed_after_wrong_tries(admin, people):
    person = people.users["nurse"]
    client = Client()
    for _ in range(5):
        client.post("/account/sign-in/", {"login": person.username.upper(), "password": "guess"})
    asked = {"login": person.username, "password": PASSPHRASE}
    assert client.post("/account/sign-in/", asked).status_code == 429
    admin.post(reverse("user-passphrase", args=[person.pk]), {"passphrase": PASSPHRASE})
    assert client.post("/account/sign-in/", asked).status_code == 302


def test_user_names_that_differ_by_capitals_alone_would_shut_both_out(admin, people):
    url = reverse("user-new")
    answer = admin.post(url, account(admin, url, username=people.users["nurse"].username.upper()))
    assert answer.status_code == 422
    assert "User name: it is taken." in words(answer)


def test_a_passphrase_that_somebody_else_chose_is_asked_to_be_changed(admin, people):
    person, client, told = people.users["nurse"], Client(), "Your passphrase was chosen by"
    admin.post(reverse("user-passphrase", args=[person.pk]), {"passphrase": PASSPHRASE})
    sent = {"login": person.username, "password": PASSPHRASE}
    assert f"{told} {people.users['administrator']}" in words(
        client.post("/account/sign-in/", sent, follow=True)
    )
    own = {"oldpassword": PASSPHRASE, "password1": "grey heron on the weir"}
    answer = client.post(
        reverse("account_change_password"), own | {"password2": own["password1"]}, follow=True
    )
    assert answer.redirect_chain[-1][0] == reverse("mfa_index")
    sent["password"] = own["password1"]
    assert told not in words(Client().post("/account/sign-in/", sent, follow=True))


@pytest.mark.parametrize(
    ("passphrase", "told"),
    [
        ("short", "at least 12 characters"),
        ("qwerty123456", "tried first"),
        ("nora.quill.2026", "too like the name"),
    ],
)
def test_a_weak_passphrase_is_refused_in_our_words(admin, passphrase, told):
    url = reverse("user-new")
    answer = admin.post(url, account(admin, url, passphrase=passphrase))
    assert answer.status_code == 422
    assert told in words(answer)


# --- who may ----------------------------------------------------------------------------------


def test_the_administrator_has_no_page_of_a_patient(admin):
    assert admin.get(reverse("follow-up-due")).status_code == 403
    page = words(admin.get(reverse("techniques")))
    assert reverse("patient-search") not in page
    assert reverse("stock") in page


def test_rows_of_another_site_do_not_exist(admin):
    with acting("test"):
        site = make_site()
        item = StockItem.objects.create(site=site, kind="other", name="Thing")
        addresses = [
            reverse("technique-edit", args=[make_technique(site).pk]),
            reverse("stock-edit", args=[item.pk]),
            reverse("user-edit", args=[make_user(site, "nurse").pk]),
            reverse("user-passphrase", args=[make_user(site, "nurse").pk]),
        ]
    for address in addresses:
        assert admin.get(address).status_code == 404
        assert admin.post(address, {}).status_code == 404


@pytest.mark.parametrize("name", ["techniques", "stock"])
def test_an_empty_list_says_what_to_do(admin, name):
    assert 'class="empty"' in words(admin.get(reverse(name)))
