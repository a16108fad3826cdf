"""Shares of an exact search that are done, in a file: a search that was killed goes on with them.

A share's answer is kept as soon as it is there, in a transaction of its own (SQLite), under a
digest of what was asked: several processes may work at one file. Arrays are kept in numpy's own
format and the rest as JSON, so that reading a file runs nothing that is in it.
"""

from __future__ import annotations

import dataclasses
import hashlib
import io
import json
import pickle
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimise.errors import CallError, OutputError, shown_path
from optimise.search.agreement import signature
from optimise.search.brute import Designs
from optimise.search.problem import Branches, Tally
from optimise.search.stores import OTHER_FILE, refuse_without_folder
from optimise.search.survey import Surveyed, Tables

PATIENCE = 60.0
"""Seconds for which another process may be writing."""
_KINDS: dict[str, type[Any]] = {
    kind.__name__: kind for kind in (Branches, Designs, Surveyed, Tables)
}
_TABLES = """
create table if not exists search (study text primary key);
create table if not exists shares (
    asked text primary key, evaluated integer, branches integer, answer blob
);
"""
_FIRST = "insert into search select ? where not exists (select 1 from search)"


class KeptShares:
    """A file of shares of searches of one study.

    Parameters
    ----------
    file
        Made where it is not there.
    study
        Bytes that are the same for the same price lists and setting, and for no others.

    Raises
    ------
    CallError
        The file is none of this kind, or of another study or version.
    """

    def __init__(self, file: Path, study: bytes) -> None:
        self._shown = f"--store {shown_path(str(file))}"
        found = hashlib.sha256(json.dumps(signature(), sort_keys=True).encode() + study)
        mine = found.hexdigest()
        with self._read():
            refuse_without_folder(self._shown, file)
            if file.exists() and not file.is_file():
                raise CallError(f"{self._shown}: no file but something else; name another")
            self._base = sqlite3.connect(file, timeout=PATIENCE)
            there = {name for (name,) in self._base.execute("select name from sqlite_master")}
            if there and "shares" not in there:
                raise CallError(
                    f"{self._shown} holds something else, such as a search with ranges; "
                    "name another file"
                )
            self._base.executescript(_TABLES)
            with self._base:
                self._base.execute(_FIRST, (mine,))
            ((held,),) = self._base.execute("select study from search").fetchall()
        if held != mine:
            raise CallError(
                f"{self._shown} holds shares of another study, --set, price list or version; "
                "name another file"
            )

    def find(self, asked: str) -> tuple[Any, Tally] | None:
        """Answer to a share and what it took; None where it is not kept."""
        with self._read():
            row = self._base.execute(
                "select evaluated, branches, answer from shares where asked = ?", (asked,)
            ).fetchone()
        if row is None:
            return None
        try:
            return _told(row[2]), Tally(int(row[0]), int(row[1]))
        except Exception:  # what is torn may fail in any way as it is unpacked
            raise self._refusal("a share in it is torn") from None

    def keep(self, asked: str, answer: object, tally: Tally) -> None:
        """Keep an answer; that of another process to the same share is the same."""
        try:
            with self._base:
                self._base.execute(
                    "insert or ignore into shares values (?, ?, ?, ?)",
                    (asked, tally.evaluated, tally.branches, _written(answer)),
                )
        except sqlite3.OperationalError as error:
            raise OutputError(f"{self._shown}: cannot write: {error}") from None
        except sqlite3.DatabaseError as error:
            raise self._refusal(str(error)) from None

    @contextmanager
    def _read(self) -> Iterator[None]:
        try:
            yield
        except (sqlite3.Error, OSError, ValueError) as error:
            raise self._refusal(str(error)) from None

    def _refusal(self, why: str) -> CallError:
        return CallError(f"{self._shown} cannot be used: {why}; {OTHER_FILE}")


def asked_of(*what: object) -> str:
    """Digest of what is asked."""
    return hashlib.sha256(pickle.dumps(what)).hexdigest()


def _written(tree: object) -> bytes:
    """Tree of dataclasses, tuples, lists, arrays and numbers."""
    arrays: list[NDArray[Any]] = []

    def told(part: object) -> Any:
        if isinstance(part, np.ndarray):
            arrays.append(part)
            return {"array": len(arrays) - 1}
        if isinstance(part, (tuple, list)):
            return {type(part).__name__: [told(item) for item in part]}
        kind = type(part).__name__
        if dataclasses.is_dataclass(part):
            names = [field.name for field in dataclasses.fields(part)]
            assert _KINDS[kind] is type(part)
            return {kind: [told(getattr(part, name)) for name in names]}
        return part

    text = json.dumps(told(tree))
    file = io.BytesIO()
    named: dict[str, Any] = {f"a{nth}": array for nth, array in enumerate(arrays)}
    np.savez_compressed(file, text=np.array(text), **named)
    return file.getvalue()


def _told(data: bytes) -> Any:
    """Tree that was written."""
    with np.load(io.BytesIO(data), allow_pickle=False) as found:

        def read(part: Any) -> Any:
            if not isinstance(part, dict):
                return part
            ((kind, inside),) = part.items()
            if kind == "array":
                return found[f"a{inside}"]
            items = [read(item) for item in inside]
            if kind in ("tuple", "list"):
                return tuple(items) if kind == "tuple" else items
            return _KINDS[kind](*items)

        return read(json.loads(str(found["text"])))
