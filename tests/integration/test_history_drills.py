"""Small runs of the campaigns on the history; `manage.py drill NAME` runs the large ones."""

import pytest
from django.db import connections, transaction

from planning.drills import history, past
from register.drills import _paths, tampering
from register.history import acting
from register.models import Site

BOTH = pytest.mark.django_db(databases=["default", "owner"])


@BOTH
def test_every_write_path_leaves_old_and_new_in_every_table():
    told = []
    assert history.run(runs=1, seed=1, say=told.append), told
    assert "rows with no actor 0" in told[-1]


@pytest.mark.django_db(transaction=True)
def test_a_write_past_the_trigger_is_noticed():
    with acting("test"):
        site = _paths.Rows().saved(Site)
    assert _paths.untold({"register_site"}) == []
    with transaction.atomic(using="owner"), connections["owner"].cursor() as cursor:
        cursor.execute("ALTER TABLE register_site DISABLE TRIGGER history")
        cursor.execute("UPDATE register_site SET urgent_instruction = 'x' WHERE id = %s", [site.pk])
        cursor.execute("ALTER TABLE register_site ENABLE ALWAYS TRIGGER history")
    assert _paths.untold({"register_site"}) == [f"register_site {site.pk}"]


@pytest.mark.django_db
def test_the_past_is_rebuilt_as_a_shadow_log_has_it():
    told = []
    assert past.run(runs=40, seed=1, say=told.append), told
    assert "40 records at random moments: 0 mismatches." in told


@BOTH
def test_every_altered_row_is_found():
    told = []
    assert tampering.run(runs=12, seed=1, say=told.append), told
    assert "Altered, deleted or inserted rows found: 12 of 12." in told
