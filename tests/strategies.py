"""Hypothesis strategies that construct what they need, instead of filtering."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from hypothesis import strategies as st

from planning.rules.facts import FACT_NAMES, CaseFacts, FactKind, fact_info
from planning.rules.lock import plain_case
from register.domain import vocabulary as v

AS_OF = date(2026, 11, 25)


def several(vocabulary):
    """Codes of a list that "none" may only be alone in."""
    codes = [code for code in v.codes(vocabulary) if code != "none"]
    some = st.lists(st.sampled_from(codes), min_size=1, max_size=3, unique=True).map(tuple)
    return st.one_of(st.just(("none",)), some)


def recorded(name):
    """One recorded value of a fact."""
    info = fact_info(name)
    drugs = st.sampled_from(v.codes(v.ANTITHROMBOTIC))
    uses = st.sampled_from(["", *v.codes(v.ANTITHROMBOTIC_INDICATION)])
    return {
        FactKind.YES_NO: lambda: st.booleans(),
        FactKind.CODE: lambda: st.sampled_from(v.codes(info.vocabulary)),
        FactKind.CODES: lambda: several(info.vocabulary),
        FactKind.DRUGS: lambda: st.lists(st.tuples(drugs, uses), max_size=3).map(tuple),
        FactKind.DAY: lambda: st.integers(0, 400).map(lambda days: AS_OF - timedelta(days=days)),
        FactKind.WHOLE: lambda: st.integers(int(info.low), int(info.high)),
        FactKind.NUMBER: lambda: st.integers(0, int((info.high - info.low) / info.step)).map(
            lambda steps: info.low + steps * info.step
        ),
    }[info.kind]()


def case_facts():
    """A case in which every fact may be recorded or not."""
    facts = {name: st.one_of(st.none(), recorded(name)) for name in FACT_NAMES}
    return st.builds(CaseFacts, as_of=st.just(AS_OF), dates=st.just({}), **facts)


def complete_facts():
    """A case in which every fact is recorded."""
    facts = {name: recorded(name) for name in FACT_NAMES}
    return st.builds(CaseFacts, as_of=st.just(AS_OF), dates=st.just({}), **facts)


@st.composite
def nearly_plain_cases(draw):
    """A case that mostly speaks for a procedure: up to five facts are something else, or unknown.

    Cases drawn at random end almost all in an urgent referral; these do not.
    """
    names = draw(st.lists(st.sampled_from(FACT_NAMES), max_size=5, unique=True))
    changes = {name: draw(st.one_of(st.none(), recorded(name))) for name in names}
    return replace(plain_case(AS_OF), **changes)


def heights_mm():
    """A measured height of a vertebral body, to a tenth of a millimetre."""
    return st.integers(10, 600).map(lambda tenths: Decimal(tenths) / 10)
