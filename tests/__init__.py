import app  # noqa: F401 - says so where this Python is too old to read what comes next
