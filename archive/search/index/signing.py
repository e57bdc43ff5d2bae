"""The key of this person's account on this machine, which signs what this program wrote here itself."""

from __future__ import annotations

import hmac
import secrets
import threading
from contextlib import suppress

from archive.records import durable


def signature_of(text: str) -> bytes:
    """Return the signature that only this account can make."""
    return hmac.digest(_key(), text.encode(), "sha256")


_key_lock = threading.Lock()
_known_key: bytes | None = None


def _key() -> bytes:
    """Return this account's key; one for this process alone where none can be kept."""
    global _known_key
    with _key_lock:
        if _known_key is None:
            try:
                _known_key = _kept_key()
            except OSError:
                _known_key = secrets.token_bytes(32)
        return _known_key


def _kept_key() -> bytes:
    from platformdirs import user_data_path

    kept = user_data_path("rivetbook", appauthor=False) / "index-key"
    with suppress(FileNotFoundError):
        key = kept.read_bytes()
        if len(key) == 32:
            return key
    kept.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    fresh = secrets.token_bytes(32)
    durable.write_whole(kept, fresh)
    kept.chmod(0o600)
    return kept.read_bytes()
