"""Two studies that count the levels differently, until a person says how they agree."""

from itertools import permutations

from register.domain.numbering import Numbering, disagreements


def test_only_what_both_say_can_differ():
    plain = Numbering(1, "no", 12)
    assert plain.differs_from(Numbering(2, "lumbarised", 12))
    assert plain.differs_from(Numbering(2, "no", 13))
    assert not plain.differs_from(Numbering(2, "", None))
    assert not plain.differs_from(Numbering(2, "no", None))


def test_a_pair_stays_until_one_of_the_two_carries_an_explanation():
    one, two = Numbering(1, "no"), Numbering(2, "sacralised")
    assert disagreements([one, two]) == [(1, 2)]
    assert disagreements([one, Numbering(2, "sacralised", agreed=True)]) == []
    assert disagreements([Numbering(1, "no", agreed=True), two]) == []


def test_the_order_of_the_studies_changes_no_pair():
    studies = [Numbering(1, "no", 12), Numbering(2, "no", 13), Numbering(3, "lumbarised", 12)]
    pairs = {
        frozenset(map(frozenset, disagreements(list(order)))) for order in permutations(studies)
    }
    assert pairs == {frozenset({frozenset({1, 2}), frozenset({1, 3}), frozenset({2, 3})})}
