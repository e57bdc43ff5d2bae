"""Letting a tablet in over the network: one code for one device, and few guesses."""

from __future__ import annotations

import secrets
import threading
import time
from collections.abc import Callable

_DIGITS = 8
MOST_WRONG = 5  # of one code; then it is worth nothing and another is shown
_PAUSE_SECONDS = 30.0  # after that, and twice as long each further time, nobody may guess
_LONGEST_PAUSE_SECONDS = 3600.0


class Admission:
    """Holds the code that lets the next device in.

    With eight digits, five guesses a code and pauses that double from 30 s, a day of guessing gets
    fewer than 200 of 100 000 000 codes.
    """

    def __init__(self, show: Callable[[str], None], *, clock: Callable[[], float] = time.monotonic) -> None:
        self._show, self._clock = show, clock
        self._lock = threading.Lock()
        self._wrong = self._spent = 0
        self._closed_until = 0.0
        self._code = ""
        self._renew()

    @property
    def code(self) -> str:
        """The code of the moment; it lets one device in."""
        return self._code

    def seconds_closed(self) -> float:
        """Return for how long no code is accepted, after too many wrong ones."""
        return max(0.0, self._closed_until - self._clock())

    def lets_in(self, code: str) -> bool:
        """Tell whether the code is right; it is used up then, and another is shown."""
        given = "".join(c for c in code if c.isascii() and c.isdigit())
        with self._lock:
            if self.seconds_closed():
                return False
            right = secrets.compare_digest(given, self._code)
            if right:
                self._spent = 0
                self._renew()
            else:
                self._count_wrong()
            return right

    def _count_wrong(self) -> None:
        self._wrong += 1
        if self._wrong >= MOST_WRONG:
            pause = min(_PAUSE_SECONDS * 2.0**self._spent, _LONGEST_PAUSE_SECONDS)
            self._closed_until = self._clock() + pause
            self._spent += 1
            self._renew()

    def _renew(self) -> None:
        self._wrong = 0
        self._code = "".join(secrets.choice("0123456789") for _ in range(_DIGITS))
        self._show(self._code)
