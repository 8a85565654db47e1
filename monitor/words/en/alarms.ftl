# Alarms: what is so, the rules behind it, what became of them, and messages about them.
# A word in {braces} is put in by the program: keep it as it is.

## trend

trend-rising = Rising { $rate } an hour, about { $later } in one hour if nothing changes.
trend-falling = Falling { $rate } an hour, about { $later } in one hour if nothing changes.
trend-rising_only = Rising { $rate } an hour.
trend-falling_only = Falling { $rate } an hour.
trend-steady = Steady.

## alarm

alarm-above = { $quantity } { $value }, should be below { $limit }
alarm-below = { $quantity } { $value }, should be above { $limit }
alarm-minutes_to_overheating = Within a degree of its high limit in about { $value } if it goes on like this
alarm-minutes_to_overheating_passed = Within a degree of its high limit, and still rising
alarm-hours_to_dry = May be too dry in { $value }
alarm-hours_to_dry_passed = May be too dry already
alarm-silent_minutes = Nothing heard for { $value }
alarm-dead_sensor_minutes = A sensor of it has given no good reading for { $value }
alarm-silent_node_share = { $value } of the boards are silent
alarm-unheard_nodes = Boards not heard yet: { $value }
alarm-store_fault = Readings cannot be stored
alarm-broker_way_fault = The broker takes what boards send, but does not pass it on: topic or rights
alarm-archive_lag_hours = The archive is { $value } behind
alarm-copy_age_hours = The last good copy of the database is { $value } old
alarm-copy_behind_hours = One place for copies has had none for { $value }
alarm-unsent_message_minutes = A message has waited for { $value } to be sent
alarm-since = since { $at } ({ $length })
alarm-between = within the limit again, by too little to be over
alarm-back = back within the limit
alarm-back_since = back within the limit since { $at }
alarm-over_at = over at { $at } if it stays so
alarm-comes_at = the alarm comes at { $at } if it stays so
alarm-held_back = its alarm is held back
alarm-was_high = { $quantity } was { $value } at most, limit { $limit }
alarm-was_low = { $quantity } was { $value } at least, limit { $limit }
alarm-over_span = from { $start } to { $end } ({ $length }), over since then
alarm-shelved_until = put aside until { $at }
alarm-acknowledged = somebody has acknowledged it
alarm-seen_by = seen by { $who }, { $at }
alarm-over_line = { $what } · { $length }, until { $end }
alarm-no_newer = no newer reading
alarm-last_true = no newer reading, last seen so at { $at }
alarm-do = Do:
alarm-caution = Take care:
alarm-otherwise = If nobody acts:
alarm-acknowledge = I have seen it
alarm-seen = Seen
alarm-boards = They are { $boards }.
alarm-began_anew = This alarm began anew { $at }, after what you saw. Look at it and acknowledge it again.
alarm-aside_anew = { $who } put this alarm aside { $at }, after you took it back on your phone. Nothing was changed.
alarm-unknown = There is no such alarm. It may have gone with a change of the settings.

## alarms

alarms-none = No alarm
alarms-standing =
    { $count ->
        [one] { $count } alarm
       *[other] { $count } alarms
    }
alarms-over = Over, not yet acknowledged
alarms-see_all = Seen all
alarms-aside = Put aside or out of service
alarms-journal = What happened
alarms-to_health = How good the alarms themselves are

## shelve

shelve-heading = Put aside for a time
shelve-place = The whole place { $place } for
shelve-alarm = Only this alarm, for
shelve-put_back = Put back into service
shelve-explained = While it is put aside, nobody is told about it. It comes back by itself.
shelve-for = For
shelve-reason = Why
shelve-do = Put aside
shelve-end = Take it up again now
shelve-hours_wrong = Choose one of the times that are offered.

## event

event-activate = came
event-clear = over
event-acknowledge = acknowledged
event-shelve = put aside
event-unshelve = taken up again by hand
event-shelf_end = taken up again
event-suppress = held back
event-unsuppress = no longer held back
event-take_out_of_service = taken out of service
event-return_to_service = put back into service

## health

health-heading = How good the alarms are
health-explained = Measured over { $days } days with the measures of ISA-18.2 / IEC 62682. An alarm that comes too often, or that stands for days, is soon ignored.
health-too_short = Under { $days } days of data these figures are no ground for a verdict.
health-measure = Measure
health-figure = Figure
health-told = Alarms told
health-worst_day = Most alarms on one day that stood for more than a day
health-top_share = Share of the ten most frequent
health-per_day = Alarms a day
health-peak = Most alarms in ten minutes
health-flood = Share of time in a flood (more than 10 in ten minutes)
health-flood_advice = Look for the common cause; hold back the alarms that follow from it.
health-share = { $share } %
health-of_priority = Share of: { $word }
health-times =
    { $count ->
        [one] { $count } time
       *[other] { $count } times
    }
health-chatters = comes and goes
health-chatters_advice = Widen its deadband or its delay in the settings.
health-stood = stood for { $length }
health-stood_advice = Mend what is behind it, or change its setpoint if the place does well.
health-journal = What happened in { $days } days
health-back = Back to the alarms

## what an alarm watches for

rule-above = { $quantity } above { $limit }
rule-below = { $quantity } below { $limit }
rule-minutes_to_overheating = overheating expected within { $limit }
rule-hours_to_dry = may be too dry within { $limit }
rule-silent_minutes = silent for more than { $limit }
rule-dead_sensor_minutes = a sensor without a good reading for more than { $limit }
rule-silent_node_share = more than { $limit } of the boards silent at once
rule-unheard_nodes = boards of the settings not heard yet
rule-store_fault = readings cannot be stored
rule-broker_way_fault = the broker does not pass on what boards send
rule-archive_lag_hours = the archive more than { $limit } behind
rule-copy_age_hours = the last good copy of the database more than { $limit } old
rule-copy_behind_hours = one place for copies without one for more than { $limit }
rule-unsent_message_minutes = a message unsent for more than { $limit }
rule-condensation_margin = a surface less than { $limit } above the dew point
rule-condensation_margin_none = a surface below the dew point
guard-lasting = { $what } for { $length }
guard-high = { $what } wakes you.
guard-medium = { $what } sends a message, outside quiet hours.
guard-low = { $what } stands in the night report.
guard-nobody = { $what } is an alarm of which nobody is told.
guard-too_slow = { $what }: the board sends every { $every }, too slow for it
guard-no_sensor = { $what }: no sensor here
guard-no_sensor_for = { $what }: no sensor here for { $quantities }
guard-index = { $what }: the probe is an index, no moisture, until it is calibrated (rearing-monitor calibrate probe)

## priority

priority-high = HIGH
priority-medium = MEDIUM
priority-low = LOW

## status

status-normal = normal
status-unacknowledged = nobody has acknowledged it
status-acknowledged = acknowledged
status-returned_unacknowledged = over, but nobody has acknowledged it
status-shelved = put aside
status-suppressed_by_design = held back, as the settings or a change just made want it
status-out_of_service = out of service

## lists of the command line

list-stands = { $priority } { $title }: { $what }
list-name = Name: { $name }
list-none_open = No alarm is active, put aside or out of service.
list-none_made = The settings make no alarm: there is no [[places]] and no [[nodes]] table.
list-journal = { $priority } { $title }: { $what }: { $event }
list-many = stands for { $names }
list-none_happened = Nothing happened to any alarm in that time.
list-by = by { $who }
list-health = How good the alarms are, over { $days } days (measures of ISA-18.2 / IEC 62682)
list-health_line = { $name }: { $figure }
list-gone = { $name } (no longer in the settings)

## decisions of a person

decide-done = { $done }: { $what }, by { $who }
decide-kept = kept for the monitor, to be { $done }: { $what }
decide-none_waits = No alarm waits to be acknowledged.
decide-none_over = No alarm that is over waits to be acknowledged.
decide-nobody_warned = Nobody is warned of this any more. To put it back:

## messages

message-title = { $priority } { $place } { $what }
message-title_stale = { $priority } { $place } { $what } (no fresh readings)
message-title_suspect = { $priority } { $place } { $what } (suspect reading)
message-title_still = STILL { $title }
message-title_returned = BACK TO NORMAL { $place } { $what }
message-title_unguarded = NOT GUARDED { $place } { $what }
message-unguarded = No alarm comes from there as long as that holds. Where animals are in it after all, undo it now.
message-name_air_temperature = air
message-name_substrate_temperature = substrate
message-name_surface_temperature = surface
message-name_substrate_moisture = moisture
message-above = { $quantity } { $value }, limit { $limit }, too high
message-below = { $quantity } { $value }, limit { $limit }, too low
message-back = { $what }, back for now
message-between = { $what }, only just back
message-over = { $quantity } { $value }, limit { $limit }
message-minutes_to_overheating = nears its high limit in about { $value }
message-minutes_to_overheating_passed = nears its high limit, still rising
message-hours_to_dry = may be too dry in { $value }
message-hours_to_dry_passed = may be too dry already
message-silent_minutes = no readings for { $value }
message-dead_sensor_minutes = no good reading for { $value }
message-silent_node_share = { $value } of the boards silent, power or network has failed
message-unheard_nodes = boards not heard yet: { $value }
message-store_fault = readings cannot be stored
message-broker_way_fault = the broker takes what boards send, but does not pass it on
message-archive_lag_hours = archive is { $value } behind
message-copy_age_hours = no good copy of the database for { $value }
message-copy_behind_hours = one place for copies has had none for { $value }
message-unsent_message_minutes = messages waiting unsent for { $value }
message-over_minutes_to_overheating = no longer heading for overheating
message-over_hours_to_dry = no longer about to dry out
message-over_silent_minutes = sends readings again
message-over_dead_sensor_minutes = reads well again
message-over_silent_node_share = boards send again
message-over_unheard_nodes = every board was heard
message-over_store_fault = readings are stored again
message-over_broker_way_fault = the broker passes on what boards send
message-over_archive_lag_hours = archive has caught up
message-over_copy_age_hours = the database is copied again
message-over_copy_behind_hours = each place for copies has one again
message-over_unsent_message_minutes = messages go out again
message-since = Since { $at } ({ $length }).
message-highest_so_far = Highest so far { $value }.
message-lowest_so_far = Lowest so far { $value }.
message-highest = Highest { $value }.
message-lowest = Lowest { $value }.
message-stale = No fresh readings. Take it as still true.
message-stale_since = No fresh readings: last known to be true at { $at }. Take it as still true.
message-suspect = The reading is suspect. Take it as true until you have looked, and check the sensor.
message-suspect_returned = The reading is suspect: check the sensor.
message-do = Do: { $text }
message-caution = Caution: { $text }
message-otherwise = If nothing is done: { $text }
message-seen = I have seen it: { $link }
message-late = This message is late: it has waited since { $at }.
message-reminder = Reminder: nobody has acknowledged this yet.
message-was_told = { $name } was told at { $at } and has not answered.
message-not_reached = { $name } could not be reached since { $at }.
message-returned = Back to normal.
message-returned_at = Back to normal since { $at }.
message-out_of_range = Out of range from { $start } to { $end } ({ $length }).
message-acknowledged = Acknowledged by { $who } at { $at }.
message-somebody = somebody
message-came_and_went = It also came and went at { $times }.
message-folded_title =
    { $count ->
        [one] { $count } message in one. First: { $first }
       *[other] { $count } messages in one. First: { $first }
    }
message-folded_reason = More than { $most } messages in an hour, so these come as one:
message-folded_more = and { $count } more
message-folded_all = All of them: rearing-monitor alarms
message-night_title = Night report { $site }, { $day }
message-test_title = TEST from { $site }: messages reach you
message-test = Sent at { $at } for { $name }. Nothing is wrong. An alarm comes the same way; it says what is wrong and what to do.
message-cannot_start_title = { $priority } { $site } the monitor cannot start
message-cannot_start =
    Nothing is watched, and nobody is warned of anything.
    { $problem }
    Do: Mend it on the computer, and look after the animals by hand until the monitor runs.
guard-heat_warning = With a reading each { $every } expect to be told of heat about { $warning } before the limit (half of all times earlier, half later). A board may send each { $longest } for the longest warning.
guard-sounded_never = { $what }: would not have sounded in the last { $days } days.
guard-sounded =
    { $count ->
        [one] { $what }: would have sounded once in the last { $days } days, for { $length }.
       *[other] { $what }: would have sounded { $count } times in the last { $days } days, for { $length } in all.
    }
