"""What a test may say of time."""

from __future__ import annotations

import os


def processor_seconds() -> float:
    """Of this process and of those that it has waited for: other work on the machine does not count."""
    return sum(os.times()[:4])
