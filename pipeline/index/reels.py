"""Every reel model of the shop: its episodes, and the models that the same service covers."""

import sqlite3
from dataclasses import dataclass, field
from functools import cache


@dataclass(frozen=True)
class Sister:
    """A model that the same service covers, who says so, when and in which words."""

    name: str
    episode: str
    start: float | None
    why: str | None


@dataclass
class Model:
    """`episodes` are (id, title) with the reel on the bench; `covered_by` those that say their service is this one's too."""

    name: str
    episodes: list[tuple[str, str]] = field(default_factory=list)
    sisters: list[Sister] = field(default_factory=list)
    mentioned: list[tuple[str, str]] = field(default_factory=list)


def reels(db: sqlite3.Connection) -> list[Model]:
    """Every model by name. The same service works both ways: each of the two stands with the other."""
    rows = list(db.execute("""
        SELECT e.id, e.title, r.maker, r.model, r.role, coalesce(r.why_start, r.start), r.why
        FROM reel r JOIN episode e ON e.num = r.episode ORDER BY e.id, r.start"""))
    makers: dict[str, dict[str, str]] = {}  # a model named without its maker belongs to the only maker that has one of that name
    for _, _, maker, model, *_ in rows:
        if maker:
            makers.setdefault(_key(model), {}).setdefault(_key(maker), maker)

    found: dict[str, Model] = {}

    @cache
    def model_of(maker: str | None, model: str) -> Model:
        known = makers.get(_key(model), {})
        maker = maker or (next(iter(known.values())) if len(known) == 1 else None)
        name = f"{maker} {model}" if maker else model
        return found.setdefault(_key(name), Model(name))

    bench: dict[str, list[Model]] = {}
    for id, title, maker, model, role, *_ in rows:
        here = model_of(maker, model)
        if role == "on_bench" and (id, title) not in here.episodes:
            here.episodes.append((id, title))
            bench.setdefault(id, []).append(here)
        elif role == "mentioned" and (id, title) not in here.mentioned:
            here.mentioned.append((id, title))
    for id, _, maker, model, role, start, why in rows:
        if role == "same_service":
            here = model_of(maker, model)
            for other in bench.get(id, ()):
                if other is not here:
                    here.sisters.append(Sister(other.name, id, start, why))
                    other.sisters.append(Sister(here.name, id, start, why))
    return sorted(found.values(), key=lambda m: m.name.lower())


def _key(name: str) -> str:
    return " ".join(name.lower().split())
