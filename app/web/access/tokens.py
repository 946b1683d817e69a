"""The access phrase, and what is signed with a key made from it: sign-in cookies and read-only links."""

import base64
import hashlib
import hmac
import os
import secrets
import tempfile
import unicodedata
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path

SECRET_FILE = "fishplate.key"
SECRET_BYTES = 32
SHORTEST_PHRASE = 12
SESSION_S = 12 * 3600  # a working day
KNOWN_S = 180 * 24 * 3600
EPOCH_BYTES = 16
READER_S = 30 * 24 * 3600


def ends_at(issued_ms: int) -> datetime:
    """When a read-only link ends that was made then (ms since 1970)."""
    return datetime.fromtimestamp(issued_ms // 1000 + READER_S, UTC)


class UnfitPhrase(ValueError):  # noqa: N818 - reads as what it is
    """The access phrase can't be used, or there is none where one is needed."""


def fit_phrase(text: str) -> str:
    """The phrase without the line end of its file.

    Raises:
        UnfitPhrase: too short to withstand guessing.
    """
    phrase = text.strip("\r\n")
    if len(phrase) < SHORTEST_PHRASE:
        message = (
            f"the access phrase is too short: it needs {SHORTEST_PHRASE} characters or more (it has {len(phrase)})"
        )
        raise UnfitPhrase(message)
    return phrase


def load_secret(folder: Path) -> bytes:
    """The server's secret, made at the first start: random, and readable by its owner only.

    It lies in a file so that restarts and all workers agree; machines that share one database keep it there.

    Raises:
        OSError: it can't be read or written, or is damaged.
    """
    path = folder / SECRET_FILE
    if not path.exists():
        folder.mkdir(parents=True, exist_ok=True)
        _make_secret(path)
    secret = path.read_bytes()
    if len(secret) != SECRET_BYTES:
        message = f"{path} is damaged; delete it (everybody has to sign in again, and read-only links end)"
        raise OSError(message)
    return secret


def offered_secret(folder: Path) -> bytes:
    """What a machine offers to those it shares a database with: the secret of its file if it has one, or a new one.

    Raises:
        OSError: the file can't be read, or is damaged.
    """
    return load_secret(folder) if (folder / SECRET_FILE).exists() else secrets.token_bytes(SECRET_BYTES)


def _make_secret(path: Path) -> None:
    # Written aside and linked into place: of workers that start together one wins, and none reads half a file.
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=SECRET_FILE)  # mode 600
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(secrets.token_bytes(SECRET_BYTES))
        path.hardlink_to(name)
    except FileExistsError:
        pass
    finally:
        Path(name).unlink()


def _normal(phrase: str) -> bytes:
    """The same bytes from every keyboard: an accented letter can be one character or two."""
    return unicodedata.normalize("NFKC", phrase).encode()


class Keys:
    """Checks the phrase, and signs. Another phrase, secret or epoch ends every cookie and link signed before.

    An epoch begins whenever the phrase is set to another one (``last_phrase`` in ``app/web/access/ended.py``), so that
    a phrase that comes back revives nothing.
    """

    def __init__(self, secret: bytes, phrase: str | None) -> None:
        self._epoch = b""
        self._made_from = (_normal(phrase or ""), secret)
        self._phrase = None if phrase is None else self._mac("phrase", _normal(phrase))

    @cached_property
    def _key(self) -> bytes:
        # Slow on purpose; without a phrase nothing needs it before the first read-only link.
        phrase, secret = self._made_from
        # The secret as salt: whoever holds a signed link still can't try phrases against it at home.
        return hashlib.scrypt(phrase, salt=secret, n=2**14, r=8, p=1, dklen=32)

    def fingerprint(self) -> bytes:
        """What tells whether the phrase is the same as at another time, and nothing else; empty without a phrase."""
        return self._mac("fingerprint", b"") if self.phrase_needed else b""

    def begin_epoch(self, epoch: bytes) -> None:
        """Sign for this epoch from now on."""
        self._epoch = epoch

    @property
    def phrase_needed(self) -> bool:
        """Whether anybody has to sign in."""
        return self._phrase is not None

    def knows(self, phrase: str) -> bool:
        """Whether this is the phrase; takes as long whatever is wrong with it."""
        given = self._mac("phrase", _normal(phrase))
        return self._phrase is not None and hmac.compare_digest(given, self._phrase)

    def session(self, now_s: float) -> str:
        """The value of a sign-in cookie; ``now_s`` is seconds since 1970, here and below."""
        return self._signed("session", secrets.token_hex(12), now_s + SESSION_S)

    def session_of(self, value: str, now_s: float) -> str | None:
        """The name of the session whose cookie has this value; None if it is not ours or expired."""
        return self._subject("session", value, now_s)

    def known(self, now_s: float) -> str:
        """The value of a cookie that marks a browser from which the phrase was given; it opens nothing."""
        return self._signed("known", secrets.token_hex(8), now_s + KNOWN_S)

    def known_of(self, value: str, now_s: float) -> str | None:
        """The name of a browser from which the phrase was given; None if it is not ours or expired."""
        return self._subject("known", value, now_s)

    def reader_token(self, case_id: str, now_s: float) -> str:
        """A read-only link's token for one case; good for ``READER_S`` seconds."""
        return self._signed("reader", f"{case_id}.{int(now_s * 1000)}", now_s + READER_S)

    def reader_of(self, token: str, now_s: float) -> tuple[str, int] | None:
        """The case of a read-only link's token and when it was made, ms; None if it is not ours or expired."""
        case_id, _, made_ms = (self._subject("reader", token, now_s) or "").rpartition(".")
        return (case_id, int(made_ms)) if case_id else None

    def _signed(self, purpose: str, subject: str, expires_s: float) -> str:
        payload = f"{subject}.{int(expires_s)}"
        return f"{payload}.{self._signature(purpose, payload)}"

    def _subject(self, purpose: str, token: str, now_s: float) -> str | None:
        payload, _, given = token.rpartition(".")
        if not hmac.compare_digest(given.encode(), self._signature(purpose, payload).encode()):
            return None
        subject, _, expires_s = payload.rpartition(".")
        return subject if now_s < int(expires_s) else None

    def _signature(self, purpose: str, payload: str) -> str:
        return base64.urlsafe_b64encode(self._mac(purpose, self._epoch + b"\0" + payload.encode())).decode().rstrip("=")

    def _mac(self, purpose: str, content: bytes) -> bytes:
        return hmac.digest(self._key, purpose.encode() + b"\0" + content, "sha256")
