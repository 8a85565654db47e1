# Words for the bins.


## part

part-bins = Bins

## zone

zone-too_dry = Too dry
zone-dry = Dry
zone-right = Right
zone-wet = Wet
zone-too_wet = Too wet

## left

left-horizon = 10 days or more
left-hour = less than an hour
left-beyond = not within 10 days
left-passed = already
left-in = in { $length }
left-about = in about { $length }
left-perhaps_now = perhaps now
left-earliest = at the earliest in { $length }
left-earliest_at = at the earliest in { $length } ({ $at })

## bins

bins-need =
    { $count ->
        [one] { $count } bin needs you
       *[other] { $count } bins need you
    }
bins-well = All bins are right
bins-well_count =
    { $count ->
        [one] { $count } bin is right
       *[other] { $count } bins are right
    }
bins-none = No bin is filled
bins-none_do = No bin is filled, as far as the logbook knows. To enter one: { $command }
bins-empty = Empty, as far as the logbook knows: choose one to fill it
bins-is_empty = Nothing is in it, as far as the logbook knows.
bins-explained = Worked out at { $at } from what was put in, air, heat and what was written. Bands hold four times in five.
bins-as_of = Worked out at { $at }.
bins-to_place = Its readings
bins-unknown = Not known
bins-no_air = Its moisture cannot be worked out: no reading of air temperature and humidity, of the place or of its room.
bins-failed = Its moisture cannot be worked out: an error of the program ({ $kind }); its log tells more.
bins-finishing = Dries on purpose
bins-no_dry_alarm = It is dried on purpose and does not alarm as too dry.
bins-no_limits = No limits
bins-dry_soon = Dry before long
bins-hot_soon = Too hot soon
bins-too_hot = Too hot
bins-hot_do = Spread it thinner, stir it, open the cover and hold the next feed back. A fan may help.
bins-left = Too dry { $left }
bins-warning = Dry warning ({ $limit }): { $left }.
bins-limit = Dry limit ({ $limit }): { $left }.
bins-likely_dry = Likely ({ $chance }) too dry by { $at }.
bins-may_be_dry = May be too dry by { $at } (chance { $chance }).
bins-water = Add { $amount }: back to { $target }. In portions, stir, stop before it pools.
bins-room = Room for { $amount } up to { $target }.
bins-bran = Mix in { $amount } of dry bran: down to { $target }.
bins-no_water = No water is needed.
bins-advice_water = About { $amount } bring it back to { $target }.
bins-advice_hours = Most likely too dry in { $length }.
bins-advice_dry = It is too dry already.
bins-advice_bran = { $amount } of dry bran bring it down to { $target }.
bins-loss = It loses { $rate } g of water an hour ({ $low } to { $high }).
bins-loss_small = It loses less than { $most } g of water an hour; the air is too damp to tell more.
bins-condenses = Water condenses on it, { $rate } g an hour.
bins-never_weighed = Never weighed: one weighing makes all this far surer.
bins-filled_in = { $length } without readings were filled in from usual days.
bins-no_usual_day = Too little was measured to know a usual day here; the air is taken to stay as it was.
bins-heat = Heat:
bins-above_air = { $excess } above the air
bins-below_air = { $excess } below the air
bins-rising = rising { $rate } an hour
bins-falling = falling { $rate } an hour
bins-at_limit = at or above the high limit of { $limit }
bins-limit_in = { $limit } at the earliest in { $early }
bins-limit_about = { $limit } in about { $middle }, at the earliest in { $early }
bins-limit_far = { $limit } not within a day at this trend.
bins-heat_made = About { $power } W/m² come from larvae and microbes.
bins-heat_above = { $hours } h above { $level }
bins-heat_past = Highest { $highest }, { $at }; { $above } in the last eight days, or since it was filled.
bins-heat_usual = That is usual: nine measured bins with a usual yield peaked at { $peaks } °C and stood { $hours_38 } h above 38 °C, { $hours_40 } h above 40 °C and { $hours_42 } h above 42 °C.
bins-heat_unusual = That is more than usual: nine measured bins with a usual yield peaked at { $peaks } °C and stood { $hours_38 } h above 38 °C, { $hours_40 } h above 40 °C and { $hours_42 } h above 42 °C.
harvest-ripe = Larvae: about { $now } now, and about { $kg } by { $day } ({ $band }), when they are heaviest.
harvest-grows_on = Larvae: about { $now } now, and about { $kg } by { $day } ({ $band }); they grow on then.
harvest-past = Larvae: about { $kg } now ({ $band }). They have been at their heaviest: harvest them.
harvest-band = { $low } to { $high }
harvest-hungry = Given less than they would eat: about { $feed } of dry feed more. Without it they stay at about { $each } mg.
bins-filled = Filled { $at }
bins-filled_with = { $kg } of { $substrate } at { $moisture }
bins-surface = { $area } m²
bins-moisture_now = Moisture now: { $moisture }
moisture-probe = by the probe
moisture-entered = worked out from what was entered
bins-figure = Moisture { $moisture }, { $basis }.
bins-moved = Too dry: before in { $before }, now in { $now }.
bins-gauge = Moisture { $now }, between { $low } and { $high }
bins-curve = Moisture
bins-curve_said = Until { $now } as worked out, then as expected. The band holds four times in five.
bins-key_limits = between the limits
bins-key_ahead = still to come
bins-key_added = water or feed
bins-key_measured = weighed or tested

## probe

probe-stale = Moisture probe: no fresh reading (last index { $index }).
probe-in_air = Moisture probe { $index }: it stands in air or was pulled out; push it back in. It does not count now.
probe-broken = Moisture probe { $index }: cable or probe is broken. It does not count.
probe-index = Moisture probe: index { $index }, not a moisture until it is calibrated in this substrate.
probe-outside = Moisture probe: { $moisture }, beyond what it was calibrated for.
probe-moisture = Moisture probe: { $moisture } by its calibration in this substrate.
probe-calibrate = To calibrate it: rearing-monitor calibrate probe { $sensor }

## substrate

substrate-wheat_bran = wheat bran
substrate-chicken_feed = chicken feed
substrate-kitchen_waste = kitchen waste

## bin_picture

bin_picture-title = { $bin }: moisture
bin_picture-band = Band: four times in five.
bin_picture-target = target
bin_picture-dry_limit = dry limit
bin_picture-dry = dry
bin_picture-wet = wet
bin_picture-wet_limit = wet limit
bin_picture-temperature = Temperature:
bin_picture-substrate = substrate
bin_picture-air = air
bin_picture-now = now
bin_picture-marks = filled dot: weighed or tested; open dot: stirred; stroke above: water or feed
