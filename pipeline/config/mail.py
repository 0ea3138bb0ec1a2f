"""Mail: where a week's report is sent; ``[mail]`` of plant.toml."""

import re
from typing import Literal, Self

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

PORTS = {"starttls": 587, "tls": 465, "none": 25}
"""Submission, submission over TLS, and relay: RFC 6409, RFC 8314, RFC 5321."""

_ADDRESS = re.compile(r"[^@\s<>,;]+@[^@\s<>,;]+")

Page = Literal["weekly", "calibration-list", "field-sheet"]


class Mail(BaseModel):
    """A mail server, who writes, and to whom.

    `port` left out is the usual one of `security`. The password stands in a file of its own, relative to the
    plant's folder, so that the config can be shown to anybody. `attach` names pages of the report.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    server: str
    sender: str = Field(alias="from")
    to: tuple[str, ...]
    security: Literal["starttls", "tls", "none"] = "starttls"
    port: int | None = Field(default=None, gt=0, lt=65_536)
    user: str | None = None
    password_file: str | None = None
    attach: tuple[Page, ...] = ("weekly", "calibration-list", "field-sheet")

    @field_validator("sender")
    @classmethod
    def _an_address(cls, text: str) -> str:
        if not _ADDRESS.fullmatch(text):
            raise ValueError(f"{text!r} is not a mail address; write one such as plant@example.org")
        return text

    @field_validator("to")
    @classmethod
    def _addresses(cls, texts: tuple[str, ...]) -> tuple[str, ...]:
        if not texts:
            raise ValueError("nobody to write to; name at least one address")
        return tuple(map(cls._an_address, texts))

    @model_validator(mode="after")
    def _a_password_is_kept(self) -> Self:
        if (self.user is None) != (self.password_file is None):
            raise ValueError("user and password_file go together; give both or neither")
        if self.user and self.security == "none":
            raise ValueError("a password would travel open; set security to starttls or tls")
        return self

    @property
    def at_port(self) -> int:
        """The server's port."""
        return self.port or PORTS[self.security]
