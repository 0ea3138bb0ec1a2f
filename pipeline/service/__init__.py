"""Service: what an instrument's services say of it: errors found, fouling, calibration drift, intervals."""
