"""The bar: on a terminal only, not for what is over at once, and gone when the work is done."""

import io

import pytest

from pipeline.progress import Progress, line


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


class Clock:
    """Seconds that run when told to."""

    now = 0.0

    def __call__(self) -> float:
        return self.now


def test_a_line_by_hand() -> None:
    """6 of 24 marks for a quarter; 3 million readings in 2 s are 1.5 million a second."""
    text = line("Reading exports", 250, 1000, 3_000_000, 2.0)
    assert text == "Reading exports [######..................]  25%  3,000,000 readings, 1,500,000/s"


@pytest.mark.parametrize(("done", "total"), [(0, 0), (5, 0), (12, 10)])
def test_a_line_never_says_more_than_all(done: int, total: int) -> None:
    assert "100%" in line("Work", done, total, 0, 0.0)


def test_nothing_is_written_to_anything_but_a_terminal() -> None:
    stream, clock = io.StringIO(), Clock()
    with Progress(stream, "Work", clock) as tell:
        clock.now = 60
        tell(1, 2, 3)
    assert stream.getvalue() == ""


def test_what_is_over_at_once_shows_nothing() -> None:
    stream, clock = Terminal(), Clock()
    with Progress(stream, "Work", clock) as tell:
        clock.now = 0.4
        tell(2, 2, 3)
    assert stream.getvalue() == ""


def test_it_is_drawn_over_itself_at_most_ten_times_a_second_and_wiped() -> None:
    stream, clock = Terminal(), Clock()
    with Progress(stream, "Work", clock) as tell:
        for k in range(1, 201):
            clock.now = k / 100
            tell(k, 200, k)
        drawn = stream.getvalue()
    assert "\n" not in drawn
    assert 14 <= drawn.count("\r") <= 16  # 1.5 s of 2 s, every tenth
    assert stream.getvalue().endswith("\r" + " " * len(line("Work", 200, 200, 200, 2.0)) + "\r")
