import platform
import re
from pathlib import Path

import pytest

from pipeline.memory import give_back


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="other C libraries give memory back, or not, as they like")
def test_what_was_freed_goes_back_to_the_system():
    blocks = [bytes(600) for _ in range(300_000)]  # too small for maps of their own
    last = bytes(600)  # keeps the heap from shrinking by itself
    full = resident()
    del blocks
    give_back()
    assert full - resident() > 100 and len(last) == 600


def resident() -> float:
    """Megabytes of this process in memory."""
    return int(re.search(r"VmRSS:\s+(\d+)", Path("/proc/self/status").read_text())[1]) / 1024
