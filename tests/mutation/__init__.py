"""Do the tests notice when a kernel is wrong? One command breaks it a line at a time: ``python -m tests.mutation``."""
