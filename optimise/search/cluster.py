"""Workers of a dask scheduler, on any number of computers, as a pool.

Only workers whose answers agree with this computer's to the last bit are asked. A share whose
worker dies is given to another by the scheduler; a share that is cancelled while it runs goes on
to its end there, and its answer is dropped.
"""

from __future__ import annotations

import logging
import re
import time
import warnings
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError, Future
from contextlib import contextmanager, suppress
from typing import Any, TypeVar

from optimise.errors import CallError, shown
from optimise.memory import keep_freed
from optimise.search.agreement import Signature, differences, signature
from optimise.search.pools import LostError

ADDRESS = re.compile(r"((tcp|tls)://)?[^\s/@]+:\d{1,5}")
CONNECTING = 5.0
"""Seconds that a scheduler has to answer."""
PATIENCE = 20.0
"""Seconds to wait for a new worker when all have gone."""
CLOSING = 2.0
"""Seconds to take leave of a scheduler."""
QUIET = ("distributed", "tornado", "asyncio")
"""Loggers that would speak to the user of what is told by an error."""

_Answer = TypeVar("_Answer")


class _StrangerError(Exception):
    """The worker that was given a share is of another kind; its text says how."""


class Cluster:
    """Workers of the scheduler at an address.

    Parameters
    ----------
    address
        As ``dask scheduler`` tells it, such as ``tcp://192.168.1.20:8786``.

    Raises
    ------
    CallError
        The library is not installed, the address is none, or a worker would answer otherwise.
    LostError
        Nobody answers there, or nobody works there.
    """

    def __init__(self, address: str) -> None:
        self._where = f"--cluster {shown(address)}"
        distributed = _library()
        if not ADDRESS.fullmatch(address):
            raise CallError(
                f"{self._where}: not an address, which looks like tcp://192.168.1.20:8786"
            )
        with self._told():
            self._client = distributed.Client(address, timeout=CONNECTING, set_as_default=False)
        self._killed = distributed.KilledWorker
        self._idle_since: float | None = None
        try:
            self._refuse_strangers()
        except BaseException:
            self.end()
            raise
        self._shares = self._client.get_executor(pure=False)

    def room(self) -> int:
        """A share for each thread of each worker."""
        with self._told():
            if self._client.status != "running":
                raise LostError(f"{self._where}: the scheduler is gone")
            threads = sum(self._client.nthreads().values())
        if threads:
            self._idle_since = None
        elif self._idle_since is None:
            self._idle_since = time.monotonic()
        elif time.monotonic() - self._idle_since > PATIENCE:
            raise LostError(f"{self._where}: all workers are gone")
        return int(threads)

    def submit(self, do: Callable[..., _Answer], /, *given: Any) -> Future[_Answer]:
        """Have a share worked at by whoever is free."""
        with self._told():
            future: Future[_Answer] = self._shares.submit(_do_alike, signature(), do, *given)
            return future

    def answer(self, future: Future[_Answer]) -> _Answer:
        """Answer of a share that is done, or what it raised."""
        try:
            return future.result()
        except CancelledError:
            raise LostError(f"{self._where}: the scheduler is gone") from None
        except self._killed:
            raise LostError(f"{self._where}: workers died one after the other") from None
        except (_StrangerError, ImportError, AttributeError) as error:
            self._refuse_strangers()
            raise LostError(f"{self._where}: a worker of another kind came and went") from error

    def end(self) -> None:
        """Leave; shares not begun are cancelled."""
        with _silent(), suppress(Exception):
            self._client.close(timeout=CLOSING)

    def _refuse_strangers(self) -> None:
        with self._told():
            found = self._client.run(signature, on_error="return")
        if not found:
            raise LostError(f"{self._where}: nobody works there; start: dask worker ADDRESS")
        strangers = {}
        for worker, there in found.items():
            if isinstance(there, Exception):
                strangers[worker] = f"has no ramfront that can share ({shown(str(there))})"
            elif differs := differences(there):
                strangers[worker] = f"differs in {differs}"
        if strangers:
            lines = [f"worker {worker} {how}" for worker, how in sorted(strangers.items())]
            raise CallError(
                f"{self._where}: {'; '.join(lines)}. All must have the same to give one answer: "
                "install it there, or end these workers"
            )

    @contextmanager
    def _told(self) -> Iterator[None]:
        """Errors of the library as the loss of the pool."""
        try:
            with _silent():
                yield
        except (OSError, RuntimeError, CancelledError) as error:
            raise LostError(
                f"{self._where}: no scheduler answers; start one: dask scheduler"
            ) from error


def _do_alike(wanted: Signature, do: Callable[..., _Answer], *given: Any) -> _Answer:
    """Do a share where that gives the same bits as at whoever asks: a worker may come late."""
    if wanted != signature():
        raise _StrangerError(differences(wanted))
    keep_freed()
    return do(*given)


def _library() -> Any:
    try:
        import distributed  # noqa: PLC0415
    except ImportError:
        raise CallError(
            "--cluster needs the library distributed: pip install 'ramfront[cluster]'"
        ) from None
    return distributed


@contextmanager
def _silent() -> Iterator[None]:
    """The library keeps to itself what it would tell of versions and lost connections."""
    for name in (*QUIET, *logging.root.manager.loggerDict):
        if name.partition(".")[0] in QUIET:
            logging.getLogger(name).setLevel(logging.CRITICAL + 1)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield
