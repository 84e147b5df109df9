"""The history is sealed by a chain, anchored outside the database; what was altered is found."""

import threading
from datetime import UTC, datetime

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, connections, transaction

from register.history import acting
from register.history.anchors import Anchor, AnchorsUnreadable, anchor_add, anchors_of
from register.history.chain import StillOpen, chain_end, check, extend, settled_end
from tests.integration.people import make_patient, make_site

ANCHOR = Anchor(datetime(2027, 3, 12, 2, 15, tzinfo=UTC), 48213, 48190, "9f" * 32)
BOTH = pytest.mark.django_db(databases=["default", "owner"])


def ask(statement, *values):
    with connections["owner"].cursor() as cursor:
        cursor.execute(statement, values or None)
        return cursor.fetchall() if cursor.description else []


@pytest.fixture
def anchor_file(tmp_path, settings):
    settings.ANCHOR_FILE = str(tmp_path / "anchors.txt")
    return tmp_path / "anchors.txt"


# -- anchors ---------------------------------------------------------------------------


def test_an_anchor_reads_back_as_it_was_written(tmp_path):
    file = tmp_path / "anchors.txt"
    anchor_add(file, ANCHOR)
    anchor_add(file, ANCHOR)
    assert anchors_of(file) == [ANCHOR, ANCHOR]
    assert file.stat().st_mode & 0o777 == 0o600
    assert file.read_text().splitlines()[0] == (
        f"2027-03-12T02:15:00+00:00 last 48213 count 48190 sha256 {'9f' * 32}"
    )


def test_a_damaged_line_is_named(tmp_path):
    file = tmp_path / "anchors.txt"
    file.write_text(f"{ANCHOR}\nsomething else\n")
    with pytest.raises(AnchorsUnreadable, match="Line 2"):
        anchors_of(file)
    with pytest.raises(AnchorsUnreadable, match="no anchors"):
        anchors_of(tmp_path / "elsewhere")


# -- sealing -----------------------------------------------------------------------------


@pytest.mark.django_db(transaction=True)
def test_a_row_that_may_still_appear_keeps_the_end_open():
    """The earlier number commits later: nothing is sealed until it is there."""
    drawn, may_commit = threading.Event(), threading.Event()
    with acting("setup"):
        make_site()

    def slow():
        try:
            with acting("slow"):
                make_patient("SLOW")
                drawn.set()
                may_commit.wait(10)
        finally:
            connection.close()

    thread = threading.Thread(target=slow)
    thread.start()
    drawn.wait(10)
    try:
        with acting("fast"):
            fast = make_patient("FAST")
        with pytest.raises(StillOpen, match="run the command again"):
            settled_end(connections["owner"], wait_s=0)
    finally:
        may_commit.set()
        thread.join()
    end = settled_end(connections["owner"], wait_s=20)
    rows = dict(ask("SELECT new_row->>'hospital_number', id FROM audit.change_log"
                    " WHERE table_name = 'register_patient' AND id > %s", end - 3))  # fmt: skip
    assert rows["SLOW"] < rows["FAST"] <= end
    assert fast.hospital_number == "FAST"


@pytest.mark.django_db(transaction=True)
def test_sealing_and_checking_by_the_commands(anchor_file, capsys):
    with acting("test"):
        make_patient()
    call_command("seal_history")
    told = capsys.readouterr().out
    (anchor,) = anchors_of(anchor_file)
    assert str(anchor) in told
    assert anchor.last_id == ask("SELECT max(id) FROM audit.change_log")[0][0]
    with acting("test"):
        make_patient("H2")
    call_command("check_history")
    assert "The sealed history is as it was." in capsys.readouterr().out
    call_command("seal_history")
    assert len(anchors_of(anchor_file)) == 2
    call_command("check_history")


@BOTH
def test_an_open_transaction_is_told_and_seals_nothing(anchor_file):
    with acting("test"):
        make_patient()
    with pytest.raises(CommandError, match="Nothing was sealed"):
        call_command("seal_history", wait=0)
    assert not anchor_file.exists()


@BOTH
def test_a_check_without_anchors_says_what_to_do(anchor_file):
    with pytest.raises(CommandError, match="Run seal_history first"):
        call_command("check_history")


# -- finding -----------------------------------------------------------------------------


@pytest.fixture
def sealed(db, anchor_file):
    """Twenty rows of the owner's, sealed and anchored, with the guard switched off."""
    owner = connections["owner"]
    ask("INSERT INTO audit.change_log (session_role, actor, reason, transaction_id, table_name,"
        " operation, row_key, new_row) SELECT 'app', 'nurse', '', 1, 'register_score', 'INSERT',"
        " n::text, jsonb_build_object('value', n) FROM generate_series(1, 20) n")  # fmt: skip
    last, count, digest = extend(owner, upto=10**15)
    anchor_add(anchor_file, Anchor(datetime.now(UTC), last, count, digest.hex()))
    ask("ALTER TABLE audit.change_log DISABLE TRIGGER only_added_to")
    ask("ALTER TABLE audit.chain DISABLE TRIGGER only_added_to")
    return last


ALTERED = {
    "value": "UPDATE audit.change_log SET new_row = '{\"value\": 99}' WHERE id = %s",
    "who": "UPDATE audit.change_log SET actor = 'lead' WHERE id = %s",
    "when": "UPDATE audit.change_log SET at = at + interval '1 microsecond' WHERE id = %s",
    "why": "UPDATE audit.change_log SET reason = 'because' WHERE id = %s",
    "which": "UPDATE audit.change_log SET row_key = '0' WHERE id = %s",
    "gone": "DELETE FROM audit.change_log WHERE id = %s",
}


@BOTH
@pytest.mark.parametrize("statement", ALTERED.values(), ids=ALTERED.keys())
def test_an_altered_row_is_named_and_no_other(sealed, statement, capsys):
    ask(statement, sealed - 7)
    found = check(connections["owner"], [])
    assert [finding.number for finding in found.findings] == [sealed - 7]
    with pytest.raises(CommandError, match="not as it was sealed"):
        call_command("check_history")
    assert f"Row {sealed - 7}:" in capsys.readouterr().out


@BOTH
def test_a_forged_row_below_the_end_is_named(sealed):
    ask("DELETE FROM audit.change_log WHERE id = %s", sealed - 3)
    ask("DELETE FROM audit.chain WHERE log_id = %s", sealed - 3)
    ask("INSERT INTO audit.change_log (id, session_role, actor, reason, transaction_id, table_name,"
        " operation, row_key) OVERRIDING SYSTEM VALUE"
        " VALUES (%s, 'app', 'x', '', 1, 'x', 'INSERT', '1')", sealed - 3)  # fmt: skip
    found = {finding.number: finding.words for finding in check(connections["owner"], []).findings}
    assert found[sealed - 3] == "added after it was sealed"


@BOTH
def test_a_chain_rewritten_with_its_rows_no_longer_fits_the_anchor(sealed, anchor_file):
    ask(ALTERED["value"], sealed - 7)
    ask("DELETE FROM audit.chain WHERE log_id >= %s", sealed - 7)
    extend(connections["owner"], upto=sealed)
    found = check(connections["owner"], anchors_of(anchor_file))
    assert found.findings == []
    assert [words for _, words in found.unfit] == ["the chain has another digest there"]


@BOTH
def test_an_end_cut_off_with_its_links_no_longer_fits_the_anchor(sealed, anchor_file):
    for table, column in (("change_log", "id"), ("chain", "log_id")):
        ask(f"DELETE FROM audit.{table} WHERE {column} > %s", sealed - 5)
    found = check(connections["owner"], anchors_of(anchor_file))
    assert [words for _, words in found.unfit] == ["its last row is not in the chain"]


@BOTH
def test_the_digest_does_not_depend_on_settings_of_the_session(sealed):
    with transaction.atomic(using="owner"):
        ask("SET LOCAL TimeZone = 'Asia/Tokyo'")
        ask("SET LOCAL DateStyle = 'SQL, DMY'")
        ask("SET LOCAL extra_float_digits = 0")
        assert check(connections["owner"], []).is_whole


@BOTH
def test_sealing_again_adds_nothing(sealed):
    before = chain_end(connections["owner"])
    assert extend(connections["owner"], upto=10**15) == before
