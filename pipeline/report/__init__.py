"""Report: a Week in, a folder of pages and tables out; every page is one file that loads nothing."""
