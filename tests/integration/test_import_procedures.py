"""Lists of earlier procedures against the register: written, twice, changed, undone, audited."""

from datetime import date
from decimal import Decimal

import pytest

from register.history import acting
from register.models import Fracture, Patient, Procedure, Referral, Review
from register.selectors.imports import preview_of
from register.services import imports as writing
from tests.factories import make_site, make_technique, make_user
from tests.procedure_lists import BARE, CELLS, TODAY, another, listed, row

pytestmark = pytest.mark.django_db


@pytest.fixture
def nurse(db):
    with acting("test"):
        nurse = make_user(make_site(), "nurse")
        make_technique(nurse.site, name="Balloon tamping", route="balloon")
        make_technique(nurse.site, name="Cement alone", route="cement")
    return nurse


def keep(nurse, *rows):
    return writing.import_keep(
        site=nurse.site, user=nurse, file_name="old_list.csv", content=listed(*rows),
        kind="procedures", date_order="dmy", today=TODAY,
    )  # fmt: skip


def look(nurse, *rows):
    return preview_of(keep(nurse, *rows), today=TODAY).verdicts


def sent(nurse, *rows):
    """Send a list in and confirm it."""
    kept = keep(nurse, *rows)
    seen = preview_of(kept, today=TODAY).seal
    return writing.import_confirm(kept=kept, user=nurse, seen=seen, today=TODAY)


def test_a_full_row_becomes_a_whole_record(nurse):
    assert [v.reasons for v in look(nurse, CELLS)] == [()]
    assert sent(nurse, CELLS).counts["new"] == 1
    done = Procedure.objects.get()
    assert (done.state, done.operator, done.operator_words) == ("earlier", None, "R. Inkpen")
