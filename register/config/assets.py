"""Static files: single files of installed packages, and the names that a live site gives."""

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import font_source_sans_pro
import plotly
from django.contrib.staticfiles.finders import BaseFinder
from django.contrib.staticfiles.utils import matches_patterns
from django.core.files.storage import FileSystemStorage
from whitenoise.storage import CompressedManifestStaticFilesStorage

FONTS = Path(font_source_sans_pro.__file__).parent / "files"
STYLES = ("Regular", "It", "Semibold", "SemiboldIt", "Bold", "BoldIt")

# Address under STATIC_URL -> the installed file. htmx comes with django_htmx itself.
FILES: dict[str, Path] = {
    "vendor/plotly.min.js": Path(plotly.__file__).parent / "package_data" / "plotly.min.js",
    **{f"fonts/SourceSansPro-{s}.ttf": FONTS / f"SourceSansPro-{s}.ttf" for s in STYLES},
}


class InstalledFiles(BaseFinder):
    """A static-files finder for the table above."""

    def check(self, **kwargs: Any) -> list[Any]:
        return []

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Any:
        """Return the file on disk, or an empty list, as Django expects of a finder."""
        file = FILES.get(path)
        if file is None:
            return []
        return [str(file)] if find_all else str(file)

    def list(
        self, ignore_patterns: Iterable[str] | None
    ) -> Iterator[tuple[str, FileSystemStorage]]:
        """Yield each file's name and the storage that holds it, for collectstatic."""
        for address, file in FILES.items():
            if matches_patterns(address, list(ignore_patterns or [])):
                continue
            storage = FileSystemStorage(location=file.parent)
            # collectstatic puts the file under this folder.
            storage.prefix = str(Path(address).parent)  # type: ignore[attr-defined]
            yield file.name, storage


class CollectedFiles(CompressedManifestStaticFilesStorage):
    """The files of a live site: a digest in each name, also where our modules import each other.

    Only there: Django's own switch would look for imports in every installed script.
    """

    patterns = (
        *CompressedManifestStaticFilesStorage.patterns,
        (
            "register/js/measure/*.js",
            ((r"""(?P<matched>from "(?P<url>\./[a-z_]+\.js)")""", 'from "%(url)s"'),),
        ),
    )
    # A digest is settled once those of what is imported are; our modules go several deep.
    max_post_process_passes = 20
