"""Tests of the report without a browser."""
