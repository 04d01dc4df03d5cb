"""From the files of a site folder to a Site."""
