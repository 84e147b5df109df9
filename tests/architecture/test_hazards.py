"""Every hazard has a control, every control a test, and every named test exists."""

import ast
import tomllib
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
HAZARDS = tomllib.loads((ROOT / "register/safety/hazards.toml").read_text("utf-8"))["hazard"]
KEYS = {"id", "title", "harm", "cause", "control", "locally"}
NAMED = sorted({test for h in HAZARDS for c in h["control"] for test in c["tests"]})

# What the log must speak about, whatever else it holds.
MUST_NAME = {
    "Wrong level",
    "Stale assessment",
    "Missing read as no",
    "Tumour or infection behind the fracture",
    "Cord compression or deficit waits in a queue",
    "Wrong patient",
    "Lost edit",
    "Implant misread",
    "Leak or complication unreported",
    "Number changed silently",
    "Audit claims too much",
    "Somebody who died is called or planned",
}


@cache
def functions_of(path: str) -> frozenset[str]:
    """The names of all test functions of a file, also those in classes."""
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    functions = (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef))
    return frozenset(node.name for node in functions if node.name.startswith("test_"))


def exists(named: str) -> bool:
    path, _, function = named.partition("::")
    return (ROOT / path).is_file() and function in functions_of(path)


@pytest.mark.parametrize("hazard", HAZARDS, ids=lambda h: h["id"])
def test_a_hazard_says_harm_cause_and_what_is_done(hazard):
    assert set(hazard) <= KEYS
    assert hazard["title"]
    assert hazard["harm"].endswith(".")
    assert hazard["cause"].endswith(".")
    assert hazard["control"]
    for control in hazard["control"]:
        assert set(control) == {"does", "tests"}
        assert control["does"].endswith(".")
        assert control["tests"], f"{hazard['id']}: a control without a test is a hope"


@pytest.mark.parametrize("named", NAMED)
def test_a_named_test_exists(named):
    assert exists(named), f"{named} is named in the hazard log and does not exist"


def test_a_renamed_test_is_noticed():
    assert not exists("tests/architecture/test_hazards.py::test_that_was_renamed")
    assert not exists("tests/web/test_that_was_moved.py::test_anything")


def test_every_hazard_is_numbered_once_and_none_is_forgotten():
    ids = [hazard["id"] for hazard in HAZARDS]
    assert ids == [f"H{number:02d}" for number in range(1, len(ids) + 1)]
    assert {hazard["title"] for hazard in HAZARDS} >= MUST_NAME
