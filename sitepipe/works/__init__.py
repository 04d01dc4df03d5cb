"""What to build: what was drawn is kept, the rest is proposed around it, and all is tried on the water.

The stage calls the rooms in this order; ``works`` are those that stand, are wanted or were proposed before:

    draw_works(land, scene) -> what was drawn, worked out and judged
    plan_mounds(land, baseline, works) -> mounds and how they came to lie so
    choose_hoop_houses(land, taken) -> (houses, refusals)
    choose_tipping_places(land, mounds, taken) -> places
    settle_access(land, works, places)
        -> places ranked again along their own paths, the paths of the first, the way to each mound
    settle_plan(land, baseline, works) -> what all that does to the water, paths dug in, paths left out
    lay_trellises(land, works, taken, scene) -> rows
    shade_costs(land, works, scene) -> what each work takes from the others
    plan_years(works, land) -> years, quantities, what is short
"""
