"""The review page from a small server of its own, so that it can write choices: this machine only, behind a random word.

What keeps others out:

    - it listens on the loopback address only
    - every address begins with a token of 256 random bits, compared in constant time
    - the Host header must be its own, so that no foreign name can be pointed at it
    - a request that writes must come from its own page (Origin), as `application/toml`, and be small
    - it gives out the page and the choices file, and no other file, of one folder
    - the choices file is written whole or not at all, and only where the new text makes sense
"""

from __future__ import annotations

import hmac
import secrets
import threading
from collections.abc import Callable
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from reduce.model.errors import ReduceError
from reduce.report.folder import write_file

LOOPBACK = "127.0.0.1"
LARGEST_REQUEST = 64 * 1024  # bytes of one answer
LARGEST_FILE = 1024 * 1024  # bytes of a choices file
PATIENCE = 10  # seconds for a request to arrive


class ReviewServer(ThreadingHTTPServer):
    """Serves one draft folder.

    Args:
        folder: the draft folder.
        page: makes the page anew.
        judge: reads the text of a choices file; raises `RuleError` with all its faults.
        port: 0 = any that is free.
    """

    daemon_threads = True
    allow_reuse_address = True

    def __init__(self, folder: Path, page: Callable[[], str], judge: Callable[[str], object], port: int = 0) -> None:
        self.choices = folder / "choices.toml"
        self.page = page
        self.judge = judge
        self.token = secrets.token_urlsafe(32)
        self.writing = threading.Lock()
        super().__init__((LOOPBACK, port), _Handler)

    @property
    def origin(self) -> str:
        return f"http://{LOOPBACK}:{self.server_address[1]}"

    @property
    def url(self) -> str:
        """Where the page is."""
        return f"{self.origin}/{self.token}/"

    def put(self, text: str) -> str:
        """Adds entries to the choices file; returns a sentence.

        Raises `RuleError` where they make no sense, `UsageError` where the file cannot be written.
        """
        with self.writing:
            before = self.choices.read_text(encoding="utf-8") if self.choices.exists() else ""
            both = f"{before.rstrip()}\n\n{text.strip()}\n".lstrip()
            if len(both.encode()) > LARGEST_FILE:
                raise ReduceError(f"{self.choices.name} would become larger than {LARGEST_FILE // 1024} kB.")
            self.judge(both)
            write_file(self.choices, both.encode())
        count = text.count("[[choice]]")
        return f"{count} choice{'s' if count != 1 else ''} written into {self.choices.name}; the next run of 'reduce draft' obeys them."


class _Handler(BaseHTTPRequestHandler):
    server: ReviewServer
    server_version = "reduce"
    sys_version = ""
    timeout = PATIENCE

    def do_GET(self) -> None:
        name = self._name()
        if name is None:
            return
        if name == "":
            try:
                page = self.server.page()
            except ReduceError as error:
                self._answer(HTTPStatus.CONFLICT, str(error))
                return
            self._answer(HTTPStatus.OK, page, "text/html")
        elif name == "choices":
            here = self.server.choices
            self._answer(HTTPStatus.OK, here.read_text(encoding="utf-8") if here.exists() else "", "application/toml")
        else:
            self._answer(HTTPStatus.NOT_FOUND, "There is nothing here.")

    def do_POST(self) -> None:
        name = self._name()
        if name is None:
            return
        if name != "choices":
            self._answer(HTTPStatus.NOT_FOUND, "There is nothing here.")
        elif self.headers.get("Origin") != self.server.origin:
            self._answer(HTTPStatus.FORBIDDEN, "Only this server's own page may write.")
        elif self.headers.get("Content-Type", "").partition(";")[0].strip() != "application/toml":
            self._answer(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "Choices are TOML.")
        else:
            text = self._body()
            if text is not None:
                self._put(text)

    def _put(self, text: str) -> None:
        if "[[choice]]" not in text:
            self._answer(HTTPStatus.UNPROCESSABLE_ENTITY, "There is no choice in the text: each begins with a line [[choice]].")
            return
        try:
            self._answer(HTTPStatus.OK, self.server.put(text))
        except ReduceError as error:
            self._answer(HTTPStatus.UNPROCESSABLE_ENTITY, str(error))

    def _body(self) -> str | None:
        """The text sent, or None where it was refused."""
        length = self.headers.get("Content-Length", "")
        if not length.isdecimal():
            self._answer(HTTPStatus.LENGTH_REQUIRED, "How long is the text?")
            return None
        if int(length) > LARGEST_REQUEST:
            self._answer(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, f"Write at most {LARGEST_REQUEST // 1024} kB at once.")
            return None
        try:
            return self.rfile.read(int(length)).decode("utf-8")
        except UnicodeDecodeError:
            self._answer(HTTPStatus.BAD_REQUEST, "The text is not UTF-8.")
            return None

    def _name(self) -> str | None:
        """What is asked for behind the token, or None where the request was refused."""
        if self.headers.get("Host") != self.server.origin.removeprefix("http://"):
            self._answer(HTTPStatus.FORBIDDEN, "This server answers to its own address only.")
            return None
        token, slash, name = self.path.removeprefix("/").partition("/")
        if not slash or not hmac.compare_digest(token.encode("utf-8", "replace"), self.server.token.encode()):
            self._answer(HTTPStatus.NOT_FOUND, "There is nothing here.")
            return None
        return name

    def _answer(self, status: HTTPStatus, text: str, kind: str = "text/plain") -> None:
        body = text.encode("utf-8")
        self.send_response(status)
        for name, value in (
            ("Content-Type", f"{kind}; charset=utf-8"),
            ("Content-Length", str(len(body))),
            ("Cache-Control", "no-store"),
            ("Connection", "close"),
            ("X-Content-Type-Options", "nosniff"),
            ("X-Frame-Options", "DENY"),
            ("Referrer-Policy", "no-referrer"),
            ("Cross-Origin-Resource-Policy", "same-origin"),
        ):
            self.send_header(name, value)
        self.end_headers()
        self.close_connection = True
        if self.command != "HEAD":
            self.wfile.write(body)

    def log_message(self, format: str, *args: object) -> None:
        """Nothing is told: addresses hold the token."""
