"""All tests; `python -m tests` runs them."""

BROWSER_DIED = 75
"""Exit status of the browser tests when nothing failed but the browser's own process."""
