"""The demo, small: one call from nothing to pages that a person can open."""

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from norms.errors import NormsError
from pipelines.demo import run_demo
from pipelines.progress import Progress


class Links(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found += [value for name, value in attrs if name in ("href", "src") and value]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo")
    with Progress() as progress:
        index = run_demo(folder, golfers=60, seed=5, progress=progress)
    assert index == folder / "index.html"
    return folder


def test_the_index_leads_to_every_page_and_to_nothing_else(folder: Path) -> None:
    links = Links()
    links.feed((folder / "index.html").read_text())
    assert len(links.found) >= 4
    assert all((folder / link).is_file() for link in links.found)
    pages = {path.name for path in folder.glob("*.html")} - {"index.html"}
    assert pages <= set(links.found)
    assert "14 of 14" in (folder / "index.html").read_text()


def test_the_director_sees_a_standard_in_use_or_why_there_is_none(folder: Path) -> None:
    index = (folder / "index.html").read_text()
    assert "A coaching standard, and who meets it" in index
    assert (folder / "standard.html").is_file() != ("Not shown: " in index)


@pytest.mark.parametrize("page", ["index", "student", "edition", "collect", "methods", "progress"])
def test_pages_need_no_network_and_no_script(folder: Path, page: str) -> None:
    text = (folder / f"{page}.html").read_text()
    outside = {u for u in re.findall(r"https?://[^\"'\s<)]+", text) if "www.w3.org" not in u}
    assert outside == set()
    assert "<script" not in text


def test_a_demo_is_written_over_an_earlier_one_but_over_nothing_else(
    folder: Path, tmp_path: Path
) -> None:
    (tmp_path / "thesis.txt").write_text("mine")
    with Progress() as progress:
        with pytest.raises(NormsError, match="no demo wrote"):
            run_demo(tmp_path, golfers=60, seed=5, progress=progress)
        assert (tmp_path / "thesis.txt").exists()
        first = (folder / "student.html").read_bytes()
        run_demo(folder, golfers=60, seed=5, progress=progress)
    assert (folder / "student.html").read_bytes() == first
