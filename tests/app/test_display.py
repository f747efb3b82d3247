"""Progress where nobody looks at a terminal."""

import pytest

from synth.app.display import LINE_EVERY_S, Display, line
from synth.search.pool import PoolState
from synth.search.progress import EnvelopeProgress, Progress

ROOM = EnvelopeProgress("bay", 120, 300, 40, 12, 5, 0.4)
SHUT = EnvelopeProgress("box", 0, 0, 0, 0, 0, 0.0)


def news(seconds: float, phase: str = "search") -> Progress:
    return Progress(
        phase, 3, seconds, 95.0 if phase == "search" else None, 8.0, 4, 0, (ROOM, SHUT), PoolState(2, 1, 0, "")
    )


def test_a_line_now_and_then_where_stderr_is_no_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    now = [1000.0]
    with Display(clock=lambda: now[0]) as display:
        for k in range(100):  # a round a second
            now[0] = 1000.0 + k
            display.show(news(float(k)))
    told = capsys.readouterr()
    assert told.out == ""
    times = [text.split(",")[0] for text in told.err.splitlines()]
    assert LINE_EVERY_S == 30.0 and times == ["searching: 0:30", "searching: 1:00", "searching: 1:30"]


def test_the_line_says_how_far_each_open_envelope_is() -> None:
    wanted = "searching: 1:02, about 1:35 left; bay 120/300, 12 on the front, 5 of them verified"
    assert line(news(62.0)) == wanted
    assert line(news(62.0, "verify")).startswith("verifying the fronts: 1:02, 0 to verify; bay ")
