"""Whose record the addresses of the reports are about."""

from register.entry.whose import belongs

# Nobody's while nothing was found for the line: it may be about somebody not in the register.
belongs("line_id", "register.TheatreLogEntry", "procedure__patient")
