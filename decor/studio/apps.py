from django.apps import AppConfig


class StudioConfig(AppConfig):
    name = "decor.studio"
    label = "studio"
    verbose_name = "Studio"
