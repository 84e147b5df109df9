"""Images of a study: its series and their frames, and whose they are."""

from collections.abc import Sequence

from django.contrib.postgres.aggregates import ArrayAgg
from django.db.models import Count, Prefetch, Q, QuerySet

from register.domain.measuring.calibration import Spacing, uncalibrated
from register.domain.vocabulary import CALIBRATION
from register.images.series import Slice, order_of
from register.models import (
    ImageFrame,
    ImageSeries,
    Marking,
    Measurement,
    Reading,
    Site,
    Study,
    User,
)


def series_of_site(site: Site) -> QuerySet[ImageSeries]:
    """The live series of a site, with study and patient."""
    rows = ImageSeries.objects.live().filter(study__patient__site=site, study__voided_at=None)
    return rows.select_related("study__patient__site", "identity_confirmed_by")


def frames_of_site(site: Site) -> QuerySet[ImageFrame]:
    """The live frames of a site, with file, series, study and patient."""
    rows = ImageFrame.objects.live().filter(
        series__study__patient__site=site, series__voided_at=None, series__study__voided_at=None
    )
    return rows.select_related("file", "series__study__patient__site")


def markings_of_site(site: Site) -> QuerySet[Marking]:
    """The live markings of a site, with reading, frame, study and patient."""
    rows = Marking.objects.live().filter(
        reading__study__patient__site=site,
        reading__voided_at=None,
        reading__study__voided_at=None,
    )
    return rows.select_related(
        "reading__study__patient__site", "reading__observer", "frame__series", "frame__file"
    )


def series_of(study: Study) -> list[ImageSeries]:
    """Return the live series of a study, with `frame_count` and `scale` in words. One query."""
    live = Q(frames__voided_at=None)
    rows = (
        ImageSeries.objects.live()
        .filter(study=study)
        .select_related("identity_confirmed_by", "study__patient")
        .annotate(
            frame_count=Count("frames", filter=live),
            bases=ArrayAgg("frames__basis", distinct=True, filter=live, default=[]),
        )
        .order_by("number", "pk")
    )
    words = dict(CALIBRATION)
    found: list[ImageSeries] = list(rows)
    for series in found:
        series.scale = "; ".join(words[basis] for basis in series.bases if basis)  # type: ignore[attr-defined]
    return found


def frames_of(series: ImageSeries) -> list[ImageFrame]:
    """Return the live frames of a series in their order."""
    return list(ImageFrame.objects.live().filter(series=series).order_by("place", "pk"))


def order_notes(frames: Sequence[ImageFrame]) -> tuple[str, ...]:
    """Return what is odd about the order of a series: gaps, slices at one place, none told."""
    if len(frames) < 2:
        return ()
    return order_of(
        [Slice(tuple(one.position), tuple(one.orientation), one.place) for one in frames]
    ).notes


def spacing_of_frame(frame: ImageFrame) -> Spacing:
    """Return the scale of a frame; without mm its aspect."""
    if frame.row_mm is None or frame.column_mm is None:
        return uncalibrated(frame.aspect)
    return Spacing(frame.row_mm, frame.column_mm, frame.basis)


def settled_series_with_frames(study: Study) -> list[ImageSeries]:
    """Return the series of a study that may be looked at, each with `shown` frames. Two queries."""
    frames = ImageFrame.objects.live().order_by("place", "pk")
    rows = ImageSeries.objects.live().filter(study=study).order_by("number", "pk")
    found = rows.select_related("study__patient").prefetch_related(
        Prefetch("frames", frames, to_attr="shown")
    )
    return [series for series in found if series.is_settled and series.shown]


def own_marking(frame: ImageFrame, level: str, view: str, user: User) -> Marking | None:
    """Return the marks that a reader set on a frame for a level in a view; repeats aside."""
    return (
        Marking.objects.live()
        .filter(frame=frame, view=view, observer=user, repeats=None, reading__level=level)
        .first()
    )


def markings_of_reading(reading: Reading) -> list[Marking]:
    """Return the live markings behind a reading: its own, or those of the level beside it."""
    rows = Marking.objects.live().filter(
        Q(reading=reading) | Q(measurements__reading=reading, measurements__voided_at=None)
    )
    return list(
        rows.select_related("observer", "frame__series", "reading__study__patient")
        .distinct()
        .order_by("pk")
    )


def posture_measured(marking: Marking) -> str:
    """Return the posture that stands with the numbers of marks; of the study without numbers."""
    rows = Measurement.objects.live().filter(reading=marking.reading_id, method="marked")
    measured = rows.order_by("-measured_on", "-pk").first()
    return measured.posture if measured else marking.reading.study.posture
