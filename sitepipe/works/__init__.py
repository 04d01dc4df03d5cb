"""What to build: mounds, hoop house, trellises, paths, tipping place, and the jobs in their order.

The stage calls the rooms in this order; ``taken`` are outlines that stand already, each room adds its own:

    choose_hoop_houses(site, terrain, drainage, sunlight, wetness, water_table, scores, settings, taken)
        -> (houses, refusals as (sentence, place))
    mounds
    choose_tipping_places(site, terrain, drainage, wetness, water_table, scores, settings, mounds, taken) -> places
    lay_paths(site, terrain, drainage, wetness, scores, settings, mounds, house or None, place or None, taken) -> paths
    lay_trellises(site, terrain, drainage, sunlight, wetness, water_table, scores, settings, mounds, taken, paths) -> rows
    order_of_building(mounds, place or None, paths, years) -> mound numbers, first built first
    list_jobs(site, plan, settings) -> jobs
"""
