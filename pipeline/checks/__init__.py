"""Checks: one file a kind of finding; the file's name is the finding's ``kind``.

A check is a module with two names::

    @dataclass(frozen=True)
    class Settings: ...            # defaults with unit and source; [checks.<kind>] of plant.toml overrides

    def find(case: Case, settings: Settings) -> Iterator[Finding]: ...

`find` sees one tag up to `Case.as_of` and yields every finding of its past, oldest first, judged as it
would have been on the day its evidence first crossed its bar. It opens no file and reads no clock.
What other tags say of it (its twin, copies, standstills, balances) stands on the Case, put there by
`pipeline.neighbours` before any check looks; a check sees one tag's Case alone.
"""
