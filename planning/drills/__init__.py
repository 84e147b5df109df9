"""Campaigns over rules, plans and records; see register.drills."""
