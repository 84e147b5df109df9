"""Addresses of the audit pages."""

from django.urls import URLPattern, URLResolver, path

from reports.views import audits, repeat_readings, theatre_log

urlpatterns: list[URLPattern | URLResolver] = [
    path("audits/", audits.audits, name="audits"),
    path("audits/theatre-log/", theatre_log.theatre_log, name="theatre-log"),
    path("audits/theatre-log/names/", theatre_log.theatre_log_names, name="theatre-log-names"),
    path("audits/theatre-log/again/", theatre_log.theatre_log_again, name="theatre-log-again"),
    path(
        "audits/theatre-log/<int:line_id>/",
        theatre_log.theatre_log_line,
        name="theatre-log-line",
    ),
    path(
        "audits/theatre-log/<int:line_id>/back/",
        theatre_log.theatre_log_back,
        name="theatre-log-back",
    ),
    path(
        "audits/repeat-readings/",
        repeat_readings.repeat_readings_page,
        name="repeat-readings",
    ),
    path("audits/<int:year>/<int:number>/", audits.audit_quarter, name="audit-quarter"),
    path("audits/<int:year>/<int:number>/issue/", audits.audit_issue, name="audit-issue"),
    path("audits/reports/<int:report_id>/", audits.audit_report, name="audit-report"),
    path("audits/reports/<int:report_id>/report.pdf", audits.audit_pdf, name="audit-pdf"),
    path("audits/reports/<int:report_id>/rows.json", audits.audit_rows, name="audit-rows"),
]
