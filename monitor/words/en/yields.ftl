# Words for what the farm yields.


## part

part-yields = Yield

## yield

yield-eggs = Eggs collected
yield-grams = Eggs collected
yield-eggs_per_female_day = Eggs per female and day
yield-per_female_mg = Eggs per female put in, by weight
yield-eggs_per_female = Eggs per female
yield-hatch = Hatched
yield-laid_hatch = Hatched of the eggs that its flies laid
yield-larvae = Larvae harvested
yield-prepupae = Prepupae
yield-feed = Feed given
yield-residue = Residue
yield-days = Days from filling to harvest
yield-days_from_egg = Days from egg to harvest
yield-conversion_wet = Feed for 1 kg of larvae, both fresh
yield-conversion_dry = Feed for 1 kg of larvae, both dry
yield-conversion_dry_fresh = Dry feed for 1 kg of fresh larvae
yield-bioconversion_wet = Feed that became larvae, both fresh
yield-bioconversion_dry = Feed that became larvae, both dry
yield-reduction = Feed that is gone, dry
yield-index = Waste reduction index
yield-efficiency = Larvae from the feed that is gone, dry
yield-survival = Larvae that lived to the harvest
yield-growth_rate = Growth
yield-kept = Kept for breeding
yield-flies = Flies put in
yield-emergence = Prepupae that became flies
yield-dead_flies = Dead flies swept out
yield-dead_flies_mass = Dead flies swept out, by weight

## yield_money

yield_money-eggs = Eggs sold
yield_money-larvae = Larvae sold
yield_money-kept_worth = Larvae fed to own animals, worth
yield_money-feed = Feed, cost

## lack

lack-nothing_written = nothing written down
lack-feed = feed not weighed
lack-feed_moisture = moisture of the feed not written down
lack-larvae_out = no larvae taken out yet
lack-larvae_in = larvae put in not weighed
lack-larvae_count = larvae put in not counted
lack-counted_sample = no counted sample of the harvest
lack-residue = residue not weighed
lack-residue_moisture = moisture of the residue not written down
lack-more_out_than_in = more came out than went in
lack-no_gain = the larvae gained nothing
lack-counts_disagree = the counts do not fit each other
lack-still_filled = the bin is still filled
lack-flies = flies not counted
lack-female_share = females not counted, half assumed
lack-eggs_per_gram = eggs in a gram not known
lack-larva_dry_share = dry share of larvae assumed
lack-prepupa_mass = mass of a prepupa assumed
lack-hatch = no hatch written down
lack-some_hatch = hatch of some eggs not written down
lack-egg_day = day of the eggs not known
lack-prepupae = prepupae not counted
lack-price = no price in the settings
lack-use = use not said

## lack_do

lack_do-feed_moisture = Write down the moisture of the feed: then feed and larvae can be compared dry.
lack_do-larvae_in = Weigh the young larvae that are put in, or count a sample of them.
lack_do-residue = Weigh the residue when a bin is emptied: then it is known how much feed is gone.
lack_do-residue_moisture = Write down the moisture of the residue: a bin that only dried would look eaten.
lack_do-flies = Count the flies as they come out: then eggs per female are known, and the forecast is narrower.
lack_do-hatch = Write down the share that hatched of eggs that were set to hatch.
lack_do-egg_day = Begin a cohort when its eggs are set to hatch: then the days to the harvest are known.
lack_do-use = Say what became of eggs and larvae: sold, fed, or kept.

## yields

yields-not_known = not known: { $why }
yields-between = { $value } ({ $low } to { $high })
yields-percent_a_day = { $count } % a day
yields-used = { $amount } ({ $uses })
yields-of_needed = { $kept } of { $needed } needed
yields-of_cage = Eggs of { $cage }
yields-filling = { $bin }, filled { $day }
yields-this_week = This week, from { $day }
yields-this_month = This month, from { $day }
yields-past_week = Week { $window }
yields-past_month = Month { $window }
yields-before_week = the week before
yields-before_month = the month before
yields-none_yet = Nothing was written down yet that could be added up: eggs collected, feed given, larvae harvested.
yields-nothing_of_it = nothing to add up yet
yields-cages = Cages
yields-bins = Bins
yields-cohorts = Cohorts
yields-ahead = What is to come
yields-ahead_none = No cage and no bin of which something is to come.
yields-all_cages = Eggs of all cages
yields-larva_weeks = Larvae by week
yields-days_ahead = Day by day
yields-windows = The numbers in brackets hold the truth four times in five.
yields-cage_week = Within seven days { $grams } of eggs.
yields-bin_best = Best taken { $day } ({ $window }), before too many darken: then { $amount } of larvae.
yields-bin_late = More than a few are dark by now: take it now, { $amount } of larvae.
yields-promise = By { $day } you can promise { $grams } of eggs, out of the seven days up to it: they are there four times in five.
yields-promise_none = By { $day } no eggs can be promised: fewer than a gram are sure.
yields-keep = For { $grams } of eggs a week keep { $safe } prepupae each week: then it comes four weeks in five; with { $even } one week in two.
yields-keep_by = Those for the week from { $week } by { $day }.
yields-keep_late = For the week from { $week } it is too late.
yields-level_papers = Nothing learned yet: what a female gives rests on papers. Each collection that is weighed makes it your own.
yields-bins_papers = Kilograms of larvae rest on papers until a bin with weighed feed was harvested.
yields-missing = To know more
yields-doubts = Entries to look at again
yields-count_flies = Nobody counted the flies of { $cage }, so it is taken to go on as it was: count them as they come out.
yields-cages_unknown = Nothing is known of the flies in { $cages }: count them as they come out, or weigh the eggs. Then what is to come stands here.
yields-doubt_large = Entry { $number }, { $place }, { $day }: { $amount } looks like { $times } times too much. Nothing is learned from it until it is put right; the sums still hold it.
yields-doubt_small = Entry { $number }, { $place }, { $day }: { $amount } looks like { $times } times too little. Nothing is learned from it until it is put right; the sums still hold it.
yields-doubt_odd = Entry { $number }, { $place }, { $day }: { $amount } is far from what is usual there. Nothing is learned from it until it is put right; the sums still hold it.
yields-csv_written = { $file } written: { $count } rows, one for each day and place.
yields-days_file = Every day of every place as a table (CSV)
yields-ask_grams = Grams of eggs wanted a week
yields-ask_day = Promised to a buyer for
yields-ask_do = Work it out
yields-none = –
yields-hatch_seen = Hatch seen
yields-all_else = All else
yields-more_doubts =
    { $count ->
        [one] And { $count } more entry.
       *[other] And { $count } more entries.
    }
yields-level =
    { $count ->
        [one] A female put in gives { $eggs } of eggs, by { $count } week of collecting here.
       *[other] A female put in gives { $eggs } of eggs, by { $count } weeks of collecting here.
    }
yields-learned_bins =
    { $count ->
        [one] A kilogram of feed gives { $kg } kg of larvae, both fresh, by { $count } bin harvested here.
       *[other] A kilogram of feed gives { $kg } kg of larvae, both fresh, by { $count } bins harvested here.
    }

## climate

climate-heading = What the climate went with
climate-eggs_cold_nights = Nights below { $limit } in the cage went with { $share } % less eggs the next two days ({ $low } to { $high } %; { $such } nights against { $others }).
climate-eggs_hot_days = Days above { $limit } in the cage went with { $share } % less eggs on them and the day after ({ $low } to { $high } %; { $such } days against { $others }).
climate-eggs_dry_days = Days with { $hours } h or more below { $limit } in the cage went with { $share } % less eggs on them and the day after ({ $low } to { $high } %; { $such } days against { $others }).
climate-eggs_dull_days = Days with less than three quarters of the usual hours of light went with { $share } % less eggs on them and the day after ({ $low } to { $high } %; { $such } days against { $others }).
climate-hatch_dry_hours = { $hours } h or more below { $limit } on the tray went with { $share } % less hatch ({ $low } to { $high } %; { $such } trays against { $others }).
climate-hatch_cold_hours = { $hours } h or more below { $limit } on the tray went with { $share } % less hatch ({ $low } to { $high } %; { $such } trays against { $others }).
climate-emergence_hot_hours = { $hours } h or more above { $limit } in the box went with { $share } % fewer flies ({ $low } to { $high } %; { $such } boxes against { $others }).
climate-emergence_dry_hours = { $hours } h or more below { $limit } in the box went with { $share } % fewer flies ({ $low } to { $high } %; { $such } boxes against { $others }).
climate-harvest_cold_hours = { $hours } h or more below { $limit } in the bin went with { $share } % less larvae from the same feed ({ $low } to { $high } %; { $such } bins against { $others }).
climate-harvest_hot_hours = { $hours } h or more above { $limit } in the bin went with { $share } % less larvae from the same feed ({ $low } to { $high } %; { $such } bins against { $others }).
climate-cost_eggs = Last { $days } days: about { $middle } g of eggs less ({ $low } to { $high } g).
climate-cost_hatch = Last { $days } days: the hatch of about { $middle } g of eggs less ({ $low } to { $high } g).
climate-cost_emergence = Last { $days } days: about { $middle } flies less ({ $low } to { $high }).
climate-cost_harvest = Last { $days } days: about { $middle } kg of larvae less ({ $low } to { $high } kg).
climate-cost_money = That is { $low } to { $high } { $currency }.
climate-limit_cold_nights = Your own eggs would support a limit of { $offered } for nights in the cage instead of { $now }: nights between the two went with { $share } % less eggs ({ $low } to { $high } %; { $such } nights against { $others }). Nothing was set.
climate-limit_hot_days = Your own eggs would support a limit of { $offered } for days in the cage instead of { $now }: days between the two went with { $share } % less eggs ({ $low } to { $high } %; { $such } days against { $others }). Nothing was set.
climate-milder_cold_nights = By your own eggs, { $offered } would do as a limit for nights in the cage instead of { $now }: nights between the two went with { $high } % less eggs at most ({ $such } nights against { $others }). Nothing was set.
climate-milder_hot_days = By your own eggs, { $offered } would do as a limit for days in the cage instead of { $now }: days between the two went with { $high } % less eggs at most ({ $such } days against { $others }). Nothing was set.
climate-rests =
    { $compared ->
        [one] { $compared } thing was compared, with enough cases to tell.
       *[other] { $compared } things were compared, with enough cases to tell.
    }
climate-not_caused = Only what stands out is told, and “went with” is not “caused”.
climate-nothing = Nothing in the climate stands out so far in eggs, hatch, flies or harvests.
