"""Studies: what a person writes down about a machine and the parts that could go on it."""
