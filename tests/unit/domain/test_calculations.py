"""The register of calculations: names, inputs, plain answers, refusals."""

import datetime
from dataclasses import dataclass
from decimal import Decimal

import pytest

from register.domain import calculations
from register.domain.calculations import UnknownCalculation, calculate, calculation, registered


@dataclass(frozen=True)
class Span:
    lower: Decimal
    on: datetime.date
    upper: float | None


@pytest.fixture(autouse=True)
def _empty_register(monkeypatch):
    monkeypatch.setattr(calculations, "_CALCULATIONS", {})


def test_a_dataclass_answers_with_plain_json_values():
    @calculation("span")
    def span(*, lower: float) -> Span:
        return Span(Decimal(str(lower)), datetime.date(2027, 3, 7), None)

    assert calculate("span", {"lower": 1.5}) == {"lower": 1.5, "on": "2027-03-07", "upper": None}


def test_a_bare_value_is_named_and_a_keyword_input_keeps_its_published_name():
    @calculation("doubled", answer="twice")
    def doubled(*, class_: int) -> int:
        return class_ * 2

    assert calculate("doubled", {"class": 4}) == {"twice": 8}


def test_a_bare_value_without_a_name_is_a_mistake_of_the_programmer():
    @calculation("nameless")
    def nameless(*, n: int) -> int:
        return n

    with pytest.raises(TypeError, match="answer="):
        calculate("nameless", {"n": 1})


def test_unknown_names_and_wrong_inputs_are_refused_in_words():
    @calculation("share")
    def share(*, events: int, total: int, confidence: float = 0.95) -> dict[str, float]:
        return {"share": events / total}

    with pytest.raises(
        UnknownCalculation, match=r"No calculation is called 'shares'. Known: share\."
    ):
        calculate("shares", {})
    with pytest.raises(ValueError, match="share also needs total"):
        calculate("share", {"events": 1})
    with pytest.raises(ValueError, match="share does not use trials; it takes events, total"):
        calculate("share", {"events": 1, "total": 2, "trials": 3})


def test_one_name_belongs_to_one_function():
    @calculation("taken")
    def first(*, n: int) -> dict[str, int]:
        return {"n": n}

    def second(*, n: int) -> dict[str, int]:
        return {"n": n}

    with pytest.raises(ValueError, match=r"registered already by .*first"):
        calculation("taken")(second)
    assert registered() == ("taken",)
