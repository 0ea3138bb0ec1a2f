"""Upsets: what went wrong together, what moved first, and when it looked like this before.

`usual` turns a record into departures from its usual course, in robust sds of its own. `moves` finds where
they are abnormal, `onset` since when, `first` who was first; `group` makes upsets of what overlaps;
`similar` finds windows of the same shape; `doubt` asks whether it was the water or the instrument;
`account` puts it into words. Order is evidence, never a cause.
"""
