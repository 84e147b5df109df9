"""The runner of check values: it passes what agrees and fails everything else."""

import json
from pathlib import Path

import pytest

from reports.verification import PackError, load_calculations, read_pack, run

PACKS = sorted((Path(__file__).parents[3] / "fixtures" / "check_values").glob("*.json"))
WILSON = {
    "id": "wilson-81-263",
    "calculation": "wilson_interval",
    "inputs": {"events": 81, "total": 263, "confidence": 0.95},
    "expected": {"lower": 0.2553, "upper": 0.3662},
    "tolerance": 5e-05,
    "source": "Newcombe RG. Stat Med 1998;17:857-872",
    "status": "published",
}


@pytest.fixture(scope="module", autouse=True)
def _calculations():
    load_calculations()


@pytest.fixture
def pack(tmp_path):
    def write(*changes, text=None):
        path = tmp_path / "pack.json"
        rows = [WILSON | {"id": f"case-{n}"} | change for n, change in enumerate(changes)]
        path.write_text(json.dumps(rows) if text is None else text)
        return path

    return write


def problems(path):
    (outcome,) = run(read_pack(path))
    return list(outcome.problems)


@pytest.mark.parametrize("path", PACKS, ids=lambda path: path.stem)
def test_every_case_of_the_packs_that_come_with_the_register_passes(path):
    failures = {o.case.id: o.problems for o in run(read_pack(path)) if not o.passed}
    assert failures == {}


def test_there_are_packs():
    assert sum(len(read_pack(path)) for path in PACKS) >= 20


def test_extra_keys_of_the_answer_are_allowed(pack):
    assert problems(pack({"expected": {"lower": 0.2553}})) == []


def test_a_wrong_expected_value_fails_with_its_place(pack):
    (problem,) = problems(pack({"expected": {"lower": 0.2554, "upper": 0.3662}}))
    assert problem.startswith("lower: expected 0.2554 within 5e-05, got 0.25528")


def test_a_key_that_the_answer_lacks_fails(pack):
    assert problems(pack({"expected": {"middle": 0.3}})) == ["middle: missing from the answer"]


def test_null_means_not_defined_and_is_not_nought(pack):
    one_value = {"calculation": "mean_t_interval", "inputs": {"values": [4]}}
    assert problems(pack(one_value | {"expected": {"mean": 4, "lower": None}})) == []
    assert problems(pack(one_value | {"expected": {"lower": 0}})) == [
        "lower: expected 0 within 5e-05, got null"
    ]
    assert problems(pack({"expected": {"lower": None}}))[0].startswith("lower: expected null")


def test_true_is_not_one(pack):
    tipping = {"calculation": "tipping_point", "tolerance": 0}
    inputs = {"treated": 2, "followed": 1, "responders": 0, "standard": 0.5}
    assert problems(pack(tipping | {"inputs": inputs, "expected": {"needed": 1}})) == []
    assert problems(pack(tipping | {"inputs": inputs, "expected": {"needed": True}}))


def test_an_unknown_calculation_fails(pack):
    (problem,) = problems(pack({"calculation": "wilson"}))
    assert "No calculation is called 'wilson'" in problem


def test_wrong_inputs_must_be_refused_and_an_accepted_one_fails(pack):
    refused = {"inputs": {"events": 5, "total": 3}, "expected": {"error": True}}
    assert problems(pack(refused)) == []
    assert problems(pack({"expected": {"error": True}})) == [
        "was accepted, but must be refused with a clear message"
    ]


def test_a_refusal_where_an_answer_is_expected_fails_with_the_message(pack):
    (problem,) = problems(pack({"inputs": {"events": 5, "total": 3}}))
    assert problem.startswith("was refused: A proportion needs whole counts")


def test_a_crash_is_a_failure_even_where_a_refusal_is_expected(pack):
    crash = {"calculation": "completeness_index", "inputs": {"rows": 3}}
    (problem,) = problems(pack(crash | {"expected": {"error": True}}))
    assert problem.startswith("stopped with TypeError")


def test_lists_are_compared_item_by_item(pack, monkeypatch):
    from register.domain import calculations

    monkeypatch.setattr(calculations, "_CALCULATIONS", {})

    @calculations.calculation("steps", answer="steps")
    def steps(*, n: int) -> list[dict[str, int]]:
        return [{"at": place} for place in range(n)]

    case = {"calculation": "steps", "inputs": {"n": 2}, "tolerance": 0.1}
    good = case | {"expected": {"steps": [{"at": 0.05}, {"at": 1}]}}
    assert problems(pack(good)) == []
    assert problems(pack(case | {"expected": {"steps": [{"at": 0}, {"at": 3}]}})) == [
        "steps[1].at: expected 3 within 0.1, got 1"
    ]
    assert problems(pack(case | {"expected": {"steps": [{"at": 0}]}})) == [
        "steps: expected 1 items, got 2"
    ]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", r"pack\.json: is not JSON as expected .*correct it"),
        ("[]", r"holds no list of cases; put them between"),
        ('{"id": "x"}', r"holds no list of cases"),
        ("[3]", r"case 1 is not an object"),
        ('[{"id": "a", "id": "b"}]', r"id stands twice in one object"),
        ('[{"id": NaN}]', r"NaN is not a number; write null"),
        ('[{"id": "a"}]', r"case 1 \(a\) lacks calculation, expected, inputs, source"),
        ("[" * 100_000, r"is not JSON as expected"),
    ],
)
def test_a_malformed_file_says_what_to_do(pack, text, message):
    with pytest.raises(PackError, match=message):
        read_pack(pack(text=text))


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"source": " "}, r"case 2 \(case-1\): source must be a text that is not empty"),
        ({"inputs": [1]}, r"inputs must be an object of names and values"),
        ({"expected": {}}, r"expected is empty and would prove nothing"),
        ({"tolerance": -1}, r"tolerance must be a number from 0 upwards"),
        ({"tolerance": True}, r"tolerance must be a number from 0 upwards"),
        ({"comment": "x"}, r"has comment, which has no meaning; remove it"),
        ({"id": "case-0"}, r"case 2 repeats the id case-0; give it its own"),
    ],
)
def test_a_malformed_case_is_named(pack, change, message):
    with pytest.raises(PackError, match=message):
        read_pack(pack({}, change))


def test_an_endless_tolerance_would_prove_nothing(pack):
    text = json.dumps([WILSON]).replace("5e-05", "1e999")
    with pytest.raises(PackError, match=r"tolerance must be a number"):
        read_pack(pack(text=text))


def test_a_file_that_is_not_there_is_named(tmp_path):
    with pytest.raises(PackError, match=r"nowhere\.json: cannot be read .*check the name"):
        read_pack(tmp_path / "nowhere.json")
