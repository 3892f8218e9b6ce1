"""The usual way to a mail server, which besides keeps what the server said last."""

import smtplib

from django.core.mail.backends.smtp import EmailBackend


class _Telling:
    last_reply = ""

    def getreply(self) -> tuple[int, bytes]:
        code, words = super().getreply()  # type: ignore[misc]
        self.last_reply = f"{code} {words.decode(errors='replace')}"
        return code, words


class TellingSMTP(_Telling, smtplib.SMTP):
    pass


class TellingSMTPS(_Telling, smtplib.SMTP_SSL):
    pass


class TellingBackend(EmailBackend):
    @property
    def connection_class(self) -> type[smtplib.SMTP]:
        return TellingSMTPS if self.use_ssl else TellingSMTP

    @property
    def last_reply(self) -> str:
        return getattr(self.connection, "last_reply", "")
