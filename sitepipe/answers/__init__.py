"""The answers in plain sentences and as data; the console, the page and the sheets all take them from here."""
