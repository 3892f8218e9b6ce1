import logging
import re

SECRETS = re.compile(r"(/p/|[?&]code=)[A-Za-z0-9_%-]{8,}")


def hidden(text: str) -> str:
    """
    >>> hidden("GET /p/pVMISWXm-TEHCFaBntBnL6BFQDpO09KzrTniOG0l_M8/approve/ and /first-run/?code=Zk3_x9aaQw1Z")
    'GET /p/…/approve/ and /first-run/?code=…'
    """
    return SECRETS.sub(r"\1…", text)


class HidingFormatter(logging.Formatter):
    """A proof link's address is its key, and the setup code makes an owner: whoever reads the log must not get
    either. The last thing that is done to a line, so that tracebacks are covered as well."""

    def format(self, record: logging.LogRecord) -> str:
        return hidden(super().format(record))


class HidingWrapper(logging.Formatter):
    """The same round a formatter that somebody else set up."""

    def __init__(self, inner: logging.Formatter | None) -> None:
        super().__init__()
        self.inner = inner or logging.Formatter()

    def format(self, record: logging.LogRecord) -> str:
        return hidden(self.inner.format(record))


def hide_in(*names: str) -> None:
    """For servers that bring handlers of their own: they write the address of each request that fails."""
    for name in names:
        for handler in logging.getLogger(name).handlers:
            if not isinstance(handler.formatter, HidingWrapper):
                handler.setFormatter(HidingWrapper(handler.formatter))
