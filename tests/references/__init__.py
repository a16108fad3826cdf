"""Numbers from outside the project, each with its source, for the tests and for printing."""
