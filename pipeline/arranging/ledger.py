"""What came off the reel and what went back, from the steps in their order."""

from ..record import LedgerLine, Step
from ..trade import Trade


def keep_ledger(steps: list[Step], trade: Trade) -> list[LedgerLine]:
    return []
