"""Addresses of studies and readings."""

from django.urls import path

from register.views import images, imaging, marking

urlpatterns = [
    path("patients/<int:patient_id>/study/", imaging.study_new, name="study-new"),
    path("studies/<int:study_id>/", imaging.study_edit, name="study-edit"),
    path("studies/<int:study_id>/images/", images.study_images, name="study-images"),
    path("studies/<int:study_id>/numbering/", images.study_numbering, name="study-numbering"),
    path("images/series/<int:series_id>/", images.image_series, name="image-series"),
    path("images/series/<int:series_id>/whose/", images.image_identity, name="image-identity"),
    path("images/series/<int:series_id>/mark/", marking.mark_start, name="mark-start"),
    path("images/pictures/<int:frame_id>/pixels/", images.image_pixels, name="image-pixels"),
    path(
        "images/pictures/<int:frame_id>/mark/<str:level>/<str:view>/",
        marking.marking_new,
        name="marking-new",
    ),
    path("markings/<int:marking_id>/", marking.marking_edit, name="marking-edit"),
    path("markings/<int:marking_id>/again/", marking.marking_again, name="marking-again"),
    path("studies/<int:study_id>/<str:level>/", imaging.reading_new, name="reading-new"),
    path("readings/<int:reading_id>/", imaging.reading_edit, name="reading-edit"),
    path("studies/<int:study_id>/<str:level>/drawing/", imaging.drawing, name="reading-drawing"),
]
