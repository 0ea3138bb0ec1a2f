"""UTF-16: text of two bytes a sign, told by its mark, or by its pattern of zeros where it has none."""

MARKS = (b"\xff\xfe", b"\xfe\xff")
START = 4096
"""Bytes that are looked at."""


def utf16_of(data: bytes) -> str | None:
    """Return which UTF-16 a text that begins so is in; None where it is in none."""
    if data.startswith(MARKS):
        return "utf-16"
    start = data[:START]
    even, odd = start[::2], start[1::2]
    for zeros, letters, encoding in ((odd, even, "utf-16-le"), (even, odd, "utf-16-be")):
        if zeros.count(0) * 10 > len(zeros) * 9 and letters.count(0) * 10 < len(letters):
            return encoding
    return None
