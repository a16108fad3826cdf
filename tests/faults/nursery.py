"""Runs commands in processes of their own, warm, with a real fault in each.

Started as ``python -m tests.faults.nursery`` it imports the package once and then, for each line of
JSON on standard input, forks a child that runs one command and answers how it ended. So a fault
costs tenths of a second, and kill, limits and full disks stay the system's own.
"""

from __future__ import annotations

import gc
import hashlib
import json
import os
import random
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
CALLS = ("open", "write", "fchmod", "fsync", "close", "replace", "mkdir")
"""What of the system a file that is written goes through."""
NOBODY = 65534
_CLOCK_OF_FILES = 0.004
"""Steps of the clock by which the system dates files, s."""


@dataclass(frozen=True)
class Ended:
    """How a command ended: exit code or minus the signal, its words, and its calls if counted."""

    code: int
    out: str
    err: str
    calls: str


class Nursery:
    """The other side: asks the warm process for children."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.faults.nursery"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            cwd=ROOT,
            env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "COLUMNS": "100", "NO_COLOR": "1"},
            text=True,
        )
        self._answer()

    def _answer(self) -> Any:
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        assert line, "the nursery has died"
        return json.loads(line)

    def start(self, *words: str | Path, cwd: Path | None = None, **fault: Any) -> dict[str, Any]:
        """Start a child and give its number; ``finish`` waits for it."""
        asked = {"words": [str(word) for word in words], "cwd": str(cwd or self.folder), **fault}
        return dict(self._ask({"start": asked, "folder": str(self.folder)}))

    def _ask(self, question: Mapping[str, Any]) -> Any:
        assert self.process.stdin is not None
        self.process.stdin.write(json.dumps(question) + "\n")
        self.process.stdin.flush()
        return self._answer()

    def finish(self, child: Mapping[str, Any]) -> Ended:
        status = int(self._ask({"wait": child["pid"]})["status"])
        files = [Path(child["base"] + end) for end in (".out", ".err", ".calls")]
        out, err, calls = (
            file.read_text(encoding="utf-8", errors="replace") if file.exists() else ""
            for file in files
        )
        for file in files:
            file.unlink(missing_ok=True)
        return Ended(os.waitstatus_to_exitcode(status), out, err, calls)

    def run(self, *words: str | Path, cwd: Path | None = None, **fault: Any) -> Ended:
        """Run a command to its end.

        ``fault`` may hold ``at`` with ``signal`` or ``errno`` (at the n-th call that writes),
        ``after`` (the signal comes after the call, not before), ``count`` (note the calls),
        ``kinds`` with ``keep``, ``old`` and ``calls`` (every fault of a list at every call),
        ``kills`` and ``seed`` with ``keep`` and ``old`` (so many kills while files are written),
        ``limits`` (names of resource limits and their values), ``stranger`` (as a user who owns
        nothing), ``stdout`` (a file, or null for closed), ``without`` (modules that are absent),
        ``clock`` (what the clock says), ``encoding`` (of standard output).
        """
        return self.finish(self.start(*words, cwd=cwd, **fault))

    def close(self) -> None:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.close()
        self.process.wait()
        self.process.stdout.close()


# --- in the warm process ------------------------------------------------------------------------


def held(folder: Path) -> dict[str, str]:
    """Names and contents, as SHA-256, of the files of a folder."""
    return {file.name: hashlib.sha256(file.read_bytes()).hexdigest() for file in folder.iterdir()}


def _only_old(folder: Path, names: Sequence[str]) -> None:
    for file in folder.iterdir():
        file.unlink()
    for name in names:
        (folder / name).write_text("old", encoding="utf-8")


def _killed_again_and_again(asked: Mapping[str, Any], base: str) -> None:
    """Go on from here in processes that are killed while they write, each followed by a whole one.

    Called before the first file is written. The first goes on undisturbed over what lies in the
    folder, the second in an empty one; how long that takes tells when to kill.
    """
    keep, chance = Path(asked["keep"]), random.Random(asked["seed"])
    found: list[dict[str, Any]] = []
    took = 0.0
    for number in range(-2, asked["kills"]):
        if number >= -1:
            _only_old(keep, asked["old"] if number >= 0 else ())
        for killed in (True, False) if number >= 0 else (False,):
            started = time.time()
            pid = os.fork()
            if pid == 0:
                return
            if killed:
                time.sleep(chance.uniform(0.0, took))
                os.kill(pid, signal.SIGKILL)
            _, status = os.waitpid(pid, 0)
            if not killed:
                changed = max((file.stat().st_ctime for file in keep.iterdir()), default=started)
                took = max(changed - started, 0.0) + _CLOCK_OF_FILES
            code = os.waitstatus_to_exitcode(status)
            found.append({"killed": killed, "code": code, "files": held(keep)})
    Path(base + ".calls").write_text(json.dumps(found), encoding="utf-8")
    os._exit(0)


def _every(asked: Mapping[str, Any], base: str) -> None:
    """Go on from here once for each fault and each call, as a process of its own.

    Called before the first file is written. The search before it is done once; each process that
    goes on finds the folder ``keep`` with the same old files and meets one fault at one call.
    """
    keep = Path(asked["keep"])
    found: list[dict[str, Any]] = []
    for kind in asked["kinds"]:
        for at in range(1, 100):
            _only_old(keep, asked["old"])
            for handle in (1, 2):
                os.ftruncate(handle, 0)
                os.lseek(handle, 0, os.SEEK_SET)
            pid = os.fork()
            if pid == 0:
                _sabotage({**kind, "at": at}, None)
                return
            _, status = os.waitpid(pid, 0)
            found.append(
                {
                    "kind": kind["name"],
                    "at": at,
                    "code": os.waitstatus_to_exitcode(status),
                    "err": Path(base + ".err").read_text(encoding="utf-8"),
                    "files": held(keep),
                }
            )
            if found[-1]["code"] == 0 and "errno" not in kind:
                break
            if "errno" in kind and at >= asked["calls"]:
                break
    Path(base + ".calls").write_text(json.dumps(found), encoding="utf-8")
    os._exit(0)


def _sabotage(fault: Mapping[str, Any], notes: int | None) -> None:
    """Let the n-th call of those that write meet its fault."""
    real_write, passed = os.write, 0

    def instead_of(name: str) -> Any:
        real = getattr(os, name)

        def call(*args: Any, **more: Any) -> Any:
            nonlocal passed
            passed += 1
            if notes is not None:
                real_write(notes, f"{name}\n".encode())
            if passed != fault.get("at"):
                return real(*args, **more)
            if "errno" in fault:
                raise OSError(fault["errno"], os.strerror(fault["errno"]))
            if not fault.get("after"):
                os.kill(os.getpid(), fault["signal"])
            result = real(*args, **more)
            os.kill(os.getpid(), fault["signal"])
            return result

        return call

    for name in CALLS:
        setattr(os, name, instead_of(name))


def _at_first_call(asked: Mapping[str, Any], base: str) -> None:
    """Have the first file that is written start what goes on in many processes."""
    from optimise import files

    real_whole = files.write_whole

    def write_whole(*args: Any) -> None:
        files.write_whole = real_whole
        (_every if "kinds" in asked else _killed_again_and_again)(asked, base)
        real_whole(*args)

    files.write_whole = write_whole


def _child(asked: Mapping[str, Any], base: str) -> None:
    """Meet the fault and run the command; never returns."""
    os.setsid()
    signal.signal(signal.SIGINT, signal.default_int_handler)
    os.chdir(asked["cwd"])
    handles = [os.open(base + end, os.O_WRONLY | os.O_CREAT, 0o666) for end in (".out", ".err")]
    notes = os.open(base + ".calls", os.O_WRONLY | os.O_CREAT, 0o666)
    if "stdout" in asked and asked["stdout"] is not None:
        handles[0] = os.open(asked["stdout"], os.O_WRONLY)
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
    os.dup2(handles[0], 1)
    os.dup2(handles[1], 2)
    sys.stdout = open(1, "w", encoding=asked.get("encoding", "utf-8"), closefd=False)  # noqa: SIM115
    sys.stderr = open(2, "w", encoding="utf-8", closefd=False)  # noqa: SIM115
    if "stdout" in asked and asked["stdout"] is None:
        os.close(1)
        sys.stdout = None  # type: ignore[assignment]
    for module in asked.get("without", ()):
        sys.modules[module] = None  # type: ignore[assignment]
    if "clock" in asked:
        time.time = lambda: asked["clock"]
    for name, value in asked.get("limits", {}).items():
        resource.setrlimit(getattr(resource, name), (value, value))
    if asked.get("stranger") and os.geteuid() == 0:
        os.setgroups([])
        os.setgid(NOBODY)
        os.setuid(NOBODY)
    if "kinds" in asked or "kills" in asked:
        _at_first_call(asked, base)
    if asked.get("at") or asked.get("count"):
        _sabotage(asked, notes)
    sys.argv = ["ramfront", *asked["words"]]
    code = 0
    try:
        from optimise.cli import run

        run()
    except SystemExit as stop:
        code = stop.code if isinstance(stop.code, int) else int(stop.code is not None)
    except BaseException:
        import traceback

        traceback.print_exc()
        code = 70
    for stream in (sys.stdout, sys.stderr):
        with suppress(OSError, ValueError, AttributeError):
            stream.flush()
    os._exit(code)


def _warm(folder: Path) -> None:
    """Import all that commands import, by running them; a stranger may not be able to."""
    import contextlib
    import io

    import pyarrow.parquet  # noqa: F401
    import rich.markdown  # noqa: F401

    from optimise.cli import run

    study, out = folder / "warm", folder / "out"
    for words in (["new", study], ["report", study, "--out", out], ["check"], ["check", study]):
        sys.argv = ["ramfront", *map(str, words)]
        quiet = io.StringIO()
        redirected = contextlib.redirect_stdout(quiet), contextlib.redirect_stderr(quiet)
        with redirected[0], redirected[1], suppress(SystemExit):
            run()
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    gc.freeze()


def main() -> None:
    """Answer questions until standard input ends."""
    import tempfile

    with tempfile.TemporaryDirectory() as name:
        _warm(Path(name))
    print("{}", flush=True)
    started = 0
    for line in sys.stdin:
        question = json.loads(line)
        if "wait" in question:
            _, status = os.waitpid(question["wait"], 0)
            print(json.dumps({"status": status}), flush=True)
            continue
        started += 1
        base = f"{question['folder']}/child-{started}"
        pid = os.fork()
        if pid == 0:
            _child(question["start"], base)
        print(json.dumps({"pid": pid, "base": base}), flush=True)


if __name__ == "__main__":
    main()
