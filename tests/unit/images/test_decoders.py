"""The self-test says which ways of storing pictures can be read here."""

import logging

from register.images import decoders
from register.images.decoders import Decoder, check_decoders, decoders_in_words
from register.images.refusals import ImageRefused


class AtOnce:
    """A thread that has done its work when it is started."""

    def __init__(self, target, daemon):
        self.start = target


def test_every_way_is_tried_and_works():
    found = decoders.decoders()
    assert len(found) == 11
    assert [one.name for one in found if not one.works] == []
    assert check_decoders() == []
    assert decoders_in_words() == "Pictures: 11 of 11 ways of storing them are read."


def test_a_server_says_at_its_start_what_it_cannot_read(monkeypatch, caplog):
    caplog.set_level(logging.INFO)
    monkeypatch.setattr(decoders, "Thread", AtOnce)
    decoders.tell_meanwhile()
    assert [one.levelname for one in caplog.records] == ["INFO"]
    monkeypatch.setattr(decoders, "decoders", lambda: (Decoder("1.2.3", "run lengths", False),))
    decoders.tell_meanwhile()
    assert caplog.records[-1].levelname == "WARNING"
    assert "not run lengths" in caplog.records[-1].getMessage()


def test_without_a_reading_process_the_reason_is_told(monkeypatch):
    def refuse():
        raise ImageRefused("reader")

    monkeypatch.setattr(decoders, "decoders", refuse)
    assert "cannot be read on this computer" in decoders_in_words()
    assert [one.id for one in check_decoders()] == ["images.W001"]


def test_one_that_fails_is_named(monkeypatch):
    broken = (Decoder("1.2.3", "run lengths", False), Decoder("1.2.4", "plain", True))
    monkeypatch.setattr(decoders, "decoders", lambda: broken)
    assert decoders_in_words() == (
        "Pictures: 1 of 2 ways of storing them are read; not run lengths."
    )
    (warning,) = check_decoders()
    assert (warning.id, "run lengths" in warning.msg) == ("images.W002", True)
