"""The protocol: strict reading of the files, and a full copy that travels as JSON."""

import json
from datetime import date
from decimal import Decimal

import pytest

from register.domain.protocol import ProtocolError, ProtocolValues, Source, SourceKind, shipped
from register.domain.protocol.loader import read_parameters, read_sources

DAY = date(2026, 11, 25)
SOURCE = """
[guide]
citation = "A guide of 2020"
kind = "published"
page = "page 4"
checked_on = 2026-11-25
"""
PARAMETER = """
[[parameter]]
id = "clock.days"
description = "A number of days"
unit = "days"
reviewed_on = 2026-11-25
values = [
  { from = 2020-01-01, value = 90, source = "guide" },
  { from = 2024-01-01, value = 42, source = "guide", note = "shorter" },
]
"""
TIMEPOINT = """
[[timepoint]]
code = "month"
title = "one month"
target_days = 30
opens_days = 20
closes_days = 40
asked = true
instruments = ["pain_now"]
source = "guide"
"""


@pytest.fixture
def load(tmp_path):
    def read(parameters=PARAMETER, sources=SOURCE):
        (tmp_path / "sources.toml").write_text(sources)
        (tmp_path / "clock.toml").write_text(parameters)
        return read_parameters([tmp_path / "clock.toml"], read_sources(tmp_path / "sources.toml"))

    return read


def test_the_value_in_force_is_the_latest_that_has_begun(load):
    parameter = load()[0]["clock.days"]
    assert parameter.at(date(2023, 12, 31)).value == 90
    assert parameter.at(date(2024, 1, 1)).value == 42
    assert parameter.at(date(2024, 1, 1)).note == "shorter"
    with pytest.raises(ProtocolError, match=r"clock.days has no value on 31 Dec 2019"):
        parameter.at(date(2019, 12, 31))


def test_decimal_numbers_stay_as_written(load):
    text = PARAMETER.replace('unit = "days"', 'unit = "ratio"').replace("value = 42", "value = 1.1")
    assert load(text)[0]["clock.days"].at(DAY).value == Decimal("1.1")


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('unit = "days"', 'unit = "weeks"', "clock.toml, clock.days: unit 'weeks' is not known"),
        ('unit = "days"', 'unit = "days"\ncolour = "red"', "colour is not a known key"),
        ('description = "A number of days"', "", "description is missing"),
        ('description = "A number of days"', "description = 4", "description must be a text"),
        ("value = 42", 'value = "many"', "'many' is not a number in days"),
        ("value = 42", "value = true", "True is not a number in days"),
        ("value = 42", "value = nan", "is not a number in days"),
        ("value = 42", 'value = 42, unit = "mm"', "unit is not a known key"),
        ("value = 42", "to_enter = true, value = 42", "give either a value or to_enter = true"),
        ("value = 42, ", "", "give either a value or to_enter = true"),
        ("value = 42", "to_enter = false", "give either a value or to_enter = true"),
        ('value = 42, source = "guide"', "value = 42", "clock.days, values: source is missing"),
        ('value = 42, source = "guide"', 'value = 42, source = "x"', "source 'x' is not in"),
        ("from = 2024-01-01", "from = 2019-01-01", "each from a later day"),
        ("from = 2024-01-01", 'from = "soon"', "from 'soon' is not a day"),
        ("reviewed_on = 2026-11-25", "reviewed_on = 2026", "reviewed_on 2026 is not a day"),
        ("[[parameter]]", "[[parameter]]\n[[parameter]]", "clock.toml, a parameter without id"),
        ("[[parameter]]", "[[parametre]]", "clock.toml: parametre is not a known key"),
        ("[[parameter]]", "[[parameter]", "clock.toml: "),
    ],
)
def test_a_wrong_parameter_is_refused_with_file_and_key(load, old, new, says):
    assert old in PARAMETER
    with pytest.raises(ProtocolError, match=r"clock\.toml") as refused:
        load(PARAMETER.replace(old, new))
    assert says in str(refused.value)


def test_a_parameter_or_contact_given_twice_is_refused(load):
    with pytest.raises(ProtocolError, match=r"clock\.toml, clock\.days: given twice"):
        load(PARAMETER + PARAMETER)
    with pytest.raises(ProtocolError, match=r"clock\.toml, month: given twice"):
        load(TIMEPOINT + TIMEPOINT)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('kind = "published"', 'kind = "rumour"', "kind 'rumour' is not known"),
        ('page = "page 4"', "", "give doi or page"),
        ("checked_on = 2026-11-25", "", "checked_on is missing"),
        ('page = "page 4"', 'page = "page 4"\nurl = "x"', "url is not a known key"),
        ('citation = "A guide of 2020"', 'citation = " "', "citation must be a text"),
    ],
)
def test_a_wrong_source_is_refused_with_its_key(load, old, new, says):
    with pytest.raises(ProtocolError, match=r"sources\.toml, guide") as refused:
        load(sources=SOURCE.replace(old, new))
    assert says in str(refused.value)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("target_days = 30", "target_days = 41", "must lie in the window"),
        ('instruments = ["pain_now"]', 'instruments = ["mood"]', "unknown mood"),
        ('source = "guide"', 'source = "none"', "source 'none' is not in"),
        ("asked = true", "", "asked is missing"),
    ],
)
def test_a_wrong_contact_is_refused(load, old, new, says):
    with pytest.raises(ProtocolError, match=r"clock\.toml, month") as refused:
        load(TIMEPOINT.replace(old, new))
    assert says in str(refused.value)


def test_the_shipped_protocol_travels_as_json_and_keeps_its_digest():
    values = shipped(DAY)
    copy = ProtocolValues.from_json(json.loads(json.dumps(values.as_json())))
    assert copy == values
    assert copy.digest() == values.digest()
    assert copy.value("clock.window_days") == 42


def test_a_departments_own_value_changes_the_digest_and_shows_its_source():
    own = Source("ours", "Local protocol 7", SourceKind.COMMON_PRACTICE, DAY)
    values = shipped(DAY)
    changed = values.with_value("clock.window_days", Decimal(28), source=own, since=DAY)
    assert changed.days("clock.window_days") == 28
    assert changed.digest() != values.digest()
    assert changed.entry("clock.window_days").source.words == (
        "Local protocol 7 (common practice, no source: confirm locally)"
    )
    assert values.days("clock.window_days") == 42


def test_the_digest_covers_the_value_alone_and_the_source_alone():
    values = shipped(DAY)
    entry = values.entry("clock.window_days")
    other = values.entry("pain.severe_from").source
    digests = {
        values.with_value(entry.id, number, source=source, since=DAY).digest()
        for number in (Decimal(42), Decimal(28))
        for source in (entry.source, other)
    }
    assert len(digests) == 4


def test_the_digest_does_not_depend_on_the_day_or_on_wording():
    assert shipped(DAY).digest() == shipped(date(2027, 3, 7)).digest()


def test_a_value_left_to_the_department_is_empty_until_it_is_entered():
    values, id = shipped(DAY), "approach.balance_mm"
    copy = ProtocolValues.from_json(json.loads(json.dumps(values.as_json())))
    for empty in (values, copy):
        assert empty.number_if_entered(id) is None
        assert empty.entry(id).words == "not entered yet"
        with pytest.raises(ProtocolError, match="has not entered"):
            empty.number(id)
    own = Source("ours", "Local protocol 7", SourceKind.COMMON_PRACTICE, DAY)
    entered = values.with_value(id, Decimal("2.5"), source=own, since=DAY)
    assert entered.number_if_entered(id) == Decimal("2.5")
    assert entered.digest() != values.digest()
    assert values.number_if_entered("approach.of_a_later_version") is None


def test_asking_for_what_is_not_there_says_so():
    with pytest.raises(ProtocolError, match=r"has no value 'clock\.widow_days'"):
        shipped(DAY).value("clock.widow_days")
    with pytest.raises(ProtocolError, match="is a code, not a number"):
        shipped(DAY).number("rules.set")
    with pytest.raises(ProtocolError, match="not a whole number of days"):
        shipped(DAY).days("bleeding.inr_up_to")


def test_only_what_was_read_or_measured_here_needs_no_local_confirmation():
    kinds = {kind: kind.confirm_locally for kind in SourceKind}
    assert kinds == {
        SourceKind.PUBLISHED: False,
        SourceKind.SECOND_HAND: True,
        SourceKind.COMMON_PRACTICE: True,
        SourceKind.MEASURED_HERE: False,
    }
