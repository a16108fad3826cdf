"""Tests of the report in a real browser."""
