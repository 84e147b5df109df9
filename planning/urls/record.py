"""Addresses of the worklist, the record, assessments and decisions."""

from django.urls import path

from planning.views import access, assessments, decisions, protocol, record, waiting

urlpatterns = [
    path("waiting/", waiting.waiting, name="waiting"),
    path("patients/<int:patient_id>/", record.patient_record, name="patient-record"),
    path("patients/<int:patient_id>/reason/", access.record_reason, name="record-reason"),
    path("fractures/<int:fracture_id>/urgency/", record.urgency, name="urgency"),
    path("fractures/<int:fracture_id>/assess/", assessments.assess, name="assess"),
    path("fractures/<int:fracture_id>/decide/", decisions.decide, name="decide"),
    path("assessments/<int:assessment_id>/", assessments.assessment, name="assessment"),
    path("protocol/", protocol.protocol, name="protocol"),
]
