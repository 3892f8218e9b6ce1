from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "jobs"
    verbose_name = "Jobs"

    def ready(self) -> None:
        # Here rather than in decor/__init__.py, which must stay free of Celery and Django.
        from decor.celery import app  # noqa: F401
