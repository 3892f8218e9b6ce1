"""Static files under names that tell their content, so that a phone may keep each for ever."""

from django.contrib.staticfiles.storage import HashedFilesMixin
from whitenoise.storage import CompressedManifestStaticFilesStorage

_IMPORTS = HashedFilesMixin._js_module_import_aggregation_patterns[1]


class HashedStatics(CompressedManifestStaticFilesStorage):
    """Also what a script of ours imports is named by its content: all scripts of a page are of one version. Only
    ours: a package's comments may name files that are not there."""

    support_js_module_import_aggregation = True
    _js_module_import_aggregation_patterns = ("js/*.js", _IMPORTS)
