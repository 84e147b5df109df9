"""The stored bytes: whole or not there, and never shown once they have changed."""

import hashlib
import os
import time

import pytest

from register.images import store as module
from register.images.refusals import ImageRefused
from register.images.store import Store
from tests.hostile_images import PLAIN, plain, saved

GOOD = saved(plain())


@pytest.fixture
def store(tmp_path):
    return Store(tmp_path / "images")


def original(store, digest):
    return store.folder / "originals" / digest[:2] / digest


def test_a_file_is_kept_once_and_privately(store):
    digest = store.keep(GOOD)
    before = original(store, digest).stat()
    assert store.keep(GOOD) == digest
    after = original(store, digest).stat()
    assert (after.st_ino, after.st_mtime_ns) == (before.st_ino, before.st_mtime_ns)
    assert after.st_mode & 0o777 == 0o600
    assert original(store, digest).parent.stat().st_mode & 0o777 == 0o700
    assert store.read(digest) == GOOD


def test_a_write_that_fails_leaves_nothing(store, monkeypatch):
    monkeypatch.setattr(os, "replace", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        store.keep(GOOD)
    assert not [one for one in store.folder.rglob("*") if one.is_file()]


def test_a_changed_or_missing_file_is_not_shown(store):
    digest = store.keep(GOOD)
    place = original(store, digest)
    store.pixels(digest)
    before = place.stat()
    time.sleep(0.02)  # the file system's clock moves in steps
    place.write_bytes(GOOD[:-1] + b"\1")
    os.utime(place, ns=(before.st_atime_ns, before.st_mtime_ns))
    for ask in (store.read, store.pixels):
        with pytest.raises(ImageRefused, match="no longer the one that was sent"):
            ask(digest)
    place.unlink()
    for ask in (store.read, store.pixels):
        with pytest.raises(ImageRefused, match="not where it was put"):
            ask(digest)


class AtOnce:
    """A thread that has done its work when it is started."""

    def __init__(self, target, args):
        self.start = lambda: target(*args)


def test_a_changed_file_is_whole_again_when_it_is_sent_again(store):
    digest = store.keep(GOOD)
    original(store, digest).write_bytes(b"")
    with pytest.raises(ImageRefused, match="no longer"):
        store.read(digest)
    with store.several() as keep:
        assert keep(GOOD) == digest
        assert keep(b"other") != digest
    assert store.read(digest) == GOOD


def test_bytes_that_were_found_right_are_not_hashed_again_until_somebody_writes(store, monkeypatch):
    digest = Store(store.folder).keep(GOOD)
    looked = []
    hashed = hashlib.file_digest
    monkeypatch.setattr(hashlib, "file_digest", lambda *a: looked.append(a) or hashed(*a))
    for _ in range(3):
        store.pixels(digest)
    assert len(looked) == 1
    os.chmod(original(store, digest), 0o400)
    store.pixels(digest)
    assert len(looked) == 2


def test_only_what_took_long_is_kept_decoded(store, monkeypatch):
    monkeypatch.setattr(module, "Thread", AtOnce)
    digest = store.keep(GOOD)
    found = store.pixels(digest)
    assert found.values == PLAIN.tobytes()
    assert store.forget_decoded() == 0
    monkeypatch.setattr(module, "_WORTH_KEEPING_S", 0)
    assert store.pixels(digest) == found
    monkeypatch.setattr(module, "pixels", lambda *_: pytest.fail("decoded again"))
    assert store.pixels(digest) == found
    assert store.forget_decoded() == 1


def test_a_broken_decoded_picture_is_decoded_again(store, monkeypatch):
    monkeypatch.setattr(module, "Thread", AtOnce)
    monkeypatch.setattr(module, "_WORTH_KEEPING_S", 0)
    digest = store.keep(GOOD)
    found = store.pixels(digest)
    (kept,) = (store.folder / "decoded").rglob("*.gz")
    kept.write_bytes(kept.read_bytes()[:-9])
    assert store.pixels(digest) == found


def test_a_name_that_is_no_digest_leads_nowhere(store):
    for name in ("../../etc/passwd", "", "A" * 64, "0" * 63):
        with pytest.raises(ValueError, match="SHA-256"):
            store.read(name)
