"""Mutates study files, price lists and saved answers, and tells what they break.

A finding is any exception that is not the tool's own, a warning, a message that would not print,
more than 2 s to load, or more than 500 MB; the exit code is 1 where there is one.

``python -m tests.fuzz N [SEED]`` runs so many cases. Each starts from a study that loads, changes
bytes, values or nesting of one or two of its files, loads it and, where it still loads, checks the
machine as ``ramfront check`` does; one case in eight changes a saved answer of ``check --json`` and
compares as ``ramfront compare`` does. A case is told by seed and number and can be written out:
``python -m tests.fuzz 1 SEED:CASE``.

``python -m tests.fuzz --load N [SEED]`` is the quick form, on the same cases: files that a case
left alone are read once and for all, one in 500 of the studies that load is checked, and of the
answers, which are all read, one in forty is compared.

``python -m tests.fuzz --guided SECONDS [PART ...]`` looks for cases by the lines of code that they
reach (``pip install '.[fuzz]'``). Parts are ``study``, ``list``, ``units``, ``set`` (words after
``--set``), ``answer`` and ``table`` (saved answers, JSON and CSV); where none is named, all of them
share the time.
"""
