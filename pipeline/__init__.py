"""Sideplate: footage of a reel service in, the whole publishing set out."""

__version__ = "0.1.0"
