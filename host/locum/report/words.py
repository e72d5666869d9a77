"""Names of tests and of what went into them, as the workshop's page prints them."""

from __future__ import annotations

TESTS = {
    "exact.fisher": "Fisher's exact test",
    "exact.conditional_test": "exact conditional test of two rates",
    "exact.stratified_conditional": "exact conditional test within drives",
    "tails.poisson_at_least": "exact tail of a Poisson count",
    "exact.garwood": "exact limits of a rate",
    "exact.garwood_worst_of": "exact limits of a rate, corrected for the worst of several spells",
    "exact.clopper_pearson": "exact limits of a share",
    "exact.sprt": "sequential test",
    "coincidence.at_least": "coincidence, by shifting times within the drive",
    "quiet.quiet_hours_needed": "quiet time needed",
}
"""Where the verdict names its functions; other names are printed as they come."""


def plain_words(code: str) -> str:
    """A name of the code in words: known tests by their name, else without ``_`` and module."""
    if code in TESTS:
        return TESTS[code]
    words = code.rpartition(".")[2] if " " not in code else code
    return words.replace("_", " ").strip()
