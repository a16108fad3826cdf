"""ramfront: find the faster hydraulic wood splitter before buying the parts."""

__version__ = "0.1.0"
