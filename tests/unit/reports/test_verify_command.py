"""The verify command: its last line, its exit status and what it says about a failure."""

import io
import json

import pytest
from django.core.management import call_command

GOOD = {
    "id": "wilson-0-20",
    "calculation": "wilson_interval",
    "inputs": {"events": 0, "total": 20},
    "expected": {"lower": 0, "upper": 0.1611},
    "tolerance": 5e-05,
    "source": "Newcombe RG. Stat Med 1998;17:857-872",
    "status": "published",
}


def verify(*paths):
    """Run the command; return its exit status and its lines."""
    out = io.StringIO()
    try:
        call_command("verify", *map(str, paths), stdout=out)
    except SystemExit as end:
        return end.code, out.getvalue().splitlines()
    return 0, out.getvalue().splitlines()


@pytest.fixture
def pack(tmp_path):
    def write(*cases, name="own.json"):
        path = tmp_path / name
        path.write_text(json.dumps(cases))
        return path

    return write


def test_without_a_file_it_runs_the_packs_that_come_with_the_register():
    status, lines = verify()
    assert status == 0
    passed = lines[-1].removesuffix(" passed, 0 failed")
    assert int(passed) >= 30


def test_a_failure_says_inputs_expected_got_and_source(pack):
    bad = GOOD | {"id": "wrong", "expected": {"upper": 0.2}}
    status, lines = verify(pack(GOOD, bad))
    assert status == 1
    assert lines[-1] == "1 passed, 1 failed"
    text = "\n".join(lines)
    assert "own.json: wrong (wilson_interval)" in text
    assert "upper: expected 0.2 within 5e-05, got 0.161125" in text
    assert 'inputs    {"events": 0, "total": 20}' in text
    assert 'expected  {"upper": 0.2}' in text
    assert 'got       {"lower": 0.0, "upper": 0.161125' in text
    assert "source    Newcombe RG. Stat Med 1998;17:857-872 [published]" in text


def test_an_unknown_calculation_is_a_failure_and_not_a_skip(pack):
    status, lines = verify(pack(GOOD | {"calculation": "magic"}))
    assert (status, lines[-1]) == (1, "0 passed, 1 failed")


def test_a_malformed_file_fails_and_the_others_still_run(pack, tmp_path):
    broken = tmp_path / "broken.json"
    broken.write_text('[{"id": "a"}]')
    status, lines = verify(broken, pack(GOOD))
    assert (status, lines[-1]) == (1, "1 passed, 1 failed")
    assert "broken.json: case 1 (a) lacks calculation" in lines[0]
