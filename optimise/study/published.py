"""The JSON Schema of study.toml as it is published, read without building it anew."""

from __future__ import annotations

from pathlib import Path

SCHEMA_FILE = Path(__file__).with_name("study.schema.json")


def published_schema() -> str:
    """Text of the JSON Schema (draft 2020-12) of study.toml."""
    return SCHEMA_FILE.read_text(encoding="utf-8")
