"""Many parcels over one set of heights: each is a site folder and a run of its own, side by side on dask."""
