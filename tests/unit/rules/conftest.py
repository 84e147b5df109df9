"""What the tests of rules share: the shipped values, and a way to judge a changed plain case."""

from dataclasses import replace
from datetime import date

import pytest

from planning.rules.core import REGISTRY, evaluate
from planning.rules.lock import plain_case
from planning.rules.rulesets import RULESETS
from register.domain.protocol import shipped

DAY = date(2026, 11, 25)


@pytest.fixture(scope="session")
def values():
    return shipped(DAY)


@pytest.fixture
def judge(values):
    """`judge("BLEEDING-01", inr=Decimal("1.6"))` judges the plain case with that change."""
    newest = {rule.id: rule for rule in sorted(REGISTRY.values(), key=lambda r: r.version)}

    def _judge(id, **changes):
        return evaluate(newest[id], replace(plain_case(DAY), **changes), values)

    return _judge


@pytest.fixture(params=RULESETS, ids=lambda ruleset: ruleset.id)
def ruleset(request):
    return request.param
