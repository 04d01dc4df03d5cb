"""The page to draw a site on."""
