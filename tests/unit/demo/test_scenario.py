"""The scenario is deterministic, in order, and invented."""

import re
import subprocess
import sys
from datetime import date, datetime, timedelta

from register.domain.gs1 import is_gtin, parse_udi
from register.domain.nhs_number import is_test_number
from register.domain.vocabulary import LAB_UNIT
from reports.audits.spec import quarter_before
from reports.demo import names, parameters
from reports.demo.book import Book, Row
from reports.demo.scenario import make_scenario
from reports.demo.theatre_log import STRANGERS
from tests.unit.demo.conftest import TODAY

# Days that may lie ahead: what is planned, due, or printed on a label.
AHEAD = {
    "target_on", "opens_on", "closes_on", "next_try_on", "held_on", "review_on", "expires_on",
    "due_on",
}  # fmt: skip


def test_same_day_and_seed_give_the_same_book(book):
    assert make_scenario(today=TODAY).digest() == book.digest()


def test_another_day_or_seed_gives_another_book(book):
    assert make_scenario(today=TODAY + timedelta(days=1)).digest() != book.digest()
    assert make_scenario(today=TODAY, seed=1).digest() != book.digest()


def test_patients_do_not_disturb_each_other(book):
    """The first patient is the same however many follow."""
    few = make_scenario(today=TODAY, past_patients=10)
    first, same = few.of("patient")[0], book.of("patient")[0]
    assert first["family_name"] == same["family_name"]
    assert first["date_of_birth"].year == same["date_of_birth"].year or first["sex"] == same["sex"]


def test_generator_needs_no_django():
    """It is pure: nothing of Django is imported."""
    code = (
        "import sys; sys.modules['django'] = None; from datetime import date;"
        "from reports.demo.scenario import make_scenario;"
        "print(len(make_scenario(today=date(2027, 3, 7), past_patients=3).of('patient')))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "33"


def test_nhs_numbers_are_of_the_range_that_is_never_issued(book):
    given = [p["nhs_number"] for p in book.of("patient") if p["nhs_number"]]
    assert len(given) > 150
    assert all(is_test_number(number) for number in given)
    assert len(set(given)) == len(given)


def test_hospital_numbers_differ(book):
    given = [p["hospital_number"] for p in book.of("patient")]
    assert len(set(given)) == len(given)


def test_telephone_numbers_are_of_the_ranges_for_drama(book):
    numbers = [phone["number"] for phone in book.of("patientphone")]
    assert all(re.fullmatch(r"01632 960\d{3}|07700 900\d{3}", number) for number in numbers)


def test_postcodes_cannot_exist(book):
    """No post town has a code that begins with X."""
    assert all(p["postcode"].startswith("X") for p in book.of("patient"))


def test_item_numbers_check_and_scans_read_back(book):
    used = book.of("implantuse")
    assert used
    for implant in used:
        assert is_gtin(implant["gtin"])
        read = parse_udi(implant["raw_scan"])
        assert (read.gtin, read.lot, read.serial, read.expires_on) == (
            implant["gtin"],
            implant["lot"],
            implant["serial"],
            implant["expires_on"],
        )
        assert read.warnings == ()
    assert all(is_gtin(item["gtin"]) for item in book.of("stockitem"))
    assert len({i["serial"] for i in used}) == len(used)


def test_example_numbers_check():
    assert is_gtin(names.gtin(1))
    assert is_test_number(names.nhs_number(1))


def test_dates_are_in_order(book):
    for fracture in book.of("fracture"):
        patient, referral = fracture["patient"], fracture["referral"]
        assert patient["date_of_birth"] < referral["referred_on"]
        if fracture["onset_on"]:
            assert patient["date_of_birth"] < fracture["onset_on"] <= referral["referred_on"]
    for level in book.of("treatedlevel"):
        done = level["procedure"]["performed_on"]
        assert level["fracture"]["referral"]["referred_on"] <= done <= TODAY


def test_contacts_follow_what_they_are_about(book):
    for review in book.of("review"):
        held = review.get("held_on")
        assert review["opens_on"] <= review["target_on"] <= review["closes_on"]
        if held and review["timepoint"] != "before":
            assert held > review["anchor_on"]
        if review["procedure"]:
            assert review["anchor_on"] == review["procedure"]["performed_on"]


def test_nothing_happens_after_death(book):
    """Referral, procedure, contact, image and attempt all lie before the day of death."""
    dead = {id(p): p["date_of_death"] for p in book.of("patient") if p.get("date_of_death")}
    assert dead
    for kind, name in (
        ("referral", "referred_on"),
        ("procedure", "performed_on"),
        ("review", "held_on"),
        ("study", "performed_on"),
    ):
        for row in book.of(kind):
            died = dead.get(id(row["patient"]))
            assert not died or not row.get(name) or row[name] < died
    for attempt in book.of("attempt"):
        died = dead.get(id(attempt["review"]["patient"]))
        assert not died or attempt["made_at"].date() <= died


def test_nothing_that_happened_lies_ahead(book):
    for kind, rows in book.rows.items():
        for row in rows:
            for name, day in row.fields.items():
                if name in AHEAD and not (name == "held_on" and kind == "review"):
                    continue
                if isinstance(day, datetime):
                    day = day.date()
                if isinstance(day, date):
                    assert day <= TODAY, f"{kind}.{name}"


def test_a_new_fracture_knows_the_earlier_one(book):
    later = [f for f in book.of("fracture") if f["earlier_fracture"]]
    assert len(later) >= 5
    for fracture in later:
        earlier: Row = fracture["earlier_fracture"]
        assert earlier["patient"] is fracture["patient"]
        assert earlier["level"] != fracture["level"]


def test_laboratory_values_are_in_the_unit_of_the_test(book):
    rows = book.of("laboratoryresult")
    assert all(row["unit"] == LAB_UNIT[row["analyte"]] for row in rows)


def test_filled_and_absent_never_both(book):
    for rows in book.rows.values():
        for row in rows:
            for name in row.get("absent") or {}:
                assert row[name] in (None, "", []), f"{row.kind}.{name}"


def test_every_parameter_says_where_it_comes_from():
    """A published, adapted or second-hand value names its source; only invented ones may not."""
    table = parameters.table()
    assert len(table) > 40
    for name, given in table.items():
        assert given.status in ("published", "adapted", "second-hand", "invented"), name
        assert given.status == "invented" or len(given.source) > 10, name


def test_counts_of_the_demo(book: Book):
    counts = book.counts()
    assert counts["patient"] == 180
    assert 205 <= counts["fracture"] <= 235


def test_the_theatre_log_and_the_register_of_its_quarter_have_gaps_on_both_sides(book):
    lines = book.of("theatrelogentry")
    first, last = quarter_before(TODAY)
    done = [row for row in book.of("procedure") if first <= row["performed_on"] <= last]
    named = [row["procedure"] for row in lines if row.get("procedure")]
    assert 0 < len(named) < len(done)
    assert all(line["performed_on"] == line["procedure"]["performed_on"]
               for line in lines if line.get("procedure"))  # fmt: skip
    assert len(lines) - len(named) >= STRANGERS + 1
    assert len({line["reference"] for line in lines}) == len(lines)
    known = {patient["hospital_number"] for patient in book.of("patient")}
    strangers = [line for line in lines if line["hospital_number"] not in known]
    assert len(strangers) == STRANGERS + 1
    assert all(is_test_number(line["nhs_number"]) for line in strangers)
