"""The machine: parts, setting, solved strokes, results and limits. No files, no search."""
