"""questions.md: what viewers still wait for, then what the footage answers."""

from ..record import Episode, Question
from .plain import clock, markdown, moment_link
from .settings import WritingSettings


def questions(episode: Episode, settings: WritingSettings) -> str:
    asked = [q for q in episode.questions if q.is_question]
    alike: dict[str, int] = {}
    for q in asked:
        if q.same_as:
            alike[q.same_as] = alike.get(q.same_as, 0) + 1
    first = [q for q in asked if not q.same_as]
    open_ones = sorted((q for q in first if q.status == "open"), key=lambda q: -alike.get(q.comment_id, 0))
    answered = [q for q in first if q.status == "answered"]
    lines = [f"# Viewer questions: {markdown(episode.title) or markdown(episode.id)}", "", f"## Still open: {len(open_ones)}", ""]
    lines += [_line(q, alike) for q in open_ones] or ["None."]
    lines += ["", f"## Answered: {len(answered)}", ""]
    for q in answered:
        lines.append(_line(q, alike))
        if q.reply:
            lines.append(f"  - {markdown(q.reply)}")
        for answer in q.answers:
            here = answer.episode == episode.id
            link = moment_link(episode.url, answer.start, settings.time_parameter) if here else None
            time = f"[{clock(answer.start)}](<{link}>)" if link else clock(answer.start)
            where = time if here else f"{markdown(answer.episode)}, {time}"
            doubt = "" if answer.confidence >= settings.check_below else " (check the footage)"
            lines.append(f"  - {where}: {markdown(answer.text)}{doubt}")
    if not answered:
        lines.append("None.")
    return "\n".join(lines) + "\n"


def _line(q: Question, alike: dict[str, int]) -> str:
    also = f", asked {alike[q.comment_id] + 1} times" if q.comment_id in alike else ""
    return f"- {' / '.join(map(markdown, q.asks)) or 'A question without words'} (comment {markdown(q.comment_id)}{also})"
