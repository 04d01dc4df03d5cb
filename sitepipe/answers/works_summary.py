"""The proposed works as data: the part ``works`` of ``summary.json``."""

from __future__ import annotations

import math
from typing import Any

from sitepipe.works.record import HoopHouse, Impact, Mound, Path, Plan, Stake, Trellis

Data = dict[str, Any]


def summarise_works(plan: Plan) -> Data:
    """Return everything that is proposed."""
    return {
        "bench_mark": plan.bench_mark,
        "mounds": [_mound(mound) for mound in plan.mounds],
        "hoop_houses": [_hoop_house(house) for house in plan.hoop_houses],
        "hoop_house_refusals": [reason for reason, _ in plan.hoop_house_refusals],
        "trellises": [_trellis(trellis) for trellis in plan.trellises],
        "paths": [_path(path) for path in plan.paths],
        "tipping_places": [
            {
                "rank": p.rank,
                "access": p.access,
                "why": p.why,
                "barrow_work_m4": p.barrow_work,
                "mean_haul_m": p.mean_haul,
            }
            for p in plan.tipping_places
        ],
        "mounds_shaded_by_the_plan": [{"number": number, "lost_h_per_day": hours} for number, hours in plan.own_shade],
        "shade_of_the_plan": [
            {"work": c.work, "by": c.by, "months": list(c.months), "lost_h_per_day": c.hours} for c in plan.shade_costs
        ],
        "impact": _impact(plan.impact),
        "quantities": [
            {
                "material": q.material,
                "volume_m3": q.volume,
                "loads": q.loads,
                "barrows": q.barrows,
                "free_m3": q.free,
                "to_buy_m3": q.to_buy,
                "first_year": {"volume_m3": q.first_year, "loads": q.first_loads, "barrows": q.first_barrows},
                "later": {
                    "volume_m3": q.volume - q.first_year,
                    "loads": q.loads - q.first_loads,
                    "barrows": q.barrows - q.first_barrows,
                },
                "top_ups_m3": q.top_ups,
                "note": q.note,
            }
            for q in plan.quantities
        ],
        "years": [
            {
                "year": y.year,
                "builds_mounds": list(y.builds),
                "tops_up_mounds": list(y.tops_up),
                "loads": y.loads,
                "volume_m3": y.volume,
                "materials": [{"material": name, "volume_m3": volume} for name, volume in y.materials],
                "top_ups": [{"material": name, "volume_m3": volume} for name, volume in y.top_ups],
                "crest_heights_m": {str(number): height for number, height in y.crest_heights},
            }
            for y in plan.years
        ],
        "drain_instead": None
        if plan.drain is None
        else {
            "is_possible": plan.drain.is_possible,
            "fall_m": plan.drain.fall,
            "length_m": plan.drain.length,
            "spacing_m": plan.drain.spacing,
            "why": plan.drain.why,
        },
        "jobs": [
            {
                "number": j.number,
                "title": j.title,
                "detail": j.detail,
                "tools": list(j.tools),
                "quantity": j.quantity,
                "people": j.people,
                "work_h": j.people_hours,
                "caution": j.caution,
            }
            for j in plan.jobs
        ],
        "notes": list(plan.notes),
    }


def _mound(mound: Mound) -> Data:
    height = mound.height
    return {
        "number": mound.number,
        "crops": mound.crops,
        "fill": mound.fill,
        "roots_m": height.roots,
        "fringe_m": height.fringe,
        "depth_to_water_m": height.depth_to_water,
        "allowance_m": height.allowance,
        "finished_height_m": height.finished,
        "built_height_m": height.built,
        "settlement": height.settlement,
        "chance_that_roots_stay_dry": height.chance,
        "crest_length_m": mound.crest.length,
        "top_width_m": mound.top_width,
        "base_width_m": mound.base_width,
        "volume_m3": mound.volume,
        "materials_m3": dict(mound.materials),
        "barrows": mound.barrows,
        "work_h": mound.hours,
        "stakes": [_stake(stake) for stake in mound.stakes],
        "why": mound.why,
        "sureness": [{"how": how, "what": what} for how, what in mound.sureness],
    }


def _stake(stake: Stake) -> Data:
    return {
        "label": stake.label,
        "tapes_m": [{"from": name, "distance_m": distance} for name, distance in stake.from_points],
        "angle_between_tapes_deg": stake.angle,
        "height_above_bench_mark_m": stake.height,
    }


def _hoop_house(house: HoopHouse) -> Data:
    return {
        "rank": house.rank,
        "length_m": house.length,
        "width_m": house.width,
        "ridge_bearing_deg": house.bearing,
        "score": house.score,
        "reasons": [{"criterion": name, "score": score, "sentence": told} for name, score, told in house.reasons],
        "ridge_advice": house.advice,
        "roof_water_m3": house.roof_water,
        "roof_water_by_storm": [{"rain_m": rain, "water_m3": water} for rain, water in house.roof_water_by_storm],
        "roof_water_goes": house.roof_water_goes,
        "why": house.why,
        "stakes": [_stake(stake) for stake in house.stakes],
    }


def _trellis(trellis: Trellis) -> Data:
    return {
        "number": trellis.number,
        "length_m": trellis.line.length,
        "height_m": trellis.height,
        "bearing_deg": trellis.bearing,
        "posts": trellis.posts,
        "post_depth_m": trellis.post_depth,
        "clear_distance_m": trellis.clear_distance,
        "hours_lost": [
            {"month": month, "this_row_m2_h_per_day": own, "other_direction_m2_h_per_day": other}
            for month, own, other in trellis.hours_lost
        ],
        "why": trellis.why,
        "stakes": [_stake(stake) for stake in trellis.stakes],
    }


def _path(path: Path) -> Data:
    return {
        "number": path.number,
        "joins": list(path.joins),
        "length_m": path.line.length,
        "width_m": path.width,
        "is_main": path.is_main,
        "chips_m3": path.chips,
        "cut_m3": path.cut,
        "is_dug_in": path.is_dug_in,
        "cost_as_level_dry_path_m": path.cost,
        "shortest_way_as_level_dry_path_m": path.shortest_cost,
        "steepest_slope_deg": math.degrees(math.atan(path.steepest)),
        "along_water_m": path.in_flow,
        "crossings": len(path.crossings),
        "crossing_names": list(path.crossing_names),
        "why": path.why,
    }


def _impact(found: Impact | None) -> Data | None:
    if found is None:
        return None
    return {
        "passes": found.passes,
        "built": list(found.built),
        "ponded_area_before_m2": found.ponded_area_before,
        "ponded_area_after_m2": found.ponded_area_after,
        "deepest_before_m": found.deepest_before,
        "deepest_after_m": found.deepest_after,
        "displaced_m3": found.displaced,
        "boundary": [
            {
                "where": change.where,
                "volume_before_m3": change.volume_before,
                "volume_after_m3": change.volume_after,
                "depth_before_m": change.depth_before,
                "depth_after_m": change.depth_after,
                "is_new_outflow": change.is_new_outflow,
                "drains_before_m2": change.area_before,
                "drains_after_m2": change.area_after,
                "flow_depth_before_m": change.flow_before,
                "flow_depth_after_m": change.flow_after,
            }
            for change in found.boundary
        ],
        "outlets_that_grow": [
            {
                "where": outlet.where,
                "drains_before_m2": outlet.area_before,
                "drains_after_m2": outlet.area_after,
                "flow_depth_before_m": outlet.flow_before,
                "flow_depth_after_m": outlet.flow_after,
                "no_longer_leaves": outlet.came_from,
                "done_by": outlet.done_by,
            }
            for outlet in found.outlets
        ],
        "house": found.house,
        "road": found.road,
        "faults": [fault for fault, _ in found.faults],
        "remedy": found.remedy,
    }
