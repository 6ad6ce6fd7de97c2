"""The WSGI door for web servers. `manage.py serve` has one of its own (`studio.serving.door`)."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.config.settings")
django_application = get_wsgi_application()

from django.conf import settings  # noqa: E402  settings stand only now

from .proxies import trusting  # noqa: E402

application = trusting(django_application, settings.PROXIES)
