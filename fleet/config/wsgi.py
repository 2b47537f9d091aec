"""The door for a WSGI server."""

from __future__ import annotations

import os

from django.core.wsgi import get_wsgi_application

from fleet.whole_requests import takes_whole_requests

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")
application = takes_whole_requests(get_wsgi_application())
