"""Setup: a look at a plant's exports drafts its config; every guess is marked and carries its evidence.

One module a kind of guess. Each is a function of what was read (names, times, values) and returns a
`Guess`: what would stand in the config, and why. Nothing is guessed that changes data: sentinels are
named as candidates and left to people, limits are never drafted.
"""
