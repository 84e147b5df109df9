"""The self-test says which ways of storing pictures can be read here."""

from register.images import decoders
from register.images.decoders import Decoder, check_decoders, decoders_in_words


def test_every_way_is_tried_and_works():
    found = decoders.decoders()
    assert len(found) == 11
    assert [one.name for one in found if not one.works] == []
    assert check_decoders() == []
    assert decoders_in_words() == "Pictures: 11 of 11 ways of storing them are read."


def test_one_that_fails_is_named(monkeypatch):
    broken = (Decoder("1.2.3", "run lengths", False), Decoder("1.2.4", "plain", True))
    monkeypatch.setattr(decoders, "decoders", lambda: broken)
    assert decoders_in_words() == (
        "Pictures: 1 of 2 ways of storing them are read; not run lengths."
    )
    (warning,) = check_decoders()
    assert (warning.id, "run lengths" in warning.msg) == ("images.W002", True)
