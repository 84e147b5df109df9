"""Addresses of studies and readings."""

from django.urls import path

from register.views import imaging

urlpatterns = [
    path("patients/<int:patient_id>/study/", imaging.study_new, name="study-new"),
    path("studies/<int:study_id>/", imaging.study_edit, name="study-edit"),
    path("studies/<int:study_id>/<str:level>/", imaging.reading_new, name="reading-new"),
    path("readings/<int:reading_id>/", imaging.reading_edit, name="reading-edit"),
    path("studies/<int:study_id>/<str:level>/drawing/", imaging.drawing, name="reading-drawing"),
]
