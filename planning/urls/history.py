"""Addresses of the history, of the record as it once stood, and of setting aside."""

from django.urls import path

from planning.views import aside, history

urlpatterns = [
    path("patients/<int:patient_id>/history/", history.patient_history, name="patient-history"),
    path("patients/<int:patient_id>/as-of/", history.patient_as_of, name="patient-as-of"),
    path(
        "records/<str:kind>/<int:record_id>/history/", history.record_history, name="record-history"
    ),
    path("records/<str:kind>/<int:record_id>/aside/", aside.aside, name="record-aside"),
    path("records/<str:kind>/<int:record_id>/back/", aside.back, name="record-back"),
]
