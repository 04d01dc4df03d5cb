"""What to build: mounds, hoop house, trellises, paths, tipping place, and the jobs in their order.

The stage calls the rooms in this order; ``taken`` are outlines that stand already, each room adds its own:

    choose_hoop_houses(land, taken)
        -> (houses, refusals as (sentence, place))
    mounds
    choose_tipping_places(land, mounds, taken) -> places
    settle_access(land, mounds, house or None, places)
        -> places ranked again along their own paths, the paths of the first, the way to each mound
    lay_trellises(land, mounds, taken, paths)
        -> rows
    shade_costs(land, mounds, house or None, rows, scene) -> what each work takes from the others
    list_jobs(site, plan, settings) -> jobs
"""
