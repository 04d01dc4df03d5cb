"""What to build: mounds, hoop house, trellises, paths, tipping place, and the jobs in their order.

The stage calls the rooms in this order; ``taken`` are outlines that stand already, each room adds its own:

    choose_hoop_houses(site, terrain, drainage, sunlight, wetness, water_table, scores, settings, taken)
        -> (houses, refusals as (sentence, place))
    mounds
    choose_tipping_places(site, terrain, drainage, wetness, water_table, scores, settings, mounds, taken) -> places
    settle_access(site, terrain, drainage, wetness, scores, settings, mounds, house or None, places)
        -> places ranked again along their own paths, the paths of the first (by lay_paths), the way to each mound
    lay_trellises(site, terrain, drainage, sunlight, wetness, water_table, scores, settings, mounds, taken, paths)
        -> rows
    shade_costs(site, settings, sunlight, mounds, house or None, rows, scene) -> what each work takes from the others
    list_jobs(site, plan, settings) -> jobs
"""
