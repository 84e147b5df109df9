"""Issued reports."""

from reports.models.audit_reports import AuditReport

__all__ = ["AuditReport"]
