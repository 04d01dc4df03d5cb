"""Where water runs, stands and leaves."""
