# What a day asks for, and what was done. A word in {braces} is put in by the program: keep it as it is.


## today

today-heading = Today, in this order
today-title = Today
today-all_done = All of it is done.
today-nothing = Nothing is asked for today.
today-cool = Cool down
today-water = Water
today-dry = Too wet
today-answer = Is it empty?
today-harvest = Harvest
today-copy = Look after a copy
today-board = Look after a board
today-window = { $place }, expected { $window }
today-board_look = It needs a hand.
today-done = { $what } – { $who }, { $at }
today-was_done = done: { $what }
today-done_heading = Done today
today-not_done = Not done
today-day = { $day }: what was done
today-before = the day before
today-after = the day after
today-earlier = Yesterday’s list
today-none_then = Nothing was written down on that day.
today-write = Write something down
today-no_such = That task is not on today’s list, so nothing was ticked off. Load the page anew.

## the words on the button of an entry that does a task

task_do-water = Watered
task_do-stir = Stirred
task_do-spread = Spread
task_do-feed = Dry bran
task_do-bran = Bran mixed in
task_do-harvest = Harvested
task_do-saw = Seen
task_do-tick = Looked after
task_do-litres = litres
task_do-kilograms = kg
task_do-grams = grams of larvae
task_do-first_flies = First flies
task_do-flies = Flies counted
task_do-eggs = Eggs
task_do-move = Moved
task_do-start = New cohort
task_do-correct = Correct
task_do-other = Another cohort:
