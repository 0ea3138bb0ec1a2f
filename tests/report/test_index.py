"""Index: every report there is, newest first, whatever state its folder is in."""

import re
from dataclasses import replace
from pathlib import Path

from pipeline.clock import week_named
from pipeline.report.index import write_index
from pipeline.report.verdict import judge
from pipeline.report.write import write_report
from tests.report.harrow_fork import ZONE
from tests.report.weeks import full_week, quiet_week


def make(reports: Path) -> str:
    write_report(full_week(), reports / "2026-W46", {})
    earlier = replace(quiet_week(), period=week_named("2026-W45", ZONE))
    write_report(earlier, reports / "2026-W45", {})
    write_index(reports, "Harrow <Fork>")
    return (reports / "index.html").read_text(encoding="utf-8")


def test_newest_first_with_verdict_and_links_that_lead_somewhere(tmp_path: Path) -> None:
    page = make(tmp_path)
    assert page.index("2026-W46/weekly.html") < page.index("2026-W45/weekly.html")
    assert judge(full_week()).sentence in page
    assert "Harrow &lt;Fork&gt;" in page
    links = re.findall(r'href="([^"]+)"', page)
    assert len(links) >= 14
    assert all((tmp_path / link).is_file() for link in links)


def test_counts_stand_beside_the_verdict(tmp_path: Path) -> None:
    page = make(tmp_path)
    assert (
        "5 excursions; 9 findings: 2 to act on, 3 to watch, 4 for the record; 24,960 rows read, 8 refused."
        in page
    )


def test_what_is_over_or_settled_asks_for_nobody(tmp_path: Path) -> None:
    """A quiet week has nothing to act on, however pressing its findings were before they were over."""
    week = replace(full_week(), entries=(), asking=frozenset())
    write_report(week, tmp_path / "2026-W46", {})
    write_index(tmp_path, "Harrow Fork")
    page = (tmp_path / "index.html").read_text(encoding="utf-8")
    assert "9 findings: 0 to act on, 0 to watch, 4 for the record, 5 over or settled;" in page


def test_a_broken_folder_is_listed_and_breaks_nothing(tmp_path: Path) -> None:
    make(tmp_path)
    (tmp_path / "2026-W45" / "run.json").write_text("{")
    write_index(tmp_path, "Harrow Fork")
    page = (tmp_path / "index.html").read_text(encoding="utf-8")
    assert "2026-W45" in page
    assert "make the report again" in page
    assert "2026-W46/weekly.html" in page


def test_half_made_reports_are_not_listed(tmp_path: Path) -> None:
    make(tmp_path)
    (tmp_path / "2026-W45").rename(tmp_path / ".2026-W45.building")
    write_index(tmp_path, "Harrow Fork")
    assert "W45" not in (tmp_path / "index.html").read_text(encoding="utf-8")


def test_no_report_yet_is_a_sentence(tmp_path: Path) -> None:
    write_index(tmp_path, "Harrow Fork")
    assert "No report has been made yet." in (tmp_path / "index.html").read_text(encoding="utf-8")
