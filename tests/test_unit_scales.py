"""The table of scales against the library that it is worked out with."""

from tests import unit_scales


def test_the_table_is_what_the_library_gives() -> None:
    assert unit_scales.TABLE.read_text(encoding="utf-8") == unit_scales.written()
