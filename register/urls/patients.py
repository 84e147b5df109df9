"""Addresses of patients. Whom a person looked for is never part of an address."""

from django.urls import path

from register.views import patients

urlpatterns = [
    path("patients/", patients.patient_search, name="patient-search"),
    path("patients/new/", patients.patient_new, name="patient-new"),
    path("patients/<int:patient_id>/details/", patients.patient_edit, name="patient-edit"),
]
