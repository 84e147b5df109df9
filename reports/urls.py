"""Addresses of the audit pages."""

from django.urls import URLPattern, URLResolver, path

from reports.views import audits

urlpatterns: list[URLPattern | URLResolver] = [
    path("audits/", audits.audits, name="audits"),
    path("audits/<int:year>/<int:number>/", audits.audit_quarter, name="audit-quarter"),
    path("audits/<int:year>/<int:number>/issue/", audits.audit_issue, name="audit-issue"),
    path("audits/reports/<int:report_id>/", audits.audit_report, name="audit-report"),
    path("audits/reports/<int:report_id>/report.pdf", audits.audit_pdf, name="audit-pdf"),
    path("audits/reports/<int:report_id>/rows.json", audits.audit_rows, name="audit-rows"),
]
