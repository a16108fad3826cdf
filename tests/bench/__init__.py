"""Benchmarks, apart from the tests: ``python -m tests.bench`` runs all side by side in one go."""
