"""Files that may hold anything, and results that are whole or not there."""

import doctest
import errno
import fcntl
import hashlib
import itertools
import os
import stat
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimise import files
from optimise.errors import CallError, Fault, OutputError, StudyError
from optimise.files import fingerprint, read_text, safe_output, write_whole


def test_documented_examples() -> None:
    outcome = doctest.testmod(files)
    assert outcome.attempted > 0
    assert outcome.failed == 0


def fault_of(path: Path, limit: int = files.LARGEST_TEXT) -> Fault:
    with pytest.raises(StudyError) as caught:
        read_text(path, limit)
    (fault,) = caught.value.faults
    assert fault.path == str(path)
    assert str(fault).isprintable()
    return fault


@pytest.mark.parametrize(
    ("data", "text"),
    [
        (b"", ""),
        (b"bore = 1\n", "bore = 1\n"),
        (b"\xef\xbb\xbfbore\r\nrod\r\n", "bore\nrod\n"),
        (b"a\rb", "a\rb"),
        ("Ø 90 mm".encode(), "Ø 90 mm"),
        (b"a\xef\xbb\xbf", "a\ufeff"),
    ],
)
def test_text_is_read(tmp_path: Path, data: bytes, text: str) -> None:
    path = tmp_path / "study.toml"
    path.write_bytes(data)
    assert read_text(path) == text
    assert read_text(str(path)) == text


def test_a_missing_file(tmp_path: Path) -> None:
    assert fault_of(tmp_path / "study.toml").found == "no such file"
    assert fault_of(tmp_path / "none" / "study.toml").found == "no such file"


def test_a_folder(tmp_path: Path) -> None:
    assert fault_of(tmp_path).found == "a folder"


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    assert "a pipe" in fault_of(pipe).found


def test_a_path_through_a_file(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    assert fault_of(tmp_path / "file" / "study.toml").found == os.strerror(errno.ENOTDIR)


def test_a_path_that_no_system_takes(tmp_path: Path) -> None:
    assert "null" in fault_of(tmp_path / "a\0b").found
    assert fault_of(tmp_path / ("a" * 5000)).found == os.strerror(errno.ENAMETOOLONG)


def test_a_link_to_itself(tmp_path: Path) -> None:
    link = tmp_path / "loop"
    link.symlink_to(link)
    assert fault_of(link).found == os.strerror(errno.ELOOP)


@pytest.mark.parametrize(
    ("error", "found"),
    [
        (PermissionError(errno.EACCES, "Permission denied"), "no permission to read it"),
        (OSError(errno.EIO, "Input/output error"), "Input/output error"),
    ],
)
def test_an_unreadable_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: OSError, found: str
) -> None:
    path = tmp_path / "study.toml"
    path.write_text("x")

    def refuse(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr(Path, "open", refuse)
    assert fault_of(path).found == found


def test_not_utf8_names_line_and_offset(tmp_path: Path) -> None:
    path = tmp_path / "study.toml"
    path.write_bytes(b"\xef\xbb\xbfone\r\ntwo \xff\n")
    fault = fault_of(path)
    assert fault.place == "line 2, byte offset 12"
    assert "0xff" in fault.found
    assert fault.expected == "UTF-8 text"


def test_a_cut_character_at_the_end(tmp_path: Path) -> None:
    path = tmp_path / "study.toml"
    path.write_bytes("one\nØ".encode()[:-1])
    assert fault_of(path).place == "line 2, byte offset 4"


def test_a_nul_names_line_and_offset(tmp_path: Path) -> None:
    path = tmp_path / "study.toml"
    path.write_bytes(b"one\ntwo\0")
    fault = fault_of(path)
    assert (fault.place, fault.found) == ("line 2, byte offset 7", "a NUL character")


def test_utf16_gets_its_hint(tmp_path: Path) -> None:
    path = tmp_path / "study.toml"
    path.write_bytes("bore".encode("utf-16"))
    assert "UTF-16" in fault_of(path).hint


def test_size_limit(tmp_path: Path) -> None:
    path = tmp_path / "study.toml"
    path.write_bytes(b"x" * 10)
    assert read_text(path, limit=10) == "x" * 10
    fault = fault_of(path, limit=9)
    assert (fault.found, fault.expected) == ("more than 9 bytes", "at most 9 bytes")


def test_a_file_far_too_large_names_the_limit(tmp_path: Path) -> None:
    path = tmp_path / "study.toml"
    with path.open("wb") as stream:
        stream.truncate(10**12)
    assert fault_of(path).expected == "at most 2000000 bytes"


@pytest.mark.parametrize("data", [b"", b"a\r\n\x00\xff", "Ø\n", "x" * 10**6])
def test_written_as_it_is(tmp_path: Path, data: str | bytes) -> None:
    path = tmp_path / "out.csv"
    for _ in range(2):
        write_whole(path, data)
        assert path.read_bytes() == (data.encode() if isinstance(data, str) else data)
    assert list(tmp_path.iterdir()) == [path]


def test_permissions_as_the_system_gives_them_or_as_they_were(tmp_path: Path) -> None:
    path, plain = tmp_path / "out.csv", tmp_path / "plain"
    plain.write_text("x")
    write_whole(path, "x")
    assert path.stat().st_mode == plain.stat().st_mode
    path.chmod(0o640)
    write_whole(path, "y")
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


def test_a_link_is_replaced_and_its_target_left_alone(tmp_path: Path) -> None:
    target, link = tmp_path / "target", tmp_path / "link"
    target.write_text("kept")
    link.symlink_to(target)
    write_whole(link, "new")
    assert not link.is_symlink()
    assert (target.read_text(), link.read_text()) == ("kept", "new")


def test_no_folder_to_write_in(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=os.strerror(errno.ENOENT)):
        write_whole(tmp_path / "none" / "out.csv", "x")


def test_a_folder_in_the_way(tmp_path: Path) -> None:
    path = tmp_path / "out"
    path.mkdir()
    with pytest.raises(OutputError, match="cannot write"):
        write_whole(path, "x")
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize(("name", "data"), [("a\0b", "x"), ("out", "\ud800")])
def test_what_cannot_be_written_at_all(tmp_path: Path, name: str, data: str) -> None:
    with pytest.raises(OutputError) as caught:
        write_whole(tmp_path / name, data)
    assert str(caught.value).isprintable()
    assert list(tmp_path.iterdir()) == []


class Saboteur:
    """Counts the calls that reach the system, makes writes short and the n-th call fail."""

    NAMES = ("open", "write", "fchmod", "fsync", "close", "replace")

    def __init__(self, fail_at: int, error: BaseException) -> None:
        self.calls: list[str] = []
        self.fail_at = fail_at
        self.error = error
        self.handles: set[int] = set()

    @property
    def failed(self) -> bool:
        return len(self.calls) >= self.fail_at

    def instead_of(self, name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*args: Any, **more: Any) -> Any:
            self.calls.append(name)
            fails = len(self.calls) == self.fail_at
            if name == "close":  # the handle is gone even where closing reports an error
                real(*args, **more)
                self.handles.remove(args[0])
            if fails:
                raise self.error
            if name == "close":
                return None
            if name == "write":
                return real(args[0], args[1][:7])
            result = real(*args, **more)
            if name == "open":
                self.handles.add(result)
            return result

        return call

    def install(self, patch: pytest.MonkeyPatch) -> None:
        for name in self.NAMES:
            patch.setattr(os, name, self.instead_of(name, getattr(os, name)))


OLD, NEW = b"the old content, whole", b"the new content, quite a bit longer"


@pytest.mark.parametrize("old", [OLD, None])
@pytest.mark.parametrize(
    "error",
    [
        OSError(errno.ENOSPC, "No space left on device"),
        OSError(errno.EIO, "Input/output error"),
        PermissionError(errno.EROFS, "Read-only file system"),
        KeyboardInterrupt(),
    ],
    ids=["full", "broken", "read-only", "interrupted"],
)
def test_every_call_may_fail(tmp_path: Path, old: bytes | None, error: BaseException) -> None:
    path = tmp_path / "front.csv"
    failures: list[str] = []
    for fail_at in itertools.count(1):
        path.unlink(missing_ok=True)
        if old is not None:
            path.write_bytes(old)
        saboteur = Saboteur(fail_at, error)
        caught: BaseException | None = None
        with pytest.MonkeyPatch.context() as patch:
            saboteur.install(patch)
            try:
                write_whole(path, NEW)
            except (OutputError, KeyboardInterrupt) as raised:
                caught = raised
        content = path.read_bytes() if path.exists() else None
        assert content in (old, NEW)
        assert set(tmp_path.iterdir()) <= {path}
        assert not saboteur.handles
        if not saboteur.failed:
            assert caught is None
            assert content == NEW
            break
        failures.append(saboteur.calls[fail_at - 1])
        replaced = "replace" in saboteur.calls[: fail_at - 1]
        assert content == (NEW if replaced else old)
        if isinstance(error, OSError):
            assert (caught is None) == replaced
            if caught is not None:
                assert str(caught) == f"cannot write {path}: {error.strerror}"
                assert caught.__cause__ is error
        else:
            assert caught is error
    writes = -(-len(NEW) // 7)
    assert failures == [
        "open",
        *["write"] * writes,
        *(["fchmod"] if old is not None else []),
        "fsync",
        "replace",
        "close",
        "open",
        "fsync",
        "close",
    ]


def test_an_unremovable_temporary_does_not_hide_the_cause(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise OSError(errno.EROFS, "Read-only file system")

    monkeypatch.setattr(os, "replace", refuse)
    monkeypatch.setattr(Path, "unlink", refuse)
    with pytest.raises(OutputError, match="Read-only file system"):
        write_whole(tmp_path / "out", "x")


def test_a_part_cleared_away_before_its_lock_is_made_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another write takes the new file for a left one, in the moment before it is locked."""
    real, moments = fcntl.flock, []

    def flock(handle: int, operation: int) -> None:
        if not moments:
            moments.append([path.name for path in tmp_path.iterdir()])
            write_whole(tmp_path / "other", "other")
            moments.append([path.name for path in tmp_path.iterdir()])
        real(handle, operation)

    monkeypatch.setattr(fcntl, "flock", flock)
    write_whole(tmp_path / "out", "x")
    (part,), others = moments
    assert part.endswith(".part")
    assert others == ["other"]
    assert {path.name: path.read_text() for path in tmp_path.iterdir()} == {
        "out": "x",
        "other": "other",
    }


def test_only_parts_of_its_own_are_cleared(tmp_path: Path) -> None:
    kept = [".part", ".0123456789abcdef.part", "ramfront-0123456789abcdef.part"]
    own = ".ramfront-0123456789abcdef.part"
    target = tmp_path / "elsewhere"
    target.mkdir()
    (target / "x").write_text("kept")
    (tmp_path / own.replace("f.", "0.")).symlink_to(target / "x")
    (tmp_path / own.replace("f.", "1.")).mkdir()
    os.mkfifo(tmp_path / own.replace("f.", "2."))
    for name in (*kept, own):
        (tmp_path / name).write_text("x")
    before = set(tmp_path.iterdir())
    write_whole(tmp_path / "out", "x")
    assert set(tmp_path.iterdir()) == before - {tmp_path / own} | {tmp_path / "out"}
    assert (target / "x").read_text() == "kept"


@pytest.mark.parametrize("unlocked", ["no fcntl", "no locks"])
def test_without_locks_nothing_is_cleared(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, unlocked: str
) -> None:
    """What cannot be known to be dead stays."""

    def refuse(*_: object) -> None:
        raise OSError(errno.ENOLCK, "No locks available")

    if unlocked == "no fcntl":
        monkeypatch.setattr(files, "fcntl", None)
    else:
        monkeypatch.setattr(fcntl, "flock", refuse)
    left = tmp_path / ".ramfront-0123456789abcdef.part"
    left.write_text("x")
    write_whole(tmp_path / "out", "new")
    assert set(tmp_path.iterdir()) == {left, tmp_path / "out"}
    assert (tmp_path / "out").read_text() == "new"


@pytest.mark.parametrize(
    "name",
    ["front.csv", "two words.csv", "a..b", ".hidden", "-x", "größe.html", "~", "con-rod.csv", "=1"],
)
def test_plain_names_stay_in_the_folder(tmp_path: Path, name: str) -> None:
    assert safe_output(tmp_path, name) == tmp_path / name
    write_whole(safe_output(tmp_path, name), "x")
    assert [found.name for found in tmp_path.iterdir()] == [name]


@pytest.mark.parametrize(
    "name",
    [
        "",
        ".",
        "..",
        "...",
        "../x",
        "../../x",
        "/etc/x",
        "a/b",
        "a/",
        "..\\x",
        "C:x",
        "C:\\x",
        "a\0b",
        "a\nb",
        "a\u202eb",
        "\ud800",
        "x.",
        "x ",
        ".. ",
        " x",
        "nul",
        "CON.csv",
        "com1.txt",
        "x" * 256,
        "é" * 128,
        "x" * 10_000,
    ],
    ids=lambda name: ascii(name[:12]),
)
def test_other_names_are_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(CallError) as caught:
        safe_output(tmp_path, name)
    assert str(caught.value).isprintable()
    assert len(str(caught.value)) < 200


@given(st.text(max_size=20))
def test_no_name_leaves_the_folder(name: str) -> None:
    folder = Path("reports").absolute()
    try:
        path = safe_output(folder, name)
    except CallError:
        return
    assert path.parent == folder
    assert Path(os.path.normpath(path)) == path
    assert path.name == name


def test_links_may_not_lead_out(tmp_path: Path) -> None:
    folder, outside = tmp_path / "reports", tmp_path / "outside"
    folder.mkdir()
    outside.write_text("x")
    (folder / "out").symlink_to(outside)
    (folder / "up").symlink_to("..")
    (folder / "nowhere").symlink_to(tmp_path / "not-there")
    (folder / "beside").symlink_to(tmp_path / "reports-2")
    for name in ("out", "up", "nowhere", "beside"):
        with pytest.raises(CallError, match="leads out"):
            safe_output(folder, name)
    (folder / "loop").symlink_to("loop")
    with pytest.raises(CallError, match="cannot be followed"):
        safe_output(folder, "loop")


def test_links_inside_and_a_linked_folder_are_fine(tmp_path: Path) -> None:
    folder, alias = tmp_path / "reports", tmp_path / "alias"
    folder.mkdir()
    alias.symlink_to(folder)
    (folder / "latest").symlink_to("front.csv")
    assert safe_output(folder, "latest") == folder / "latest"
    assert safe_output(alias, "latest") == alias / "latest"


def test_fingerprint_is_sha256_over_lengths_and_bytes() -> None:
    """SHA-256 itself is FIPS 180-4; the layout is rebuilt here by hand."""
    flat = b"\0\0\0\0\0\0\0\1a" + b"\0\0\0\0\0\0\0\2xy" + b"\0\0\0\0\0\0\0\1b" + b"\0" * 8
    assert fingerprint([("b", b""), ("a", b"xy")]) == hashlib.sha256(flat).hexdigest()
    nothing = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
    assert fingerprint([]) == nothing


PARTS = st.lists(st.tuples(st.text(max_size=4), st.binary(max_size=4)), max_size=4)


@given(PARTS, st.randoms())
def test_fingerprint_does_not_know_the_order(parts: list[tuple[str, bytes]], chance: Any) -> None:
    shuffled = parts.copy()
    chance.shuffle(shuffled)
    assert fingerprint(iter(shuffled)) == fingerprint(parts)


@given(PARTS, PARTS)
def test_fingerprint_tells_contents_apart(
    one: list[tuple[str, bytes]], other: list[tuple[str, bytes]]
) -> None:
    assert (fingerprint(one) == fingerprint(other)) == (sorted(one) == sorted(other))


def test_fingerprint_knows_where_a_name_ends() -> None:
    assert fingerprint([("ab", b"c")]) != fingerprint([("a", b"bc")])
    assert fingerprint([("a", b""), ("b", b"")]) != fingerprint([("a", b"b")])
