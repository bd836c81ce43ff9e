"""What came off the reel and what went back, in the order it came off, from the steps.

A pure function of the steps: how the talk was cut into sentences does not change it.
"""

from dataclasses import dataclass, field

from ..record import LedgerLine, Step
from ..trade import Trade, data

DOUBTFUL = 0.6   # a removal less sure than this is not held against the host when nothing shows it going back, nor does a new piece less sure than this part old from new
UNSEEN = 0.9     # a fitting less sure than this is no new part when nothing shows it coming off
PROVES_ON = {"test", "tighten", "adjust"}
PROVES_OFF = {"loosen", "set aside", "clean", "degrease", "dry", "measure", "inspect"}


@dataclass
class _Row:
    part: str
    off: list[Step] = field(default_factory=list)
    on: list[Step] = field(default_factory=list)
    new: bool = False            # a new piece, which never came off
    replaced: bool = False       # it stays off: a new one went in its place
    proof: Step | None = None    # a later step that shows the part in its place, or where it was never taken off, an earlier one that has it in the hand

    @property
    def waits(self) -> bool:
        """Came off and is to go back."""
        return bool(self.off) and not self.on and not self.replaced


def keep_ledger(steps: list[Step], trade: Trade) -> list[LedgerLine]:
    """One line a part. Two removals in a row add up, a removal after the part went back opens a new line; a new piece has a line beside that of the old one."""
    rows: list[_Row] = []
    names = {name.lower(): t.name for t in trade.group("part") for name in t.names}
    in_hand: dict[str, Step] = {}
    tried: Step | None = None
    for step in sorted((s for s in steps if not s.undone), key=lambda s: s.start):
        if step.do == "remove":
            _take_off(rows, step)
        elif step.do == "install":
            _put_on(rows, step)
        elif step.do == "replace":
            _take_off(rows, step)
            _put_on(rows, step)
        elif step.do in PROVES_OFF:
            in_hand.setdefault(step.part, step)
        elif step.do in PROVES_ON:
            if step.do == "test" and step.confidence >= DOUBTFUL:
                tried = step
            for row in rows:
                if row.waits and _same(row.part, step.part):
                    row.proof = step
    rows = _paired(rows, names)
    for row in rows:
        if row.on and not row.off and not row.new and row.part in in_hand and in_hand[row.part].start < row.on[0].start:
            row.proof = in_hand[row.part]
    _tried(rows, tried)
    lines = [_line(row) for row in rows]
    return [line for line in lines if line]


def _same(a: str, b: str) -> bool:
    """One name, or one the longer form of the other ("plate", "side plate")."""
    a, b = a.lower(), b.lower()
    return a == b or a.endswith(" " + b) or b.endswith(" " + a)


def _paired(rows: list[_Row], names: dict[str, str]) -> list[_Row]:
    """What only came off and what only went on are one piece under two names where trade names or, with no other choice, heads agree, or one name stands in the other ("spacer", "spacer sleeve")."""
    for same in (lambda a, b: names.get(a.lower(), a) == names.get(b.lower(), b), lambda a, b: a.split()[-1] == b.split()[-1], lambda a, b: a in b.split() or b in a.split()):
        for row in [r for r in rows if r.on and not r.off and not r.new]:
            waiting = [r for r in rows if r.waits and r.off[0].start < row.on[0].start and same(r.part, row.part) and _counts_agree(r, row) and not _of_other_stuff(r.part, row.part)]
            if len(waiting) == 1:
                waiting[0].on, waiting[0].part = row.on, max((waiting[0].part, row.part), key=len)
                rows = [r for r in rows if r is not row]
    return rows


def _tried(rows: list[_Row], last: Step | None) -> None:
    """A reel that is tried at last when most of it is back together has in it what it does not turn without, though nobody said how that went back."""
    off = [r for r in rows if r.off and not r.replaced]
    if last is None or 2 * sum(bool(r.on) and r.on[0].start < last.start for r in off) < len(off):
        return
    new = {r.part for r in rows if r.new}
    for row in off:
        if row.waits and not row.proof and row.part not in new and row.part.lower().split()[-1] in data("parts")["turns_with"] and row.off[-1].start < last.start:
            row.proof = last


def _counts_agree(off: _Row, on: _Row) -> bool:
    """One screw that came off is not the six that go back."""
    return (_count(off.off) or 1) == (_count(on.on) or 1)


def _of_other_stuff(a: str, b: str) -> bool:
    """A leather washer is no carbon washer, however many there are of each."""
    a, b = ({w for w in name.lower().split() if w in data("parts")["materials"]} for name in (a, b))
    return bool(a and b) and not a & b


def _take_off(rows: list[_Row], step: Step) -> None:
    open_ = [r for r in rows if r.part == step.part and r.waits]
    if open_:
        open_[-1].off.append(step)
    else:
        rows.append(_Row(step.part, off=[step]))


def _put_on(rows: list[_Row], step: Step) -> None:
    waiting = [r for r in rows if r.waits]
    row = next((r for r in reversed(waiting) if r.part == step.part), None) or next((r for r in reversed(waiting) if _same(r.part, step.part)), None)
    new = step.new and step.confidence >= DOUBTFUL
    if new:
        if row is not None:
            row.replaced = True
        row = next((r for r in rows if r.new and r.part == step.part), None)
    elif row is None:
        row = next((r for r in reversed(rows) if r.part == step.part and not r.replaced), None)
    if row is None:
        rows.append(row := _Row(step.part, new=new))
    row.on.append(step)


def _line(row: _Row) -> LedgerLine | None:
    proof = [row.proof] if row.proof else []
    off, on = row.off or proof, row.on or proof
    qty_off, qty_on = _count(off), _count(row.on)
    sure = max((s.confidence for s in off), default=0.0), max((s.confidence for s in on), default=0.0)
    if not on and sure[0] < DOUBTFUL or not off and not row.new and sure[1] < UNSEEN:
        return None
    if row.new:
        status = "new"
    elif row.replaced:
        status = "replaced"
    elif not off:
        status = "not shown coming off"
    elif not on:
        status = "not shown going back"
    elif qty_off and qty_on and qty_off != qty_on:
        status = "count differs"
    else:
        status = "back on"
    confidence = min(x for x in sure if x) * (1.0 if row.off and row.on or row.new or row.replaced else 0.7)
    return LedgerLine(
        part=row.part, qty_off=qty_off, off=off[0].start if off else None, qty_on=qty_on, on=on[0].start if on else None, status=status,
        sentences=list(dict.fromkeys(i for s in [*off, *on] for i in s.sentences)), confidence=round(confidence, 2))


def _count(steps: list[Step]) -> int | None:
    counted = [s.qty for s in steps if s.qty]
    return max(counted) if counted else None
