"""Campaigns over reports and large amounts of rows; see register.drills."""
