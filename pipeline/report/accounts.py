"""Accounts: what became of every row that was read for the period."""

from dataclasses import dataclass

from pipeline.week import Week

COUNTS = ("read", "stored", "known", "superseded", "refused")
"""The ledger's columns: read = stored + already known + superseded + refused."""


@dataclass(frozen=True)
class Account:
    """One delivery, or all of them together."""

    file: str
    source: str
    counts: dict[str, int]

    @property
    def adds_up(self) -> bool:
        """Whether every row read is accounted for."""
        return self.counts["read"] == sum(self.counts[name] for name in COUNTS[1:])


def accounts(week: Week) -> list[Account]:
    """Return the accounts of the period's deliveries, in the ledger's order."""
    return [_account(row) for row in week.deliveries.iter_rows(named=True)]


def _account(row: dict[str, object]) -> Account:
    counts = {name: int(str(row.get(name) or 0)) for name in COUNTS}
    return Account(str(row.get("file") or ""), str(row.get("source") or ""), counts)


def total(lines: list[Account]) -> Account:
    """Return the sum of some accounts."""
    return Account("", "", {name: sum(line.counts[name] for line in lines) for name in COUNTS})
