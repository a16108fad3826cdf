"""Reading text that may be anything, and writing results that are never half there."""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import secrets
import stat
from collections.abc import Iterable
from pathlib import Path

from optimise.errors import CallError, Fault, OutputError, StudyError, quoted, shown, shown_path

try:
    import fcntl
except ImportError:  # a system without such locks
    fcntl = None  # type: ignore[assignment]

LARGEST_TEXT = 2_000_000
"""Largest file that is read as text, in bytes."""

SAVED_ANSWERS = (".json", ".csv", ".parquet")
"""Endings of files that hold saved answers."""
_LONGEST_NAME = 255
_DEVICE_NAMES = re.compile(r"(?:con|prn|aux|nul|com[0-9]|lpt[0-9])(?:\..*)?", re.IGNORECASE)
_TEMPORARY_MODE = 0o666
_PART = re.compile(r"\.ramfront-[0-9a-f]{16}\.part")


def read_text(path: str | os.PathLike[str], limit: int = LARGEST_TEXT) -> str:
    r"""Read a whole UTF-8 text file.

    Parameters
    ----------
    path
        The file, as the user named it; messages repeat it so.
    limit
        Largest size accepted, in bytes.

    Returns
    -------
    str
        The text without a byte order mark, every CRLF turned into a plain line feed.

    Raises
    ------
    StudyError
        With one fault: missing, a folder, no ordinary file, unreadable, too large, a NUL in it,
        or not UTF-8 (line and byte offset from the start of the file are named).
    """
    file = Path(path)
    try:
        mode = file.stat().st_mode
        if stat.S_ISDIR(mode):
            raise _unreadable(path, "a folder")
        if not stat.S_ISREG(mode):
            raise _unreadable(path, "a device, a pipe or a socket")
        with file.open("rb") as stream:
            data = stream.read(limit + 1)
    except FileNotFoundError:
        raise _unreadable(path, "no such file") from None
    except PermissionError:
        raise _unreadable(path, "no permission to read it") from None
    except (OSError, ValueError) as error:
        raise _unreadable(path, _reason(error)) from error
    if len(data) > limit:
        found, wanted = f"more than {limit} bytes", f"at most {limit} bytes"
        raise StudyError([Fault(os.fspath(path), "", found, wanted)])
    nul = data.find(b"\0")
    if nul >= 0:
        raise _not_text(path, data, nul, "a NUL character")
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        found = f"the byte 0x{data[error.start]:02x}, which is not UTF-8 there"
        raise _not_text(path, data, error.start, found) from None
    return text.removeprefix("\ufeff").replace("\r\n", "\n")


def _unreadable(path: str | os.PathLike[str], found: str) -> StudyError:
    return StudyError([Fault(os.fspath(path), "", found, "a text file that can be read")])


def _not_text(path: str | os.PathLike[str], data: bytes, offset: int, found: str) -> StudyError:
    line = data.count(b"\n", 0, offset) + 1
    place = f"line {line}, byte offset {offset}"
    wide = data.startswith((b"\xff\xfe", b"\xfe\xff"))
    hint = "the file looks like UTF-16, save it as UTF-8" if wide else "save the file as UTF-8"
    return StudyError([Fault(os.fspath(path), place, found, "UTF-8 text", hint)])


def _reason(error: OSError | ValueError) -> str:
    return (error.strerror if isinstance(error, OSError) else None) or str(error)


def write_whole(path: str | os.PathLike[str], data: str | bytes) -> None:
    """Write a file so that its path holds the old content or the new, never a part of either.

    The content goes to a temporary file in the same folder, is brought to the disk, and then takes
    the place of the old file in one step. Where the system allows it the folder is brought to the
    disk too; where it does not, the new file stands all the same. The permissions of an old file
    are kept. A symbolic link is replaced, not followed. Temporary files that killed processes left
    in the folder are cleared away first; a process that lives holds a lock on its own, which the
    system takes back when it dies.

    Parameters
    ----------
    path
        File to write; its folder must exist.
    data
        Bytes, or text to be written as UTF-8 with its line ends as they are.

    Raises
    ------
    OutputError
        It could not be written: the old file is whole and the temporary file removed.
    """
    target = Path(path)
    try:
        content = data.encode("utf-8") if isinstance(data, str) else data
        _clear_left_parts(target.parent)
        while not _written(target, content):
            pass
    except (OSError, ValueError) as error:
        raise OutputError(f"cannot write {shown_path(str(target))}: {_reason(error)}") from error
    _bring_folder_to_disk(target.parent)


def _written(target: Path, content: bytes) -> bool:
    """Write under another name and rename; False where that was cleared away before its lock."""
    temporary = target.with_name(f".ramfront-{secrets.token_hex(8)}.part")
    try:
        handle = os.open(temporary, _creation_flags(), _TEMPORARY_MODE)
        try:
            if _locked(handle) is False or os.fstat(handle).st_nlink == 0:
                return False
            _fill(handle, content, target)
            if fcntl is not None:  # the lock is held until the file has its name
                _replace(temporary, target)
        finally:
            with contextlib.suppress(OSError):
                os.close(handle)
        if fcntl is None:  # such a system moves no file that is open
            _replace(temporary, target)
    except BaseException:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)
        raise
    return True


def _replace(temporary: Path, target: Path) -> None:
    os.replace(temporary, target)  # noqa: PTH105 - tests fail this very call


def _locked(handle: int) -> bool | None:
    """Whether the lock on a file is ours now; None where there are no locks."""
    if fcntl is None:
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return None
    return True


def _clear_left_parts(folder: Path) -> None:
    """Remove temporary files whose lock nobody holds: their processes were killed."""
    with contextlib.suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if _PART.fullmatch(entry.name) and entry.is_file(follow_symlinks=False):
                with contextlib.suppress(OSError):
                    _clear_if_left(Path(entry.path))


def _clear_if_left(path: Path) -> None:
    handle = os.open(path, os.O_WRONLY | getattr(os, "O_NOFOLLOW", 0))
    try:
        if _locked(handle):
            path.unlink()
    finally:
        os.close(handle)


def _creation_flags() -> int:
    return os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)


def _mode_of(target: Path) -> int | None:
    """Permissions of an ordinary file that is there already."""
    try:
        mode = target.lstat().st_mode
    except FileNotFoundError:
        return None
    return stat.S_IMODE(mode) if stat.S_ISREG(mode) else None


def _fill(handle: int, content: bytes, target: Path) -> None:
    """Write everything through to the disk with the permissions of the target."""
    mode = _mode_of(target)
    left = memoryview(content)
    while left:
        left = left[os.write(handle, left) :]
    if mode is not None and hasattr(os, "fchmod"):
        os.fchmod(handle, mode)
    os.fsync(handle)


def _bring_folder_to_disk(folder: Path) -> None:
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def safe_output(folder: Path, name: str) -> Path:
    """Join a folder and the name of a file in it, when the name cannot lead anywhere else.

    Parameters
    ----------
    folder
        The folder chosen for results; it need not exist yet.
    name
        One plain name: no separator, no drive, not "." or "..", no character that does not print,
        no name that some systems keep for a device, at most 255 bytes.

    Returns
    -------
    Path
        ``folder / name``.

    Raises
    ------
    CallError
        The name is anything else, or stands for a symbolic link that leads out of the folder.

    Examples
    --------
    >>> safe_output(Path("reports"), "front.csv").as_posix()
    'reports/front.csv'
    """
    reason = _why_not_plain(name)
    if reason:
        raise CallError(f"output name {quoted(name)} {reason}")
    target = folder / name
    try:
        outside = target.is_symlink() and not target.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError) as error:
        raise CallError(
            f"output name {quoted(name)} cannot be followed: {shown(str(error))}"
        ) from error
    if outside:
        raise CallError(f"output name {quoted(name)} is a link that leads out of the folder")
    return target


def _why_not_plain(name: str) -> str:
    """Say why a name is no plain file name; "" when it is one."""
    checks = (
        (not name, "is empty"),
        (any(mark in name for mark in "/\\:"), "must be one plain name, without / or \\ or :"),
        (not name.isprintable(), "holds a character that does not print"),
        (name.startswith(" "), "must not start with a space"),
        (name.endswith((".", " ")), "must not end with a dot or a space"),
        (_DEVICE_NAMES.fullmatch(name) is not None, "is kept for a device by some systems"),
        (
            len(name.encode("utf-8", "surrogatepass")) > _LONGEST_NAME,
            f"is longer than {_LONGEST_NAME} bytes",
        ),
    )
    return next((reason for bad, reason in checks if bad), "")


def fingerprint(parts: Iterable[tuple[str, bytes]]) -> str:
    """SHA-256 over named contents, the same in whatever order they come.

    Parameters
    ----------
    parts
        Name and content of each part. Lengths are hashed too, so that moving bytes from a name to
        its content, or from one part to the next, gives another fingerprint.

    Returns
    -------
    str
        64 hexadecimal digits.

    Examples
    --------
    >>> one, two = ("study.toml", b"stroke"), ("pump.csv", b"price")
    >>> fingerprint([one, two]) == fingerprint([two, one])
    True
    """
    digest = hashlib.sha256()
    for name, content in sorted((name.encode("utf-8", "surrogatepass"), c) for name, c in parts):
        for piece in (name, content):
            digest.update(len(piece).to_bytes(8, "big"))
            digest.update(piece)
    return digest.hexdigest()
