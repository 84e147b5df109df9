"""What hostile files cost the server, small; `manage.py drill images` runs them all."""

from register.drills import images
from register.images.limits import MOST_BYTES
from register.images.store import Store
from tests import hostile_images
from tests.hostile_images import Hostile


def test_the_server_grows_by_less_than_its_bound(monkeypatch):
    def write(folder):
        for number, one in enumerate((*hostile_images.HOSTILE, *hostile_images.LARGE)):
            (folder / str(number)).write_bytes(one.make())

    few = [one for one in hostile_images.HOSTILE if one.asks == "index"][:8]
    large = (
        Hostile("one byte too large", lambda: b"\x89PNG" + b"\0" * MOST_BYTES, "large"),
        Hostile("plain", lambda: hostile_images.changed(), "read"),
    )
    monkeypatch.setattr(hostile_images, "HOSTILE", tuple(few))
    monkeypatch.setattr(hostile_images, "LARGE", large)
    monkeypatch.setattr(images, "write_all", write)
    told: list[str] = []
    assert images.run(runs=12, seed=1, say=told.append), told
    assert told[-1].startswith("22 files, otherwise than expected 0")
    assert told[-2].startswith("12 damaged copies of real files")
    monkeypatch.setattr(images, "MOST_GROWTH_MB", 50)  # less than the large one takes
    assert not images.run(runs=1, seed=1, say=told.append)


def test_another_outcome_is_told(tmp_path):
    (tmp_path / "pdf").write_bytes(b"%PDF-1.7")
    found = images.outcome_of(tmp_path / "pdf", Store(tmp_path))
    assert found.codes == "pdf"
