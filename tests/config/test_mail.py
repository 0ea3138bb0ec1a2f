"""[mail] and [schedule] of plant.toml: every fault with its line, and nothing passed over in silence."""

from collections.abc import Callable

import pytest

from pipeline.config.load import Plant
from pipeline.errors import ConfigError

MakePlant = Callable[..., Plant]
SOUND = {"server": '"mail.example.org"', "from": '"plant@example.org"', "to": '["super@example.org"]'}


def _mail(**keys: str | None) -> str:
    given = {**SOUND, **keys}
    return "[mail]\n" + "\n".join(f"{key} = {value}" for key, value in given.items() if value is not None)


@pytest.mark.parametrize(
    ("security", "port"),
    [("starttls", 587), ("tls", 465), ("none", 25)],
)
def test_the_port_is_the_usual_one(make_plant: MakePlant, security: str, port: int) -> None:
    """RFC 6409 (submission, 587), RFC 8314 (submissions, 465), RFC 5321 (relay, 25)."""
    mail = make_plant(more=_mail(security=f'"{security}"')).file.mail
    assert mail is not None
    assert mail.at_port == port


@pytest.mark.parametrize(
    ("keys", "told"),
    [
        ({"from": None}, "mail.from: the key is missing"),
        ({"to": "[]"}, "mail.to: nobody to write to"),
        ({"to": '["super at example.org"]'}, "mail.to: 'super at example.org' is not a mail address"),
        ({"to": '["a@example.org", "b@example.org, c@example.org"]'}, "is not a mail address"),
        ({"from": '"me@example.org\\nBcc: all@example.org"'}, "is not a mail address"),
        ({"user": '"plant"'}, "user and password_file go together"),
        ({"user": '"plant"', "password_file": '"p"', "security": '"none"'}, "a password would travel open"),
        ({"attach": '["all"]'}, "use 'weekly', 'calibration-list' or 'field-sheet'"),
        ({"password": '"river otter"'}, "is not a key we know"),
    ],
)
def test_a_fault_of_the_mail_is_told(make_plant: MakePlant, keys: dict[str, str | None], told: str) -> None:
    with pytest.raises(ConfigError) as error:
        make_plant(more=_mail(**keys) + '\n[schedule]\nat = "25:00"')
    assert told in str(error.value)
    assert "'25:00': not a time of day" in str(error.value)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('day = "tue"', "not a weekday"),
        ('at = "5 am"', "not a time of day"),
        ("at = 5", "put it in quotes"),
        ('at = "05:00:30"', "more than hours and minutes"),
        ('hour = "05:00"', "is not a key we know"),
    ],
)
def test_a_fault_of_the_schedule_is_told(make_plant: MakePlant, text: str, told: str) -> None:
    with pytest.raises(ConfigError) as error:
        make_plant(more=f"[schedule]\n{text}")
    assert told in str(error.value)
