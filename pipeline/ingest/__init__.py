"""Ingest: an export's bytes become readings of LONG and refused rows; nothing here touches the archive."""
