import logging
import re

SECRET_PATH = re.compile(r"(/p/)[A-Za-z0-9_-]{20,}")


class HideSecrets(logging.Filter):
    """A proof link's address is its key: whoever reads the log must not be able to open it."""

    def filter(self, record: logging.LogRecord) -> bool:
        message = record.getMessage()
        hidden = SECRET_PATH.sub(r"\1…", message)
        if hidden != message:
            record.msg, record.args = hidden, ()
        return True
