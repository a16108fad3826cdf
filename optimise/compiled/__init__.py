"""Functions of columns as machine code."""
