"""guide.html in a real browser: nothing runs, nothing is fetched, everyone can read it."""

import json
import re

import pytest

from pipeline.writing import WritingSettings
from pipeline.writing.guide import build_guide
from pipeline.writing.page import guide_html
from tests.writing.rich import rich_episode

HOSTILE = ["<script>document.title='ran'</script>", "<img src=x onerror=\"document.title='ran'\">", "\" onmouseover=\"x", "</style><script>1</script>", "{{ 7 * 7 }}"]


@pytest.fixture
def open_guide(page, tmp_path):
    def opened(episode):
        path = tmp_path / "guide.html"
        path.write_text(guide_html(build_guide(episode, WritingSettings())), "utf-8")
        page.get_log("browser")
        page.get(path.as_uri())
        return page
    return opened


def hostile_episode():
    episode = rich_episode("https://video.example/watch?v=<b>\"'")
    for i, thing in enumerate([*episode.steps, *episode.facts, *episode.chapters, *episode.tools, *episode.supplies, *episode.ledger, *episode.reels]):
        for field in ("text", "part", "title", "name", "tool", "supply", "model", "value"):
            if getattr(thing, field, None):
                setattr(thing, field, f"{getattr(thing, field)} {HOSTILE[i % len(HOSTILE)]}")
    episode.title = HOSTILE[0]
    return episode


def test_hostile_text_stays_text(open_guide):
    page = open_guide(hostile_episode())
    assert "ran" != page.title and page.execute_script("return document.scripts.length") == 0
    assert page.execute_script("return document.querySelectorAll('[onerror],[onmouseover],img').length") == 0
    shown = page.execute_script("return document.body.innerText")
    assert all(text in shown for text in ("<script>document.title='ran'</script>", "{{ 7 * 7 }}", "</style><script>1</script>"))
    assert [entry for entry in page.get_log("browser") if entry["level"] == "SEVERE"] == []


def test_the_page_styles_itself_under_its_own_policy(open_guide):
    page = open_guide(rich_episode())
    assert page.execute_script("return getComputedStyle(document.querySelector('h1')).fontWeight") == "700"
    policy = page.execute_script("return document.querySelector('meta[http-equiv=Content-Security-Policy]').content")
    assert "default-src 'none'" in policy and "unsafe" not in policy


def test_links_lead_into_the_footage_and_nowhere_else(open_guide):
    page = open_guide(rich_episode())
    links = page.execute_script("return [...document.links].map(a => a.getAttribute('href'))")
    outside = [link for link in links if not link.startswith("#")]
    assert outside and all(re.fullmatch(r"https://video\.example/watch\?v=petrel25(&t=\d+)?", link) for link in outside)
    inside = {link[1:] for link in links if link.startswith("#")}
    assert page.execute_script("return arguments[0].filter(id => !document.getElementById(id))", sorted(inside)) == []


def test_without_an_address_there_are_times_but_no_links(open_guide):
    page = open_guide(rich_episode(url="javascript:alert(1)"))
    assert page.execute_script("return [...document.links].filter(a => !a.hash).length") == 0
    assert "2:51" in page.execute_script("return document.body.innerText")


@pytest.mark.parametrize("width", [1280, 360])
def test_nothing_runs_off_the_side(open_guide, width):
    episode = rich_episode()
    episode.steps[0].text = "w" * 300
    episode.facts[0].text = "side plate " * 60
    page = open_guide(episode)
    page.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {"width": width, "height": 800, "deviceScaleFactor": 1, "mobile": False})
    over = page.execute_script("return document.documentElement.scrollWidth - document.documentElement.clientWidth")
    page.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
    assert over <= 0


def test_axe_finds_nothing_to_mend(open_guide):
    """axe-core, the accessibility engine, as axe-selenium-python carries it: WCAG A, AA and best practices."""
    from axe_selenium_python import Axe

    page = open_guide(rich_episode())
    # the page's own policy forbids scripts: the browser is told to let the examiner in
    page.execute_cdp_cmd("Page.setBypassCSP", {"enabled": True})
    page.refresh()
    axe = Axe(page)
    axe.inject()
    found = axe.run()
    page.execute_cdp_cmd("Page.setBypassCSP", {"enabled": False})
    assert [(v["id"], [n["html"][:120] for n in v["nodes"]][:3]) for v in found["violations"]] == []
    assert len(found["passes"]) > 20


def test_the_structured_data_can_not_leave_its_script_element():
    from pipeline.writing.chapters import published
    from pipeline.writing.structured import structured

    episode, settings = hostile_episode(), WritingSettings()
    said = structured(episode, published(episode.chapters, episode.duration, settings.chapters), build_guide(episode, settings), settings)
    assert "<" not in said
    video, how_to = json.loads(said)["@graph"]
    assert video["hasPart"][1]["startOffset"] == 25 and "<script>" in json.dumps(video)
    numbers = [step["position"] for section in how_to["step"] for step in section["itemListElement"]]
    assert numbers == list(range(1, len(numbers) + 1))
