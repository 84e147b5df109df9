"""The entry for a web server. It refuses to serve from an unsafe database."""

import os

from register.database.prepare import database_ready

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "register.config.settings")
database_ready()

from django.core.wsgi import get_wsgi_application  # noqa: E402
from django.urls import get_resolver  # noqa: E402

from register.database.guard import refuse_unsafe_database  # noqa: E402
from register.images.decoders import tell_meanwhile  # noqa: E402

application = get_wsgi_application()
refuse_unsafe_database()
# Load every page now, with the drawing libraries behind some of them: the first visitor
# would wait for it.
_ = get_resolver().url_patterns
tell_meanwhile()
