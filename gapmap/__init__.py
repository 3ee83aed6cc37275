"""gapmap: what is still to find, where, and who should go when."""

__version__ = "0.1.0"
