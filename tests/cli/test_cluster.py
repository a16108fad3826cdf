"""The search shared by the workers of a real scheduler: same answer, whoever dies on the way."""

from __future__ import annotations

import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from threading import Thread
from typing import Any

import pytest
from distributed import Client

import optimise
from optimise.machine.parts import CATEGORIES
from optimise.search import cluster as pool
from optimise.search import exact
from tests.cli.test_commands import ROOT, answer, ramfront
from tests.cli.test_front_command import timeless

PATIENCE = 60.0
"""Seconds after which what a test waits for is not going to come."""


def until(happened: Callable[[], Any], most: float = PATIENCE) -> Any:
    """What comes of asking again and again."""
    end = time.monotonic() + most
    while time.monotonic() < end:
        if found := happened():
            return found
        time.sleep(0.02)
    raise AssertionError(f"did not happen in {most} s: {happened}")


class Cluster:
    """Scheduler and workers, a process each; what was killed is started when it is needed."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.address = f"tcp://127.0.0.1:{free.getsockname()[1]}"
        self.scheduler: subprocess.Popen[bytes] | None = None
        self.workers: list[subprocess.Popen[bytes]] = []

    def process(self, *words: str, source: Path = ROOT) -> subprocess.Popen[bytes]:
        return subprocess.Popen(
            [sys.executable, "-m", "dask", *words, "--no-dashboard"],
            cwd=self.folder,
            env={**os.environ, "PYTHONPATH": str(source)},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def worker(self, source: Path = ROOT) -> subprocess.Popen[bytes]:
        return self.process(
            *("worker", self.address, "--no-nanny", "--nthreads", "1", "--name"),
            str(time.monotonic()),
            source=source,
        )

    def ready(self, workers: int) -> str:
        """Address of the scheduler, once so many workers are there and no others."""
        if self.scheduler is None or self.scheduler.poll() is not None:
            self.end()
            port = self.address.rpartition(":")[2]
            self.scheduler = self.process("scheduler", "--host", "127.0.0.1", "--port", port)
        self.workers = [one for one in self.workers if one.poll() is None]
        while len(self.workers) > workers:
            one = self.workers.pop()
            one.kill()
            one.wait()
        self.workers += [self.worker() for _ in range(workers - len(self.workers))]
        with Client(self.address, timeout=PATIENCE, set_as_default=False) as client:
            until(lambda: len(client.nthreads()) == len(self.workers))
        return self.address

    def ended(self) -> list[int]:
        """How workers ended that did."""
        return [one.returncode for one in self.workers if one.poll() is not None]

    def end(self) -> None:
        for process in (*self.workers, self.scheduler):
            if process is not None:
                process.kill()
                process.wait()


@pytest.fixture(scope="module")
def cluster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    found = Cluster(tmp_path_factory.mktemp("cluster"))
    yield found
    found.end()


def cut_down(folder: Path, *searched: str) -> Path:
    """A demonstration of which only these categories are searched."""
    shutil.copytree(ROOT / "studies" / "kvarnby", folder)
    text = (folder / "study.toml").read_text(encoding="utf-8")
    assert "keep = []" in text
    kept = json.dumps([category for category in CATEGORIES if category not in searched])
    (folder / "study.toml").write_text(text.replace("keep = []", f"keep = {kept}"))
    return folder


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A small study, searched in small shares."""
    folder = tmp_path_factory.mktemp("study") / "kvarnby"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(exact, "SHARE", 8)
        yield cut_down(folder, "pump", "bore", "rod", "return_hose", "tank")


@pytest.fixture(scope="module")
def alone(study: Path) -> dict[str, Any]:
    return timeless(answer("front", str(study)))


def when_busy(address: str, happens: Callable[[int], None]) -> Thread:
    """Have something happen as soon as a worker is at a share; its process is named."""

    client = Client(address, timeout=PATIENCE, set_as_default=False)
    pids = client.run(os.getpid)

    def watch() -> None:
        with client:
            at_work = until(lambda: [one for one, shares in client.processing().items() if shares])
            happens(pids[at_work[0]])

    watcher = Thread(target=watch)
    watcher.start()
    return watcher


def test_where_nobody_works_nothing_is_begun(
    cluster: Cluster, study: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pool, "CONNECTING", 0.5)
    call = ("front", str(study), "--out", str(tmp_path / "new"), "--cluster")
    done = ramfront(*call, cluster.address)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == (
        f"--cluster {cluster.address}: no scheduler answers; start one: dask scheduler\n"
    )
    monkeypatch.undo()
    done = ramfront(*call, cluster.ready(0))
    assert (done.returncode, done.stdout) == (2, "")
    assert "nobody works there; start: dask worker" in done.stderr
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--cluster", "here"], "not an address"),
        (["--cluster", ""], "wanted an address"),
        (["--cluster", "tcp://10.0.0.1:1", "--workers", "2"], "--workers: not with --cluster"),
        (["--cluster", "tcp://10.0.0.1:1", "rod.diameter=2..3 in"], "--cluster: not with ranges"),
    ],
)
def test_a_call_that_cannot_be_is_refused(words: list[str], said: str) -> None:
    done = ramfront("front", "studies/kvarnby", *words)
    assert done.returncode == 2
    assert said in done.stderr


def test_without_the_library_one_line_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    done = ramfront("front", "studies/kvarnby", "--cluster", "tcp://127.0.0.1:9")
    assert done.returncode == 2
    assert done.stderr == (
        "--cluster needs the library distributed: pip install 'ramfront[cluster]'\n"
    )


@pytest.mark.parametrize("more", [(), ("--sure", "0.9")], ids=["plain", "sure"])
def test_workers_of_a_cluster_give_the_same_bytes(
    more: tuple[str, ...],
    cluster: Cluster,
    study: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    shares = []
    submit = pool.Cluster.submit

    def counted(self: pool.Cluster, do: Any, *given: Any) -> Any:
        shares.append(do)
        return submit(self, do, *given)

    monkeypatch.setattr(pool.Cluster, "submit", counted)
    monkeypatch.setattr(exact, "SURE_SHARE", 4)
    if more:
        study = cut_down(tmp_path / "kvarnby", "pump", "rod", "return_hose", "tank")
    call = ("front", str(study), *more, "--out")
    there = answer(*call, str(tmp_path / "there"), "--cluster", cluster.ready(2))
    assert len(shares) > 2
    here = answer(*call, str(tmp_path / "here"))
    assert here["designs"]
    assert timeless(there) == timeless(here)
    tables = [(tmp_path / place / "front.csv").read_bytes() for place in ("here", "there")]
    assert tables[0] == tables[1]


def test_a_killed_worker_costs_its_share_only(
    cluster: Cluster, study: Path, alone: dict[str, Any]
) -> None:
    address = cluster.ready(2)
    watcher = when_busy(address, lambda pid: os.kill(pid, signal.SIGKILL))
    found = answer("front", str(study), "--cluster", address)
    watcher.join()
    assert sorted(until(cluster.ended)) == [-signal.SIGKILL]
    assert timeless(found) == alone


@pytest.mark.parametrize("lost", ["scheduler", "workers"])
def test_a_lost_cluster_is_told_and_this_process_does_the_rest(
    lost: str,
    cluster: Cluster,
    study: Path,
    alone: dict[str, Any],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(pool, "PATIENCE", 0.5)
    monkeypatch.setattr(pool, "CONNECTING", 0.5)
    address = cluster.ready(1)
    gone = cluster.scheduler if lost == "scheduler" else cluster.workers[0]
    assert gone is not None
    watcher = when_busy(address, lambda _: gone.kill())
    done = ramfront("front", str(study), "--json", "--cluster", address)
    watcher.join()
    assert done.returncode == 0, done.stderr
    assert timeless(json.loads(done.stdout)) == alone
    assert "this process will do again what was lost, the answer is the same" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_worker_of_another_version_is_refused(
    cluster: Cluster, study: Path, tmp_path: Path
) -> None:
    address = cluster.ready(0)
    shutil.copytree(ROOT / "optimise", tmp_path / "other" / "optimise")
    first = tmp_path / "other" / "optimise" / "__init__.py"
    text = first.read_text(encoding="utf-8")
    first.write_text(text.replace(optimise.__version__, "0.0.1"), encoding="utf-8")
    cluster.workers.append(cluster.worker(tmp_path / "other"))
    cluster.ready(1)
    done = ramfront("front", str(study), "--cluster", address)
    assert (done.returncode, done.stdout) == (2, "")
    assert f"differs in ramfront (0.0.1, here {optimise.__version__}), its source (" in done.stderr
    assert "install it there" in done.stderr
    assert "Traceback" not in done.stderr
