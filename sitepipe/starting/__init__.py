"""From nothing to a site folder."""
