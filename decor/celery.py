"""The worker's application. Loaded by JobsConfig.ready(), not by decor/__init__.py: the arithmetic under
decor.calc must stay importable without loading Celery and Django."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "decor.settings")

app = Celery("decor")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["jobs"])
