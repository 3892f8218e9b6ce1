"""A mail server on 127.0.0.1 that keeps what it is given, or answers what a test wants it to, per RFC 5321."""

import socketserver
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Thread


class _Talk(socketserver.StreamRequestHandler):
    def say(self, words: str) -> None:
        self.wfile.write(f"{words}\r\n".encode())

    def handle(self) -> None:
        answers = self.server.answers
        self.say(answers.get("CONNECT", "220 here"))
        while line := self.rfile.readline():
            verb = line[:4].decode().strip().upper()
            if verb == "DATA" and "DATA" not in answers:
                self.say("354 go on")
                self.server.letters.append(self._letter())
                self.say(answers.get("END", "250 2.0.0 kept as 4711"))
                continue
            self.server.verbs.append(line.decode().strip())
            self.say(answers.get(verb, "250 fine" if verb != "QUIT" else "221 bye"))
            if verb == "QUIT":
                return

    def _letter(self) -> bytes:
        lines = []
        while (line := self.rfile.readline()) not in (b".\r\n", b""):
            lines.append(line[1:] if line.startswith(b"..") else line)
        return b"".join(lines)


class Server(socketserver.ThreadingTCPServer):
    allow_reuse_address = daemon_threads = True


@contextmanager
def mail_server(**answers: str) -> Iterator[Server]:
    """`answers` by verb: CONNECT, EHLO, MAIL, RCPT, DATA, END."""
    with Server(("127.0.0.1", 0), _Talk) as server:
        server.answers, server.letters, server.verbs = answers, [], []
        Thread(target=server.serve_forever, args=(0.05,), daemon=True).start()
        yield server
        server.shutdown()
