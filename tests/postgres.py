"""A PostgreSQL server of a test's own: in a folder of its own, on a free port, with a password."""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from pathlib import Path
from urllib.parse import quote

PASSWORD = "s3cret/of@the:yard"
USER = "shop"


def _program(name: str) -> str:
    places = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), reverse=True)
    found = str(places[0]) if places else shutil.which(name)
    assert found, f"{name} is missing: apt-get install postgresql"
    return found


def _stranger() -> dict[str, object]:
    """Root may not run a server: another user does, who owns nothing else."""
    if os.geteuid() != 0:
        return {}
    known = {entry.pw_name: entry for entry in pwd.getpwall()}
    who = known.get("postgres", known["nobody"])
    return {"user": who.pw_uid, "group": who.pw_gid, "extra_groups": []}


class Server:
    """A server that can be stopped and started again."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="ramfront-postgres-"))
        self.who = _stranger()
        words = self.folder / "password"
        words.write_text(PASSWORD)
        if self.who:
            for path in (self.folder, words):
                os.chown(path, int(str(self.who["user"])), int(str(self.who["group"])))
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self._run(
            *("initdb", "--pgdata", str(self.folder / "data"), "--username", USER, "--no-sync"),
            *("--auth", "scram-sha-256", "--pwfile", str(words), "--locale", "C"),
            *("--encoding", "UTF8"),
        )
        self.start()

    @property
    def url(self) -> str:
        return f"postgresql://{USER}:{quote(PASSWORD, safe='')}@127.0.0.1:{self.port}/postgres"

    def _run(self, program: str, *words: str) -> None:
        done = subprocess.run(
            [_program(program), *words],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            cwd=self.folder,
            check=False,
            **self.who,  # type: ignore[call-overload]
        )
        assert done.returncode == 0, done.stderr

    def _control(self, *words: str) -> None:
        self._run("pg_ctl", "--pgdata", str(self.folder / "data"), "--wait", *words)

    def start(self) -> None:
        options = f"-p {self.port} -k {self.folder} -h 127.0.0.1 -F"
        self._control("--log", str(self.folder / "log"), "-o", options, "start")

    def stop(self) -> None:
        """At once: whoever is connected loses the connection, as if the power went."""
        self._control("--mode", "immediate", "stop")

    def end(self) -> None:
        self.stop()
        shutil.rmtree(self.folder)
