import pytest

from planning.drills import transfers as drill

pytestmark = pytest.mark.django_db


def test_random_records_are_merged_moved_and_given_back_exactly():
    told: list[str] = []
    assert drill.run(runs=3, seed=1, say=told.append), told
