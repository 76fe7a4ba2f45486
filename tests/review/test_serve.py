"""The server behind 'reduce review --serve': who may read, who may write, and what."""

from __future__ import annotations

import http.client
import socket
import threading
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from reduce.cli import run
from reduce.model.errors import UsageError
from reduce.report.serve import LARGEST_REQUEST, ReviewServer
from reduce.reviewing import review_server
from tests import tiny

TUNE = """
meter 3/4
key G major
Violin 1 | d5:2.      | g5:4 f#5 e5 | d5:2. | g5     |
Cello    | g2:4 d3 b2 | c3:2.       | d3    | g2     |
"""
ENTRY = '[[choice]]\nbars = "1"\nmelody = "Cello"\n'


@pytest.fixture
def served(tmp_path: Path) -> Iterator[ReviewServer]:
    """A served draft folder; a file of someone else's lies beside it."""
    (tmp_path / "tune.musicxml").write_bytes(tiny.musicxml(TUNE, "Tune"))
    (tmp_path / "secret.txt").write_text("secret", encoding="utf-8")
    assert run(["draft", str(tmp_path / "tune.musicxml"), "--out", str(tmp_path / "draft"), "--no-review"]) == 0
    with review_server(tmp_path / "draft") as server:
        thread = threading.Thread(target=server.serve_forever, args=(0.02,))
        thread.start()
        yield server
        server.shutdown()
        thread.join()


def ask(
    server: ReviewServer, path: str, *, method: str = "GET", body: bytes | None = None, host: str | None = None, **headers: str
) -> tuple[int, str]:
    """Status and text of the answer to a request."""
    address = urlsplit(server.origin)
    connection = http.client.HTTPConnection(address.hostname or "", address.port or 0, timeout=5)
    try:
        connection.putrequest(method, path, skip_host=True)
        connection.putheader("Host", host or address.netloc)
        for name, value in headers.items():
            connection.putheader(name.replace("_", "-"), value)
        if body is not None and "Content_Length" not in headers:
            connection.putheader("Content-Length", str(len(body)))
        connection.endheaders(body)
        answer = connection.getresponse()
        return answer.status, answer.read().decode("utf-8")
    finally:
        connection.close()


def post(server: ReviewServer, body: bytes, *, path: str = "choices", **headers: str) -> tuple[int, str]:
    told = {"Content_Type": "application/toml", "Origin": server.origin, **headers}
    return ask(server, f"/{server.token}/{path}", method="POST", body=body, **told)


def test_the_page_is_there_for_who_knows_the_word(served: ReviewServer) -> None:
    """The page with its save button, fresh at each look; nothing may keep or frame it."""
    status, page = ask(served, f"/{served.token}/")
    assert (200, True) == (status, 'id="save"' in page)
    assert "connect-src &#x27;self&#x27;" in page


@pytest.mark.parametrize("path", ["/", "/draft/", "/wrong/", "//", "/{token}", "/{token}x/", "/%2e%2e/"])
def test_nothing_without_the_word(served: ReviewServer, path: str) -> None:
    """No token, no page: not even a hint that there is one."""
    assert (404, "There is nothing here.") == ask(served, path.replace("{token}", served.token[:-1]))


@pytest.mark.parametrize(
    "name", ["../secret.txt", "%2e%2e/secret.txt", "report.json", "/etc/passwd", "..", "choices.toml", "draft.musicxml"]
)
def test_no_other_file(served: ReviewServer, name: str) -> None:
    """Neither the folder's other files nor anything outside it is given out."""
    assert 404 == ask(served, f"/{served.token}/{name}")[0]


@pytest.mark.parametrize("host", ["example.org", "example.org:{port}", "localhost:1", "127.0.0.1", "[::1]:{port}"])
def test_a_foreign_name_is_refused(served: ReviewServer, host: str) -> None:
    """A name that someone points at this machine does not open the server (DNS rebinding)."""
    port = str(served.server_address[1])
    assert 403 == ask(served, f"/{served.token}/", host=host.replace("{port}", port))[0]


def test_it_listens_on_the_loopback_only(served: ReviewServer) -> None:
    """The address is 127.0.0.1 and nothing else."""
    assert "127.0.0.1" == served.server_address[0]
    assert served.socket.family == socket.AF_INET


def test_choices_are_written_whole_and_obeyed(served: ReviewServer) -> None:
    """Entries are added behind those that are there; the next run reads them."""
    folder = served.choices.parent
    served.choices.write_text("# mine\n", encoding="utf-8")
    status, words = post(served, ENTRY.encode())
    assert 200 == status and words.startswith("1 choice written into choices.toml")
    assert f"# mine\n\n{ENTRY}" == served.choices.read_text(encoding="utf-8")
    assert (200, f"# mine\n\n{ENTRY}") == ask(served, f"/{served.token}/choices")
    assert run(["draft", str(folder.parent / "tune.musicxml"), "--out", str(folder), "--no-review"]) == 0
    assert '"by": "arranger"' in (folder / "decisions.jsonl").read_text(encoding="utf-8")
    assert [] == [path.name for path in folder.iterdir() if path.name.startswith(".choices")]


@pytest.mark.parametrize("origin", ["http://example.org", "null", "", "https://127.0.0.1:{port}", "http://localhost:{port}"])
def test_another_page_may_not_write(served: ReviewServer, origin: str) -> None:
    """A page from elsewhere in the same browser is refused even if it knew the token."""
    port = str(served.server_address[1])
    assert 403 == post(served, ENTRY.encode(), Origin=origin.replace("{port}", port))[0]
    assert not served.choices.exists()


@pytest.mark.parametrize(
    ("body", "headers", "status", "words"),
    [
        (b"x" * (LARGEST_REQUEST + 1), {}, 413, "at most 64 kB"),
        (ENTRY.encode(), {"Content_Type": "text/plain"}, 415, "TOML"),
        (b'[[choice]]\nmelody = "\xff"', {}, 400, "not UTF-8"),
        (b"melody = 3", {}, 422, "no choice in the text"),
        (b"[[choice]]\nmelodie = 'Cello'\n[[choice]]\nlock = true\n", {}, 422, "did you mean 'melody'"),
        (b"[[choice]]\nbars = [", {}, 422, "choices.toml"),
        (ENTRY.encode(), {"Content_Length": "many"}, 411, "How long"),
    ],
    ids=["large", "kind", "encoding", "empty", "faults", "broken", "length"],
)
def test_what_makes_no_sense_is_not_written(served: ReviewServer, body: bytes, headers: dict[str, str], status: int, words: str) -> None:
    """Too large, of another kind, not text, with faults: a sentence says so and the file stays as it was."""
    served.choices.write_text(ENTRY, encoding="utf-8")
    found, told = post(served, body, **headers)
    assert (status, True) == (found, words in told)
    assert ENTRY == served.choices.read_text(encoding="utf-8")
    assert str(served.choices.parent) not in told


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "TRACE"])
def test_other_methods_do_nothing(served: ReviewServer, method: str) -> None:
    """Only GET and POST exist."""
    assert 501 == ask(served, f"/{served.token}/choices", method=method)[0]


def test_each_server_has_its_own_word(served: ReviewServer) -> None:
    """The token is long and new each time."""
    with review_server(served.choices.parent) as other:
        assert other.token != served.token
        assert len(other.token) >= 43  # 256 bits in base 64 (RFC 4648)


def test_a_taken_port_and_a_foreign_folder_are_told(served: ReviewServer, tmp_path: Path) -> None:
    """One sentence each."""
    with pytest.raises(UsageError, match="is not a draft folder"):
        review_server(tmp_path)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(UsageError, match="cannot be used"):
            review_server(served.choices.parent, taken.getsockname()[1])


def test_review_makes_the_page_again(served: ReviewServer, capsys: pytest.CaptureFixture[str]) -> None:
    """`reduce review DIR` writes review.html, and the folder still counts as the tool's own."""
    folder = served.choices.parent
    assert run(["review", str(folder)]) == 0
    assert (folder / "review.html").exists()
    assert 'id="save"' not in (folder / "review.html").read_text(encoding="utf-8")
    assert run(["draft", str(folder.parent / "tune.musicxml"), "--out", str(folder)]) == 0
    once = (folder / "review.html").read_bytes()
    assert run(["review", str(folder)]) == 0
    assert once == (folder / "review.html").read_bytes()
    assert run(["review", str(folder.parent)]) == 2
