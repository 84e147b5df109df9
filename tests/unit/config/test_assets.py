"""On a live site each file has a digest in its name; modules must still find each other."""

import re
from pathlib import Path

from django.core.files.storage import FileSystemStorage

from register.config.assets import CollectedFiles

STATIC = Path(__file__).parents[3] / "register/static"
MODULES = sorted((STATIC / "register/js/measure").glob("*.js"))
IMPORT = re.compile(r'^(?:import|export) .*?from "([^"]+)";$', re.MULTILINE | re.DOTALL)

LIST = Path(__file__).parents[3] / "templates/register/images/modules.html"


def test_the_page_asks_for_every_module_at_once():
    asked = re.findall(r"static 'register/js/measure/([a-z_]+\.js)'", LIST.read_text())
    assert asked == [path.name for path in MODULES]


def test_collected_modules_import_collected_modules(tmp_path):
    storage = CollectedFiles(location=tmp_path, base_url="/static/")
    source = FileSystemStorage(location=STATIC)
    names = [str(path.relative_to(STATIC)) for path in MODULES]
    for name in names:
        with source.open(name) as file:
            storage.save(name, file)
    done = list(storage.post_process({name: (source, name) for name in names}))
    assert not [found for _, _, found in done if isinstance(found, Exception)]

    reached, waiting = set(), [storage.stored_name("register/js/measure/main.js")]
    while waiting:
        name = waiting.pop()
        reached.add(name)
        for target in IMPORT.findall((tmp_path / name).read_text()):
            there = str(Path(name).parent / target)
            assert re.search(r"\.[0-9a-f]{12}\.js$", there), f"{name} imports {target}"
            assert (tmp_path / there).is_file(), f"{name} imports {target}"
            waiting += [there] if there not in reached else []
    assert len(reached) == len(names), "every module is used by the page"
