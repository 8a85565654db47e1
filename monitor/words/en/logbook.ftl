# Words for the logbook and for everything that is written into it.


## part

part-logbook = Logbook

## window

window-span = { $low } to { $high }
window-from = from { $low } on
window-never = no day in sight
window-days =
    { $count ->
        [one] { $shown } day
       *[other] { $shown } days
    }

## amount

amount-litres =
    { $count ->
        [one] { $shown } litre
       *[other] { $shown } litres
    }
amount-grams = { $count } g
amount-kilograms = { $count } kg

## ahead

ahead-low = At least
ahead-likely = Most likely
ahead-high = At most

## tap

tap-water = Water
tap-weigh = Weight
tap-stir = Stirred
tap-test = Moisture test
tap-empty = Emptied
tap-look = Open
tap-saw = Seen: { $event }
tap-else = Something else

## kind_of

kind_of-water = Water
kind_of-weigh = Weight
kind_of-stir = Stirred
kind_of-feed = Feed
kind_of-test = Moisture test
kind_of-cover = Cover
kind_of-fan = Fan
kind_of-larvae = Larvae put in
kind_of-take = Taken out
kind_of-finish = Dry it on purpose
kind_of-empty = Emptied
kind_of-in_use = In use
kind_of-aside = Put aside
kind_of-fill = Filled
kind_of-saw = Something seen
kind_of-flies = Flies counted
kind_of-eggs = Eggs collected
kind_of-count = Animals counted
kind_of-move = Moved
kind_of-planned_move = Plan a move
kind_of-split = Split
kind_of-merge = Put another cohort into it
kind_of-thin = Thinned
kind_of-purpose = What it is for
kind_of-end = Ended
kind_of-collect = Eggs collected
kind_of-dead = Dead flies swept out
kind_of-note = Note
kind_of-start = New cohort
kind_of-withdrawn = Withdrawn
kind_of-probe = Probe calibrated

## explained

explained-water = As much as was poured on; the litres that would bring it back to the target stand there already.
explained-weigh = A weighing makes everything about this bin far surer. Without the box.
explained-test = A handful before and after the oven is exact; one that was squeezed is a rough guess.
explained-feed = Dry bran against wetness is feed too.
explained-larvae = They take the place of those that the bin knew of.
explained-finish = From then on it does not alarm as too dry any more.
explained-empty = Nothing is worked out for it until it is filled again.
explained-fill = The size is needed once for each bin; later fillings take it over.
explained-saw = It sharpens this forecast and those of later cohorts.
explained-flies = Flies that came out since the last count.
explained-planned_move = Forecasts reckon with it from then on.
explained-split = A part that becomes a cohort of its own, such as a share kept back for breeding.
explained-start = Eggs that were laid, larvae that hatched or were bought, prepupae or pupae.
explained-collect = Weigh them without the strips. Set to hatch in a tray they begin a cohort there, or join the one of the day.
explained-dead = A number, or a weight.
explained-note = Anything worth knowing later; nothing is worked out from it.
explained-take = Larvae with what they are for; prepupae by weight or number; the residue with its moisture.

## field

field-litres = How much (litres)
field-kg = How much (kg)
field-moisture = Moisture (%)
field-surface_m2 = Inner size (such as 60 x 40 cm)
field-depth_m = How deep it is filled (such as 8 cm)
field-larvae = Number of larvae
field-age_days = Their age (days since they hatched)
field-rough = Squeezed by hand, so a rough guess
field-spread = spread thinner too
field-cover = What lies over it
field-on = The fan is
field-switch_on = on
field-switch_off = off
field-what = What was taken out
field-event = What was seen
field-sure_days = How sure the day is (± days; empty: half a day)
field-flies = Number of flies
field-grams = Weight (g)
field-animals = Number of animals
field-stage = As what
field-place = Place
field-purpose = Meant for
field-cage = Love cage that its flies go into
field-into = Name of the new cohort
field-percent = Share of it (%)
field-other = The other cohort
field-how = How it ended
field-cohort = Of which cohort (empty: a new one begins)
field-stays = Which cohort stays in it
field-name = Name of the cohort
field-at = When
field-note = Note
field-reason = Why
field-use = What for
field-egg_use = What for
field-tray = In which tray they hatch
field-strips = Number of strips
field-clutches = Number of clutches
field-mean_mg = Mean weight of one, counted sample (mg)
field-feed = Which feed
field-residue_kg = Residue (kg)
field-residue_moisture = Moisture of the residue (%)
field-young_grams = Or young larvae weighed (g)
field-hatched = Hatched of a sample (%)
field-female_percent = Females of a sample (%)
field-taken_animals = Or their number (prepupae)
field-harvest_grams = Larvae harvested (g)

## cover

cover-open = nothing
cover-net = a net
cover-lid = a lid

## taken

taken-larvae = larvae
taken-residue = residue
taken-prepupae = prepupae

## purpose

purpose-breeding = for breeding
purpose-feed = for feed

## use

use-feed = for feed
use-sold = sold
use-breeding = kept for breeding
use-hatch = set to hatch

## ending

ending-emerged = all flies out
ending-harvested = harvested
ending-sold = sold
ending-lost = lost
ending-merged = put into another

## write

write-heading = { $what }: { $about }
write-do = Write it down
write-leave_it = Leave it
write-choose = choose
write-leave = not said
write-anything = Write something down
write-refused = Not written
write-written = Written as entry { $number }, { $about }: { $said }.
write-when = When: { $when }.
write-withdrawn = Written as entry { $number }, { $about }: entry { $old } does not count any more; it stays in the book.
write-missing = { $field }: this is needed.
write-wrong_litres = { $field }: “{ $text }” is no amount. Allowed: 1.5, 1.5 l or 300 ml, more than 0.
write-wrong_kilograms = { $field }: “{ $text }” is no weight. Allowed: 2.4, 2.4 kg or 800 g, more than 0.
write-wrong_share = { $field }: “{ $text }” is no moisture. Allowed: between 0 and 100 %, such as 65 %.
write-wrong_size = { $field }: “{ $text }” is no size. Allowed: 60 x 40 cm, 0.24 m2, or 40 cm round.
write-wrong_length = { $field }: “{ $text }” is no depth. Allowed: up to 2 m, such as 8 cm.
write-wrong_whole = { $field }: “{ $text }” is no whole number. Allowed: such as 2500.
write-wrong_grams = { $field }: “{ $text }” is no weight. Allowed: 12, 12.5 g or 1.5 kg, more than 0.
write-wrong_days = { $field }: “{ $text }” is no number. Allowed: such as 5 or 2.5.
write-wrong_percent = { $field }: “{ $text }” is no number. Allowed: such as 5 or 2.5.
write-wrong_choice = { $field }: “{ $text }” is not among what can be chosen.
write-wrong_switch = { $field }: “{ $text }” is not among what can be chosen.
write-wrong_time = When: “{ $text }” is no time. Allowed: such as 14:30, yesterday 18:00, 8 Oct 18:00 or 2026-11-25 14:30.
write-wrong_milligrams = { $field }: “{ $text }” is no weight. Allowed: such as 180 or 180 mg, more than 0.
write-sold_and_tray = What was sold hatches in no tray here: leave the tray out, or enter what was sold and what was set to hatch apart.
write-caution_fan = Keep fan, lead and plug dry and off the wet floor. A licensed electrician decides on wiring.

## ask

ask-write_it = Is it right all the same? Write it [y/N]
ask-heading = Is that right?
ask-explained = Nothing is written yet. This is unlikely:
ask-yes = Yes, write it
ask-change = Change it

## said

said-moment = { $weekday } { $day } { $month }, { $at }, { $away }
said-moment_year = { $weekday } { $day } { $month } { $year }, { $at }, { $away }
said-now = now
said-ago = { $length } ago
said-ahead = in { $length }

## told

told-water = { $kg } of water
told-weigh = weighed { $kg }
told-stir = stirred
told-stir_spread = stirred and spread thinner
told-feed = { $kg } of feed at { $moisture }
told-test = moisture tested: { $moisture }
told-test_rough = moisture by hand: { $moisture }
told-cover = covered with { $cover }
told-cover_open = opened
told-fan = fan off
told-fan_on = fan on
told-larvae = { $larvae } larvae put in
told-take = { $kg } of { $what } taken out
told-take_counted = { $animals } { $what } taken out
told-finish = dried on purpose from then on
told-empty = emptied
told-place_empty = no animals in it
told-place_in_use = animals are in it
told-place_aside = put aside until { $until }
told-place_collect = { $grams } of eggs collected
told-place_dead = dead flies swept out
told-place_note = note
told-board_in_use = in use again
told-board_aside = put aside until { $until }
told-board_note = note
told-fill = filled with { $kg } at { $moisture }
told-saw = seen: { $event }
told-flies = { $flies } flies came out
told-eggs = eggs collected, { $grams }
told-count = { $animals } counted as { $stage }
told-move = moved to { $place }
told-planned_move = planned to move to { $place }
told-split = split, taken out as { $into }
told-merge = { $other } put into it
told-thin = thinned
told-purpose = said to be { $purpose }
told-end = ended: { $how }
told-note = note
told-start = began as { $stage } in { $place }
told-withdrawn = entry { $number } withdrawn
told-probe = moisture probe calibrated
told-with_animals = { $animals } animals
told-with_grams = { $grams }
told-with_age_days = { $age_days } old
told-with_purpose = { $purpose }
told-with_cage = flies into { $cage }
told-with_percent = { $percent } % of it
told-with_larvae = { $larvae } larvae
told-with_cohort = of { $cohort }
told-with_cohort_new = as the new cohort { $cohort }
told-with_ended = { $ended } ended: { $how }
told-with_stays = { $stays } stays
told-with_back_to_kg = back to { $back_to_kg }
told-with_sure_days = ± { $sure_days }
told-with_strips = on { $strips } strips
told-with_clutches = { $clutches } clutches
told-with_use = { $use }
told-with_tray = in { $tray }
told-with_mean_mg = { $mean_mg } each
told-with_residue_kg = { $residue_kg } of residue
told-with_residue_moisture = at { $residue_moisture }
told-with_moisture = at { $moisture }
told-with_hatched = { $percent } % hatched
told-with_young_grams = { $young_grams } of young larvae
told-with_female_percent = { $female_percent } % females
told-with_feed = { $feed }

## logbook

logbook-about = About
logbook-everything = everything
logbook-kind = What
logbook-every_kind = all kinds
logbook-days = Of the last
logbook-show = Show
logbook-count =
    { $count ->
        [one] { $count } entry
       *[other] { $count } entries
    }
logbook-undone =
    { $count ->
        [one] { $run } taken back: { $count } entry does not count any more; it stays in the book.
       *[other] { $run } taken back: { $count } entries do not count any more; they stay in the book.
    }
logbook-import_line =
    { $count ->
        [one] { $run }: { $count } entry of a notebook
       *[other] { $run }: { $count } entries of a notebook
    }
logbook-import_undo = Take all of it back
logbook-import_undone = Taken back; it does not count any more.
logbook-nothing = Nothing yet.
logbook-refused = Entry { $number } ({ $about }) does not count: { $reason }
logbook-by = { $who }, entry { $number }
logbook-by_whom = by { $who }
logbook-entered = entered { $at }
logbook-entry = Entry { $number }
logbook-not_counting = These do not count, since they cannot be so
logbook-correct = correct
logbook-corrected = corrected by entry { $number }
logbook-withdrawn = withdrawn by entry { $number }
logbook-instead = in place of entry { $number }
logbook-all_of_it = All that was written about it
logbook-older = earlier
logbook-newer = later
logbook-correct_heading = Correct entry { $number }, { $about }
logbook-correct_explained = The first entry stays in the book; the new one counts in its place.
logbook-correct_do = Write the correction
logbook-withdraw_heading = It never was so
logbook-withdraw_explained = The entry does not count any more. It stays in the book, and so does who said that.
logbook-withdraw = Withdraw it
logbook-nothing_new = Nothing is different from what stands there; change what is wrong, or withdraw it.

## list

list-none_lives = No cohort lives now; --all lists the ended
list-lives = { $stage } in { $place }
list-stage_unknown = stage not known
list-since = since { $day }
list-counted = { $count } as { $stage }
list-about = about { $count } as { $stage }

## show

show-logbook = Logbook
show-earlier =
    { $count ->
        [one] and { $count } earlier entry: --all
       *[other] and { $count } earlier entries: --all
    }
show-drawn = { $file } written
show-bin_emptied = { $bin } was emptied and not filled since. To fill it: rearing-monitor bin fill { $place }
show-bin_unknown = { $bin }: nothing in the logbook. To enter a filling: rearing-monitor bin fill { $place }

## notebook

notebook-line = { $file }, line { $line }: { $reason }
notebook-more = and { $count } more
notebook-known =
    { $count ->
        [one] { $count } line stood in the logbook already
       *[other] { $count } lines stood in the logbook already
    }
notebook-asked =
    { $count ->
        [one] { $count } line is unlikely, so nothing was written; if it is right, say so: --sure
       *[other] { $count } lines are unlikely, so nothing was written; if they are right, say so: --sure
    }
notebook-undo = To take all of it back: { $command }
notebook-refused =
    { $count ->
        [one] { $count } line cannot be taken, so nothing was written
       *[other] { $count } lines cannot be taken, so nothing was written
    }
notebook-written =
    { $count ->
        [one] { $count } entry written
       *[other] { $count } entries written
    }
notebook-tried =
    { $count ->
        [one] { $count } entry would be written
       *[other] { $count } entries would be written
    }

## leave: a place that an entry leaves without animals

leave-ask = { $place } is without animals then. Is it empty, so that no alarm comes from it any more? y/N
leave-stays = { $place } is without animals by the logbook and stays guarded. If it is empty: { $command }

## sheet: the paper of a week

sheet-when = when
sheet-where = where
sheet-what = what
sheet-amount = amount
sheet-use = use
sheet-to = to tray
sheet-note = note
sheet-by = by
sheet-eggs = eggs
sheet-hatch = hatch
sheet-feed = feed
sheet-harvest = harvest
sheet-prepupae = prepupae
sheet-residue = residue
sheet-dead = dead flies
sheet-sold = sold
sheet-breeding = breeding
sheet-title = { $farm }: week from { $first } to { $last }
sheet-explain_where = { $where }: { $places }; or the name of a cohort
sheet-explain_what = { $what }: { $words }. Write amounts with their unit: 12.4 g, 4.2 kg, 80 %; feed with its moisture: 2 kg at 70 %.
sheet-explain_use = { $use }: { $uses }. { $to }: where eggs are set to hatch.
sheet-explain_import = Typed into a spreadsheet with these headings and saved as CSV: { $command }
sheet-written = { $file } written: the week from { $first }. Print it, or fill it in.
