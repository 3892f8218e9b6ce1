import os

from django.core.wsgi import get_wsgi_application
from django.urls import get_resolver

from decor.studio.logs import hide_in

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "decor.settings")
application = get_wsgi_application()
hide_in("gunicorn.error", "gunicorn.access")
# Every page's code is read before the server forks and before anybody waits for the first page.
get_resolver().url_patterns  # noqa: B018
