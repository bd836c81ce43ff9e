"""chapters.jsonld: the episode for search engines (schema.org VideoObject with Clips, and HowTo)."""

import json

from ..record import Episode
from .chapters import Mark
from .guide import Guide
from .plain import moment_link
from .settings import WritingSettings


def structured(episode: Episode, marks: list[Mark], guide: Guide, settings: WritingSettings) -> str:
    """JSON-LD to stand inside a page's script element: no < is written bare, so that no text can end that element."""
    video = {
        "@type": "VideoObject", "name": guide.title, "description": f"Service of the {guide.reel}" if guide.reel else guide.title,
        "duration": f"PT{round(episode.duration)}S", "url": guide.url,
        "hasPart": [{"@type": "Clip", "name": m.title, "startOffset": round(m.start, 3), "endOffset": round(m.end, 3),
                     "url": moment_link(episode.url, m.start, settings.time_parameter)} for m in marks],
    }
    how_to = {
        "@type": "HowTo", "name": guide.title,
        "tool": [{"@type": "HowToTool", "name": t.name} for t in guide.tools],
        "supply": [{"@type": "HowToSupply", "name": s.name} for s in guide.supplies],
        "step": [{"@type": "HowToSection", "name": p.title, "position": i, "itemListElement": [
            {"@type": "HowToStep", "position": s.number, "text": s.text, "url": s.moments[0].link} for s in p.steps]}
            for i, p in enumerate(guide.procedures, 1)],
    }
    graph = {"@context": "https://schema.org", "@graph": [video, how_to] if guide.procedures else [video]}
    said = json.dumps(_without_none(graph), ensure_ascii=False, indent=1)
    return said.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026") + "\n"


def _without_none(value):
    if isinstance(value, dict):
        return {k: _without_none(v) for k, v in value.items() if v is not None}
    return [_without_none(v) for v in value] if isinstance(value, list) else value
