"""Imports point one way, and the pure packages need nothing but Python."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
PURE = ("register.domain", "planning.rules", "reports.stats")

IMPORT_EVERYTHING_PURE = f"""
import importlib, pkgutil, sys
for name in ("django", "psycopg", "allauth"):
    sys.modules[name] = None
for package in {PURE!r}:
    found = importlib.import_module(package)
    for module in pkgutil.walk_packages(found.__path__, package + "."):
        importlib.import_module(module.name)
        print(module.name)
"""


def run(*command):
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)


def test_pure_packages_work_where_django_is_not_installed():
    done = run(sys.executable, "-c", IMPORT_EVERYTHING_PURE)
    assert done.returncode == 0, done.stderr
    for module in ("register.domain.clock", "planning.rules.rulesets", "reports.stats"):
        assert module in done.stdout


def test_imports_point_one_way():
    done = run(str(Path(sys.executable).with_name("lint-imports")), "--no-cache")
    assert done.returncode == 0, done.stdout + done.stderr
