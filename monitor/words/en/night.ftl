# The night: page, report, message.


## night

night-wrong_now =
    { $count ->
        [one] { $count } thing wrong now
       *[other] { $count } things wrong now
    }
night-well_now = All well now
night-alarms =
    { $count ->
        [one] { $count } alarm in the night
       *[other] { $count } alarms in the night
    }
night-quiet = a quiet night
night-span = { $start } to { $end }
night-other = Other nights
night-earlier = night before
night-later = night after
night-date = Night to
night-show = Show
night-wrong_heading = Wrong now
night-to_alarms = What to do about it
night-to_today = Do it and tick it off on Now
night-alarms_heading = Alarms of the night
night-late_heading = Found out later; nobody was woken
night-monitor_heading = The monitor itself
night-nodes_heading = Look after these boards
night-places_heading = Places
night-week_heading = The week at a glance
night-place = Place
night-none = none
night-no_readings = No readings in this night.
night-out = { $length } out of range
night-gap = no readings for { $length }
night-drying = drying power { $mean } kPa on average, { $most } kPa at most
night-condensed = Water condensed on the coldest surface for { $length }: open it, wipe it, move the air
night-near_condensing = Condensation was near at { $at }: the coldest surface only { $margin } above the dew point
night-degree_days = { $earned } degree-days above { $threshold }, from { $measured }
night-degree_days_missing = { $length } without readings not counted
night-acknowledged = acknowledged by { $who } at { $at }
night-not_acknowledged = nobody acknowledged it
night-farthest = went as far as { $value }
night-over = over at { $at }
night-until = until { $at }
night-stands = still there
night-not_running = It did not run from { $start } to { $end } ({ $length }).
night-unsent =
    { $count ->
        [one] { $count } message waits to be sent.
       *[other] { $count } messages wait to be sent.
    }
night-nothing_known_now = Nothing wrong is known
night-no_alarm = no alarm in the night
night-blind =
    { $count ->
        [one] little or nothing was measured in { $count } place
       *[other] little or nothing was measured in { $count } places
    }
night-from_air = the air
night-from_substrate = the substrate
night-from_air_in_doubt = a dense bin can run many degrees hotter than its air
night-dew_point = dew point at most { $value }
night-held_back = held back from { $at }: { $reason }
night-wrong_then =
    { $count ->
        [one] { $count } thing wrong at its end
       *[other] { $count } things wrong at its end
    }
night-well_then = All well at its end
night-nothing_known_then = Nothing wrong was known at its end
night-stopped = The monitor has stopped, what is wrong now is not known
night-quiet_so_far = quiet so far
night-before_first = the monitor did not watch yet
night-unknown_now =
    { $count ->
        [one] nothing is known of { $count } place now
       *[other] nothing is known of { $count } places now
    }
night-unknown_then =
    { $count ->
        [one] nothing was known of { $count } place at its end
       *[other] nothing was known of { $count } places at its end
    }
night-out_places =
    { $count ->
        [one] { $count } place was out of range, for { $length }
       *[other] { $count } places were out of range, for up to { $length }
    }
night-late =
    { $count ->
        [one] { $count } excursion was found out later
       *[other] { $count } excursions were found out later
    }
night-down = the monitor did not run for { $length }
night-gap_places =
    { $count ->
        [one] readings are missing in { $count } place
       *[other] readings are missing in { $count } places
    }
night-parts_failed =
    { $count ->
        [one] { $count } part could not be worked out
       *[other] { $count } parts could not be worked out
    }
night-part_failed = could not be worked out: an error of the program ({ $kind }); its log tells more
night-as_known = As it was known then: "now" and "today" mean that morning.
night-wrong_then_heading = Wrong at its end
night-put_aside = put aside by { $who } at { $at }
night-again = came again at { $at }
night-end_unknown = its end is not known, the settings no longer have it
night-probe = Moisture probe
night-none_of = no readings of { $quantity }
night-unsent_then =
    { $count ->
        [one] { $count } message of the day and night before had not been sent by then.
       *[other] { $count } messages of the day and night before had not been sent by then.
    }
night-heartbeat = The heartbeat address has not answered since { $since }: whoever watches it from outside may think that the monitor is dead. Look at heartbeat_url in [messages], and at the internet.
night-copy_fault = { $place } has had no copy since { $since }: { $why }
night-copy_never = { $place } has had no copy yet: { $why }

night-so_far = Tonight so far
night-day_so_far = Today so far
night-last = Last night
night-earlier_one = An earlier night
night-to_day = today so far
night-to_last = last night
night-span_so_far = { $start } until now
night-alarms_day =
    { $count ->
        [one] { $count } alarm today
       *[other] { $count } alarms today
    }
night-no_alarm_day = no alarm today
night-alarms_day_heading = Alarms of the day
night-week_nights = Night to
night-week_was = It was
night-within = within all limits
night-not_measured = no readings
night-everywhere = everywhere
night-more_places =
    { $count ->
        [one] { $count } more
       *[other] { $count } more
    }
mark-hot = hot
mark-cold = cold
mark-dry = dry
mark-humid = humid
mark-silent = silent
mark-other = beyond a limit
night-quiet_range = { $low } ({ $low_at }) to { $high } ({ $high_at })
night-quiet_heading = Quiet places
night-full = Show every place in full
night-brief = Show quiet places in one line

## the report as text

night-head = { $title }, night to { $date }: { $verdict }
night-range = { $name } { $low } ({ $low_at }) to { $high } ({ $high_at })
night-aside_heading = To note
night-water_heading = Bins
night-yields_heading = Last week’s yield, and what is to come
night-heat_heading = Heat of the bins, the worst first
night-walls_heading = Walls and lids
night-cohorts_week_heading = Cohorts this week
night-no_watering = cannot be worked out: { $why }
night-none_needs_water = none needs water before tomorrow
night-bin_unknown = not known, its moisture cannot be worked out
night-bin_wet = { $title }: { $zone } ({ $share }, { $basis }), mix in { $bran } of dry bran
night-bin_water = { $title }: { $amount }, { $when } ({ $share }, { $low } to { $high }, { $basis })
night-dry_now = now: it is too dry
night-dry_perhaps_now = now: it may be too dry already
night-dry_before = before { $at }: it may be too dry then ({ $chance } within a day); a weighing or a handful dried in the oven tells more
night-dry_likely = before { $at }: it is likely too dry then ({ $chance } within a day)
night-dry_in = too dry in { $length } at the earliest
night-wall_condenses = water condenses on its coldest surface; wipe it dry, move the air
night-wall_mould = coldest surface at { $humidity } or more for { $damp } h, mould may grow from { $grows } h on; air it, wipe it, warm it
night-no_forecast = no forecast: { $why }
night-not_entered = not entered yet: { $due }
night-more_due =
    { $count ->
        [one] and { $count } more: rearing-monitor forecast
       *[other] and { $count } more: rearing-monitor forecast
    }
night-not_over = This night is not over yet; the report goes as far as now.
