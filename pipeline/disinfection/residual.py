"""Residual: the share of distribution samples in which no disinfectant could be told, 40 CFR 141.72(b)(3)."""

MOST_HPC_PER_ML = 500.0
"""Up to so many heterotrophic bacteria [1/mL] a sample counts as one with a detectable residual."""


def undetected_pct(
    measured: int, hpc_only: int, absent: int, absent_and_hpc: int, hpc_only_high: int
) -> float | None:
    """Return ``V = (c + d + e) / (a + b) x 100`` [%]; None without any sample.

    Parameters
    ----------
    measured, hpc_only : int
        a: samples in which the residual was measured; b: not measured, but heterotrophic bacteria were.
    absent, absent_and_hpc, hpc_only_high : int
        c: measured, none detected, bacteria not measured; d: none detected and more than 500 bacteria in a
        millilitre; e: residual not measured and more than 500.

    Notes
    -----
    The letters are those of the rule (2015 edition); the quotient is a missing graphic in the copy that was
    read, and stands here from memory.
    """
    samples = measured + hpc_only
    return 100.0 * (absent + absent_and_hpc + hpc_only_high) / samples if samples else None
