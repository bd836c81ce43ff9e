"""guide.pdf, read back with pikepdf (qpdf) and pdftotext (Poppler): tagged, titled, whole."""

import io
import shutil
import subprocess

import pikepdf
import pytest

from pipeline.corrections import Correction, lay_over
from pipeline.record import Step
from pipeline.writing import WritingSettings
from pipeline.writing.guide import build_guide
from pipeline.writing.paper import guide_pdf
from tests.writing.rich import rich_episode


def made(episode, folder, **settings) -> pikepdf.Pdf:
    chosen = WritingSettings(**settings)
    return pikepdf.open(io.BytesIO(guide_pdf(build_guide(episode, chosen), folder, chosen)))


def tags(pdf) -> list[str]:
    found, rest = [], [pdf.Root.StructTreeRoot]
    while rest:
        node = rest.pop()
        if isinstance(node, pikepdf.Array):
            rest += list(node)[::-1]
        elif isinstance(node, pikepdf.Dictionary):
            if "/S" in node:
                found.append(str(node.S))
            if "/K" in node:
                rest.append(node.K)
    return found


def words(pdf, tmp_path) -> str:
    pdf.save(tmp_path / "read.pdf")
    return subprocess.run(["pdftotext", "-layout", str(tmp_path / "read.pdf"), "-"], check=True, capture_output=True, text=True).stdout


def test_it_declares_and_carries_what_pdf_ua_1_asks(tmp_path):
    """ISO 14289-1: marked, tagged, titled, with a language, the title shown, identified in XMP, headings and tables in the tree. From memory."""
    pdf = made(rich_episode(), tmp_path)
    assert bool(pdf.Root.MarkInfo.Marked) and str(pdf.Root.Lang) == "en" and bool(pdf.Root.ViewerPreferences.DisplayDocTitle)
    meta = pdf.open_metadata()
    assert meta["pdfuaid:part"] == "1" and "Petrel 25" in meta["dc:title"]
    found = tags(pdf)
    assert found.count("/H1") == 1 and found.count("/H2") >= 9 and found.count("/Table") == 7 and "/TH" in found and "/Figure" in found and "/Link" in found
    assert all(page.get("/Tabs") == "/S" for page in pdf.pages if "/Annots" in page)


def test_every_picture_has_an_alternative(tmp_path):
    pdf, rest, figures = made(rich_episode(), tmp_path), [], []
    rest.append(pdf.Root.StructTreeRoot.K)
    while rest:
        node = rest.pop()
        if isinstance(node, pikepdf.Array):
            rest += list(node)
        elif isinstance(node, pikepdf.Dictionary):
            if node.get("/S") == "/Figure":
                figures.append(str(node.Alt))
            if "/K" in node:
                rest.append(node.K)
    assert len(figures) >= 12 and all(alt.startswith("QR code: ") for alt in figures)


@pytest.mark.parametrize("paper, size", [("a4", (595, 842)), ("us-letter", (612, 792))])
def test_paper_sizes(tmp_path, paper, size):
    pdf = made(rich_episode(), tmp_path, paper=paper)
    box = pdf.pages[0].mediabox
    assert (round(box[2]), round(box[3])) == size


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="Poppler is not installed")
class TestText:
    def test_hostile_text_comes_out_as_text(self, tmp_path):
        episode = rich_episode()
        episode.steps[0].text = '#eval("1") #image("/etc/passwd") $x$ *b* @ref <lab> <script>'
        hostile = Correction.model_validate({"about": "tool", "words": episode.tools[0].name, "set": {"name": "= heading"}})
        episode, lost = lay_over(episode, [hostile])
        assert not lost
        said = words(made(episode, tmp_path), tmp_path)
        assert '#eval("1") #image("/etc/passwd") $x$ *b*' in said and "= heading" in said and "<script>" in said

    def test_any_script_comes_out_or_is_marked_as_missing(self, tmp_path):
        episode = rich_episode()
        episode.steps[0].text = "Remove the מסרק, بكرة and \U0001f3a3 \U00013080 piece."
        said = words(made(episode, tmp_path), tmp_path)
        assert "קרסמ" in said or "מסרק" in said
        assert "\ufffd" in said  # the hieroglyph: no font at hand has it, and that is said

    def test_a_hundred_and_twenty_steps_stay_on_their_pages(self, tmp_path):
        episode = rich_episode(url=None)
        episode.steps = [Step(id=f"x{i}", start=i * 7, end=i * 7 + 5, do="install", part=f"{'very long named ' * 18}part {i}", text="") for i in range(120)]
        pdf = made(episode, tmp_path)
        said = words(pdf, tmp_path).replace("\n", " ")
        assert all(f"part {i}." in " ".join(said.split()) for i in (0, 60, 119))
        foot = [line for line in words(pdf, tmp_path).splitlines() if f"of {len(pdf.pages)}" in line]
        assert len(foot) == len(pdf.pages)

    def test_no_heading_stands_alone_at_the_foot_of_a_page(self, tmp_path):
        episode = rich_episode()
        titles = [p.title for p in build_guide(episode, WritingSettings()).procedures]
        for cut in range(0, 12):
            episode.tools = episode.tools[: 9 - cut % 9]
            episode.facts = episode.facts[cut:]
            pages = words(made(episode, tmp_path), tmp_path).split("\f")
            for page in pages:
                lines = [line.strip() for line in page.splitlines() if line.strip()]
                assert not lines or lines[-2:-1] == [] or lines[-2] not in titles
