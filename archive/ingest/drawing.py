"""Pictures made small beside the copying of others."""

from __future__ import annotations

from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path

from archive.errors import PictureNotReadable
from archive.ingest import previews
from archive.ingest.previews import Drawn


class Drawing:
    """Makes pictures small beside the copying, or, where there is one worker, when asked for."""

    def __init__(self, workers: int) -> None:
        self._pool = ThreadPoolExecutor(workers) if workers > 1 else None

    def __enter__(self) -> Drawing:
        return self

    def __exit__(self, *_: object) -> None:
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)

    def begin(self, picture: Path, page: int) -> Future[Drawn]:
        """Begin to make one small."""
        if self._pool is not None:
            return self._pool.submit(previews.drawn, picture, page)
        done: Future[Drawn] = Future()
        try:
            done.set_result(previews.drawn(picture, page))
        except PictureNotReadable as error:
            done.set_exception(error)
        return done
