"""Needs: most pressing first, and nothing that could not be judged is left out."""

from pipeline.report.needs import needs
from tests.report.weeks import empty_week, full_week, quiet_week


def test_excursions_come_first_and_ask_whether_they_were_reported() -> None:
    found = needs(full_week())
    outside = [need for need in found if need.tone == "outside"]
    assert found[: len(outside)] == outside
    assert len(outside) == 5
    assert all(need.ask == "Possible exceedance, for review: already reported?" for need in outside)


def test_an_instrument_in_doubt_is_said_beside_the_excursion() -> None:
    chlorine = next(need for need in needs(full_week()) if need.subject == "Entry chlorine minimum")
    assert "in doubt" in chlorine.detail
    assert "no reason to wait" in chlorine.detail


def test_what_could_not_be_assessed_follows() -> None:
    unknown = next(need for need in needs(full_week()) if need.subject == "Effluent pH")
    assert unknown.tone == "unknown"
    assert (
        unknown.text.replace("\N{NO-BREAK SPACE}", " ")
        == "could not be assessed: 40 % of the record is good."
    )


def test_a_quiet_week_asks_nothing() -> None:
    assert needs(quiet_week()) == []


def test_an_empty_week_asks_for_its_exports() -> None:
    (need,) = needs(empty_week())
    assert need.tone == "unknown"
    assert "exports" in need.ask
