"""The campaigns against the pages, small: the big ones are run by `manage.py drill`."""

import pytest
from django.urls import reverse

from register.drills import _entries, _walk, cuts, doubles, fuzz, overposting, races
from register.drills._forms import read_page
from register.drills._walk import Found, client_of, people, walk
from register.entry.whose import match_of
from register.history import acting
from tests.browser.objects import make_world


@pytest.mark.django_db(transaction=True)
def test_pages_hold_against_what_people_and_others_do_to_them(monkeypatch):
    with acting("test"):
        make_world()
    monkeypatch.setattr(_walk, "EACH", 1)
    # What a nurse opens, a consultant opens too.
    few = {role: client_of(user) for role, user in people().items() if role != "nurse"}
    found = walk(few)
    for drill in (_entries, fuzz, overposting):
        monkeypatch.setattr(drill, "walk", lambda clients: found)
    told: list[str] = []
    # First what needs the pages as they were opened; the others change records.
    for drill, runs in ((overposting, 1), (fuzz, 40), (races, 3), (doubles, 6), (cuts, 4)):
        assert drill.run(runs=runs, seed=7, say=told.append), told[-2:]


@pytest.mark.django_db(transaction=True)
def test_forms_that_save_nothing_are_no_proof(monkeypatch):
    with acting("test"):
        make_world()
    pages, forms = walk({"administrator": client_of(people()["administrator"])})
    of_people = [form for form in forms if form.name in ("user-new", "user-passphrase")]
    told: list[str] = []
    monkeypatch.setattr(overposting, "walk", lambda clients: (pages, of_people))
    assert overposting.run(runs=1, seed=7, say=told.append), told
    idle = [form for form in of_people if form.name == "user-passphrase"]
    monkeypatch.setattr(overposting, "walk", lambda clients: (pages, idle))
    assert not overposting.run(runs=1, seed=7, say=told.append)
    monkeypatch.setattr(overposting, "walk", lambda clients: (pages, of_people))
    monkeypatch.setattr(overposting, "_saved_by", lambda *given: [])
    assert not overposting.run(runs=1, seed=7, say=told.append)
    assert "but not ['user-new']" in told[-1]


@pytest.mark.django_db(transaction=True)
def test_a_form_that_takes_what_is_not_on_it_is_found(monkeypatch):
    with acting("test"):
        made = make_world()
    address = reverse("patient-edit", args=[made.values["patient_id"]])
    html = client_of(people()["nurse"]).get(address).content.decode()
    of_a_patient = [
        Found("nurse", address, form, match)
        for form in read_page(html, address)[0]
        if (match := match_of(form.action)) and match.url_name == "patient-edit"
    ]
    assert of_a_patient
    monkeypatch.setattr(overposting, "walk", lambda clients: ([address], of_a_patient))
    monkeypatch.setattr(overposting, "_extras", lambda found: {"family_name": "Taken"})
    told: list[str] = []
    assert not overposting.run(runs=1, seed=7, say=told.append)
    assert "patient-edit" in told[-1]
