"""Memory that is done with, given back to the system before the next stage takes its own."""

import ctypes
import gc


def give_back() -> None:
    """Return freed memory. The C library of Linux keeps a quarter of a gigabyte of what a speech model took; elsewhere there is nothing to ask."""
    gc.collect()
    try:
        trim = ctypes.CDLL(None).malloc_trim
    except (AttributeError, OSError, TypeError):
        return
    trim(0)
