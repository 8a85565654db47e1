# Words for the cohorts and the cages.


## part

part-cohorts = Cohorts

## stage

stage-egg = eggs
stage-larva = larvae
stage-prepupa = prepupae
stage-pupa = pupae
stage-adult = flies

## stage_short: under the bar of a cohort, a fifth of a phone wide each

stage_short-egg = eggs
stage_short-larva = larvae
stage_short-prepupa = prepupae
stage_short-pupa = pupae
stage_short-adult = flies

## seen

seen-hatch = hatching
seen-first_prepupae = first dark larvae
seen-half_prepupae = half of the larvae dark
seen-first_motionless = first pupae lie still
seen-half_motionless = half of the pupae lie still
seen-first_emerged = first flies
seen-half_emerged = half of the flies out
seen-most_emerged = nine in ten flies out
seen-first_eggs = first eggs

## driven

driven-air = air temperature
driven-substrate = substrate temperature
driven-none = no temperature yet
driven-no_probe = air temperature: a dense bin can run much hotter, so the window is wider
driven-egg = air temperature; as larvae counted as in the grow-out bins, since no move is planned
driven-tray = it stands in a tray; as larvae counted as in the grow-out bins, since no move is planned

## cohorts

cohorts-living =
    { $count ->
        [one] { $count } cohort
       *[other] { $count } cohorts
    }
cohorts-none = No cohort lives
cohorts-none_do = Begin one with the eggs, larvae or pupae that you have; the page then says when they hatch, crawl off and fly.
cohorts-none_yet = No cohort is in the logbook. Begin one with, for example: { $command }
cohorts-today = Today
cohorts-week = Next 7 days
cohorts-overdue = Overdue, or seen and not written down
cohorts-nothing_due = Nothing is due in the next seven days.
cohorts-look = Most worth looking for:
cohorts-due_now = Look now
cohorts-others =
    { $count ->
        [one] { $count } cohort with later dates
       *[other] { $count } cohorts with later dates
    }
cohorts-what_for = What are they for?
cohorts-what_for_one = What is it for?
cohorts-what_for_more =
    { $count ->
        [one] and { $count } more
       *[other] and { $count } more
    }
cohorts-details = Figures and terms
cohorts-terms = Dark larvae are prepupae: they feed no more and look for a dry place. Pupae that lie still have begun to change into flies.
cohorts-cage_more = Day by day
cohorts-first_name = batch-1
cohorts-assumed_start = Eggs in a tray, larvae in a bin, and so on; from now on. Change it, or say more
cohorts-cage_flies = Flies that came out since the last count. Written to { $cohorts }, shared by the flies that each has given so far.
cohorts-i_saw_it = Seen
cohorts-each = Each cohort, what comes first on top
cohorts-next = Next:
cohorts-event = { $event } { $day } ({ $window })
cohorts-day = { $day } ({ $window })
cohorts-due = in { $place }: { $event } ({ $window })
cohorts-ask = { $event }, about { $day }. Writing down the day makes its forecast surer by { $gain }.
cohorts-ask_command = To enter it: { $command }
cohorts-bar = { $stage }, { $percent } through this stage
cohorts-degree_days = { $percent } % through, { $done } of { $needed } degree-days
cohorts-full_days = { $percent } % through, { $done } of { $needed } days at the full rate
cohorts-harvest_before = Harvest before
cohorts-unknown = How far it is is not known: no temperature of its place since { $since }. Write down the next thing that you see of it.
cohorts-flies = About { $best } flies on the best day, { $day } ({ $low } to { $high }); { $all } in all.
cohorts-flies_rough = About { $best } flies on the best day, { $day } ({ $low } to { $high }); { $all } in all, by a rough count.
cohorts-not_counted = How many flies come is not known: nobody counted the cohort (`cohort count`).
cohorts-heat_fail = { $hours } h above the heat limit: few or no flies may come out of it.
cohorts-heat_warning = { $hours } h above the heat limit since it began: fewer flies may come out.
cohorts-heat_few = { $hours } h above the heat limit. About { $lives } % ({ $low } to { $high }) of the animals live through this heat and what is to be expected: few or no flies may come out of it.
cohorts-heat_some = { $hours } h above the heat limit. About { $lives } % ({ $low } to { $high }) of the animals live through this heat and what is to be expected: fewer flies come out.
cohorts-heat_none = { $hours } h above the heat limit: hardly an animal lives through this heat. No flies are to be expected of it.
cohorts-heat_now = As hot as it is there now, half of those that cannot flee die within { $length }.
cohorts-stands_cold = Will not finish at this temperature: as { $stage } it would take more than { $days } days. Warm its place, or move it.
cohorts-stands_heat = Will not finish at this temperature: as { $stage } it hardly develops in such heat, or not at all. Cool its place, or move it.
cohorts-behind = { $days } behind the forecast of a week ago.
cohorts-ahead = { $days } ahead of the forecast of a week ago.
cohorts-unconfirmed = Was planned to move to { $place } on { $day }; counted as done. Write the move down, or withdraw the plan.
cohorts-own =
    { $count ->
        [one] own numbers from { $count } cohort
       *[other] own numbers from { $count } cohorts
    }
cohorts-papers = numbers from papers, none of your own yet
cohorts-estimated = { $hours } h of it estimated
cohorts-assumed = from the prepupae on counted as in { $place }: assumed, since no move is planned
cohorts-rests = Rests on: { $what }.
cohorts-heading = { $title }:
cohorts-what_seen = What did you see?
cohorts-events = What comes when
cohorts-event_name = What
cohorts-likely = Most likely
cohorts-window = Window
cohorts-was_seen = seen
cohorts-window_explained = A window holds the day four times in five.
cohorts-curve_flies = Flies coming out, day by day
cohorts-curve_share = Share coming out, day by day (%)
cohorts-curve_said = Most on { $day }, about { $count }. The band holds four days in five.
cohorts-ended = Ended { $day }: { $how }.
cohorts-narrower = The window of the flies: before { $before }, now { $now }.
cohorts-as_of = Worked out at { $at }; anew when something is written down.
cohorts-working_in = What was written down last is being worked in: the days below follow by themselves in a moment.
cohorts-coming = The forecasts are being worked out: they appear here by themselves in a moment.

## supply

supply-heading = Flies in the cages, next 30 days
supply-no_cage = No cage named
supply-none = No cohort is meant for it.
supply-no_least = Set least_flies in the settings, or give --least, to be warned of gaps.
supply-most = Most on { $day }, about { $flies }.
supply-enough = Enough on all days (at least { $least }).
supply-short = Too few on { $days }, from { $day } on (at least { $least }).
supply-some = { $count } { $stage }
supply-too_late = { $what }: too late to begin with them.
supply-now = { $what }: set aside now; it may come late even so (even odds until { $even }).
supply-by = { $what }: set aside by { $safe } to be safe, { $even } at even odds.
supply-keep = Or keep { $cohort } for breeding; decide by { $day }, when it begins to leave.
supply-no_keep = No cohort meant for feed would come at the right time.
supply-least = at least { $least }
supply-day_short = too few
supply-day_eggs = eggs about { $count }
supply-eggs_rough = Eggs are rough: females that live to lay, times the eggs that papers give.
supply-from = From
supply-uncounted = Left out, since nobody counted them: { $names }
supply-undecided = Not counted, since nobody has said what they are for: { $names }.
supply-curve = Living flies
supply-curve_said = { $days } from today. The band holds four times in five.

## learned

learned-heading = What the forecasts rest on
learned-taught =
    { $count ->
        [one] Learned from { $count } cohort of this farm.
       *[other] Learned from { $count } cohorts of this farm.
    }
learned-nothing = Nothing learned yet: forecasts rest on numbers from papers. Each event that you write down makes them your own.
learned-more = The numbers, and how good past forecasts were
learned-constants = Degree-days of each stage
learned-on_feed = Degree-days of each stage, on { $feed }
learned-stage = Stage
learned-papers = From papers
learned-own = Your own
learned-rests = Rests on
learned-span = { $middle } ({ $low } to { $high })
learned-cohorts =
    { $count ->
        [one] { $count } cohort
       *[other] { $count } cohorts
    }
learned-papers_only = papers only
learned-spread =
    { $count ->
        [0] Animals of one cohort differ in their time by { $own } % (assumed at first: { $prior } %); no cohort was counted day by day yet.
        [one] Animals of one cohort differ in their time by { $own } % (assumed at first: { $prior } %), from { $count } cohort counted day by day.
       *[other] Animals of one cohort differ in their time by { $own } % (assumed at first: { $prior } %), from { $count } cohorts counted day by day.
    }
learned-scores = Past forecasts, held against what was seen:
learned-score = { $about } ahead: { $score }
learned-by_event = By event, { $lead } ahead:
learned-should_hold = Eight in ten windows should hold.
learned-later =
    { $count ->
        [one] { $count } event, off by { $off }, { $bias } later than said; { $held } % of the windows held.
       *[other] { $count } events, off by { $off }, { $bias } later than said; { $held } % of the windows held.
    }
learned-earlier =
    { $count ->
        [one] { $count } event, off by { $off }, { $bias } earlier than said; { $held } % of the windows held.
       *[other] { $count } events, off by { $off }, { $bias } earlier than said; { $held } % of the windows held.
    }
learned-no_score = No forecast has come due yet; each day's forecasts are kept and held against what you write down.

## mark

mark-published = published
mark-cited = cited
mark-common_practice = common practice
mark-choice = own choice
mark-own = this farm's own

## published

published-head = What papers state, beside the numbers in use for a farm not known yet: the median in days, and the window that holds four farms in five. Where a source states no temperature, one is assumed.
published-none = The file of this species has no published times.
published-stage = Stage
published-temperature = At
published-papers = Published
published-ours = In use
published-assumed = { $degrees } assumed
published-to_eggs = flies to first eggs
published-from_egg = egg
published-from_larva = larva
published-from_prepupa = prepupa
published-aged = { $begin } (about { $days } d old)
published-to_fly = { $begin } to fly
published-on = { $what } on { $feed }
published-days = { $span } d
published-least = at least { $low } d
published-inside = inside
published-held = the window holds it
published-outside = outside
published-reason = Why: { $reason }

## calendar

calendar-title =
    { $count ->
        [one] What comes in the next week
       *[other] What comes in the next { $count } weeks
    }
calendar-explained = A mark is the likeliest day; the bar holds the event four times in five.
calendar-nothing = Nothing is expected of any cohort.
calendar-meaning = filled: what you act on (half of the flies out, the first leave the bin)
calendar-now = now
calendar-hatch = hatch
calendar-half_prepupae = prepupae
calendar-half_motionless = motionless
calendar-half_emerged = half of the flies
calendar-first_eggs = first eggs
calendar-feed_hatch = hatch
calendar-feed_first_prepupae = harvest before
calendar-feed_half_prepupae = half dark

## emergence

emergence-title = { $cohort }: flies day by day
emergence-half = Half out { $day } ({ $window }).
emergence-band = Band: four days in five lie in it.
emergence-nothing = No emergence can be said yet.
emergence-flies = flies a day
emergence-share = % of them a day
