"""Uv: the dose that inactivates Cryptosporidium, Giardia and viruses, 40 CFR 141.720(d)(1).

The table holds for a validated reactor and filtered drinking water; it stands as printed (2015 edition).
"""

LOGS = (0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0)
DOSES_MJ_CM2: dict[str, tuple[float, ...]] = {
    "cryptosporidium": (1.6, 2.5, 3.9, 5.8, 8.5, 12.0, 15.0, 22.0),
    "giardia": (1.5, 2.1, 3.0, 5.2, 7.7, 11.0, 15.0, 22.0),
    "virus": (39.0, 58.0, 79.0, 100.0, 121.0, 143.0, 163.0, 186.0),
}


def credited_logs(organism: str, dose_mj_cm2: float) -> float:
    """Return the log credit of the highest printed dose that is reached [log]; 0 below the first."""
    reached = [log for log, dose in zip(LOGS, DOSES_MJ_CM2[organism], strict=True) if dose_mj_cm2 >= dose]
    return reached[-1] if reached else 0.0
