# What is so now at the site and its places.


## now

now-fine = All is fine
now-need =
    { $count ->
        [one] { $count } place needs you
       *[other] { $count } places need you
    }
now-beyond =
    { $count ->
        [one] { $count } place beyond a limit
       *[other] { $count } places beyond a limit
    }
now-unknown =
    { $count ->
        [one] { $count } place not known
       *[other] { $count } places not known
    }
now-unguarded =
    { $count ->
        [one] { $count } place not guarded
       *[other] { $count } places not guarded
    }
now-boards =
    { $count ->
        [one] { $count } alarm of a board or of the monitor
       *[other] { $count } alarms of boards or of the monitor
    }
now-boards_heading = Boards and the monitor itself
now-stopped = The monitor does not run
now-stopped_since = Its last sign of life was at { $at }. Nobody is warned of anything, and what stands below is old.
now-stopped_never = It has never run. Nobody is warned of anything.
now-stopped_do = Start it on its computer: rearing-monitor run, or the service manager.
now-board_aside = Its board is put aside, so nothing is measured here.
now-board_aside_do = Look at the place yourself until then.
now-never_heard = No sensor of this place was ever heard.
now-never_heard_do = Look at the board that should be there. The part Boards lists what was heard.
now-unheard = Not heard yet: { $boards }. Nothing guards this place.
now-unheard_do = Hang up its board and give it power. Until it is heard, look at the place yourself.
now-unwatched = Its sensors measure only what no alarm looks at: { $quantities }. Nothing guards it.
now-unwatched_do = Hang a sensor there that measures what is watched; `rearing-monitor check` says what that is.
now-last_heard = No usable reading; the last one was at { $at }.
now-last_heard_do = Go and look at the place. Then look at { $nodes }: supply, cable, network.
now-fine_places =
    { $count ->
        [one] { $count } place is fine
       *[other] { $count } places are fine
    }
## what is not guarded, and who said so

unguarded-empty = No animals in it, said { $who }, { $at }.
unguarded-file = No animals in it, says farm.toml (empty = true).
unguarded-aside = Put aside until { $until }, said { $who }, { $at }.
unguarded-no_rule = The settings have no alarm for it.
unguarded-note = Reason: { $note }.
unguarded-undo = To undo: { $command }
unguarded-undo_file = To undo: take empty = true out of farm.toml.
unguarded-undo_no_rule = To undo: take remove = true out of [[rules]] in farm.toml.
unguarded-shelved = Not guarded for { $quantity } ({ $value }, limit { $limit }): put aside until { $until }.
unguarded-out_of_service = Not guarded for { $quantity } ({ $value }, limit { $limit }): taken out of service.
unguarded-removed = Not guarded for { $quantity } ({ $value }, limit { $limit }): the settings remove this alarm.
unguarded-board = Not measured by board { $board } until { $until }: put aside, said { $who }.
unguarded-unheard = Not measured by board { $board }: not heard yet. Hang it up and give it power, or take it out of the settings.
unguarded-to_alarms = Put it back into service
unguarded-to_board = Put board { $board } back
unguarded-to_unheard = Look at board { $board }
unguarded-board_in_use = Listen to it again
unguarded-asks = The logbook names no animals in it any more; it stays guarded. Is it empty?
unguarded-answers = If it is: { $empty }. If animals are still in it: { $in_use }

now-no_places = The settings name no place yet, so nothing is guarded.

## place

place-in_room = in { $room }
place-to_bin = To the bin
place-spans = Length of time
place-figures = The figures
place-when = When
place-low = Lowest
place-mean = Mean
place-high = Highest
place-no_sensor = No sensor of this place has sent anything yet.
place-happened = What happened here

## now on the command line

now-line = { $title }, { $at }: { $verdict }
now-place = { $title }: { $state }
now-carried = Cohorts and bins have become one logbook. What was found in it:
now-aside = alarm on { $quantity }: { $state }
health-looked_at = looked at: the last { $length }

## guard and doubts

guard-guarded = guarded
doubt-lived_in = { $place }: by the logbook animals live in it.
doubt-alarm = { $place }: an alarm stands: { $value }.
doubt-warm = { $place }: its substrate is { $value } warmer than the air of the room, as where animals live.
doubt-moist = { $place }: its substrate holds { $value } water, like a bin in which animals live.
doubt-ask = Is it empty all the same, so that no alarm comes from it any more? y/N
guard-heading = Guard
guard-empty_do = It is empty: stop guarding
guard-in_use_do = Animals are in it
guard-still_do = Animals are still in it
guard-aside = Put it aside for cleaning
guard-aside_explained = No alarm comes from it meanwhile. Then it is guarded again by itself.
guard-aside_do = Put aside
guard-empty_explained = Say so when no animals are in it: no alarm comes from it until somebody says that animals are in it.
guard-aside_over = This would have been put aside until { $at }, which is over. Nothing was written.
guard-in_use_since = { $who } said { $at } that it is in use, after you put it aside on your phone. Nothing was changed.
guard-minutes_wrong = This is no time for which a place can be put aside; choose one of those offered.
guard-sure = Is { $place } empty?
guard-odd = Something speaks against it
guard-sure_explained = If animals are in it, nobody is warned when they get too hot or too dry.
guard-empty_all_the_same = It is empty all the same: stop guarding
guard-question = A question
