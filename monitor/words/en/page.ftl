# The words of the page in English. A word in {braces} is put in by the program: keep it as it is.


## format

format-list = { ", " }

## length

length-moment = less than a minute
length-minutes = { $count } min
length-hours = { $count } h
length-ago = { $at } ({ $length } ago)
length-days =
    { $count ->
        [one] { $count } day
       *[other] { $count } days
    }

## unit

unit-RH = %
unit-min = min
unit-h = h

## value

value-none = no value
value-span = { $low } to { $high }
value-doubtful = doubtful
value-not_since = not heard since { $at }
value-broken = the sensor shows what cannot be

## base

base-skip = To the content
base-parts = Parts of the page
base-more = More
base-invented = Demonstration

## part

part-now = Now
part-night = Night
part-alarms = Alarms
part-nodes = Boards
part-me = You

## role

role-visitor = visitor
role-helper = helper
role-owner = owner

## state

state-high = Act now
state-medium = Act soon
state-low = Keep an eye on it
state-unknown = Not known
state-fine = Fine
state-empty = Empty
state-over = Over
state-shelved = Put aside
state-out_of_service = Out of service
state-normal = Back to normal

## board

board-fine = sends
board-unknown = silent
board-out_of_service = out of service
board-new = new

## kind

kind-room = Room
kind-love_cage = Love cage
kind-hatching_tray = Hatching tray
kind-grow_out_bin = Grow-out bin
kind-pupation_box = Pupation box

## quantity

quantity-air_temperature = Air temperature
quantity-air_humidity = Air humidity
quantity-substrate_temperature = Substrate temperature
quantity-substrate_moisture = Substrate moisture
quantity-surface_temperature = Surface temperature
quantity-light = Light
quantity-battery = Battery
quantity-carbon_dioxide = Carbon dioxide
quantity-ammonia = Ammonia
quantity-vapour_pressure_deficit = Drying power of the air
quantity-dew_point = Dew point
quantity-condensation_margin = Margin to condensation
quantity-minutes_to_overheating = Time to overheating
quantity-hours_to_dry = Time until too dry
quantity-silent_minutes = Silence
quantity-dead_sensor_minutes = Time without a good reading
quantity-silent_node_share = Share of silent boards
quantity-store_fault = Fault of the database
quantity-archive_lag_hours = Lag of the archive
quantity-unsent_message_minutes = Age of the oldest unsent message

## short

short-air_temperature = Air
short-air_humidity = Humidity
short-substrate_temperature = Substrate
short-substrate_moisture = Moisture
short-surface_temperature = Surface
short-light = Light

## way

way-rising = rising
way-falling = falling
way-steady = steady

## asked

command-done = Done.
command-waiting = Asked for. The monitor has not answered yet; look again in a moment.
command-refused = Not done: { $why }

## now

now-fine = All is fine
now-need =
    { $count ->
        [one] { $count } place needs you
       *[other] { $count } places need you
    }
now-unknown =
    { $count ->
        [one] { $count } place not known
       *[other] { $count } places not known
    }
now-boards =
    { $count ->
        [one] { $count } alarm of a board or of the monitor
       *[other] { $count } alarms of boards or of the monitor
    }
now-boards_heading = Boards and the monitor itself
now-stopped = The monitor does not run
now-stopped_heading = The monitor does not run
now-stopped_since = Its last sign of life was at { $at }. Nobody is warned of anything, and what stands below is old.
now-stopped_never = It has never run. Nobody is warned of anything.
now-stopped_do = Start it on its computer: rearing-monitor run, or the service manager.
now-never_heard = No sensor of this place was ever heard.
now-never_heard_do = Look at the board that should be there. The part Boards lists what was heard.
now-last_heard = No usable reading; the last one was at { $at }.
now-last_heard_do = Go and look at the place. Then look at { $nodes }: supply, cable, network.
now-fine_places =
    { $count ->
        [one] { $count } place is fine
       *[other] { $count } places are fine
    }
now-no_places = The settings name no place yet, so nothing is guarded.

## place

place-in_room = in { $room }
place-spans = Length of time
place-figures = The figures
place-when = When
place-low = Lowest
place-mean = Mean
place-high = Highest
place-no_sensor = No sensor of this place has sent anything yet.
place-happened = What happened here

## span

span-24h = 24 hours
span-7d = 7 days
span-30d = 30 days
span-year = A year

## chart

chart-nothing = No readings in this time.
chart-lowest = Lowest { $value }, { $at }.
chart-highest = Highest { $value }, { $at }.
chart-safe = Good from { $low } to { $high }.
chart-safe_above = Good above { $low }.
chart-safe_below = Good below { $high }.

## key

key-safe = good range
key-night = night
key-mark = alarm came

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
night-degree_days = { $earned } degree-days above { $threshold }
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

## journal

journal-by = by { $who }
journal-nothing = Nothing yet.

## nodes

nodes-heard = heard { $at }
nodes-never = never heard
nodes-battery = battery { $value }
nodes-battery_low = Its battery is below { $limit }: charge or change it.
nodes-messages =
    { $count ->
        [one] { $count } message
       *[other] { $count } messages
    }
nodes-not_calibrated = never calibrated
nodes-calibrated = calibrated { $days } ago
nodes-calibration_due = calibration due: the last was { $days } ago
nodes-clock = Its clock is wrong: { $fault }
nodes-missing =
    { $count ->
        [one] { $count } message of it never arrived.
       *[other] { $count } messages of it never arrived.
    }
nodes-conflicts =
    { $count ->
        [one] { $count } reading contradicts an earlier one of the same time.
       *[other] { $count } readings contradict earlier ones of the same time.
    }
nodes-rejected =
    { $count ->
        [one] { $count } message was not understood: { $why }
       *[other] { $count } messages were not understood, the last: { $why }
    }
nodes-no_place = in no place
nodes-new =
    { $count ->
        [one] { $count } new board
       *[other] { $count } new boards
    }
nodes-new_explained = Its readings are kept, but it guards nothing until it has a place.
nodes-in_place = It is in
nodes-choose = choose a place
nodes-put = Put it there
nodes-put_explained = This writes the settings file. Its comments stay, and the old file is kept beside it.
nodes-owner_only = The owner can give it a place.
nodes-lines = The lines for the settings file
nodes-care = Look after these
nodes-fine = These send
nodes-none = No board has been heard, and the settings name none.
nodes-placed = { $node } has its place. The monitor reads the settings again in a moment.
nodes-choose_place = Choose one of the places that are offered.
nodes-not_heard = That board was not heard and is not in the settings.
nodes-no_file = This page was started without a settings file; add the lines by hand.

## login

login-heading = Log in
login-name = Your name
login-name_explained = It stands beside what you acknowledge and write.
login-password = Password
login-do = Log in
login-wrong = That is not the password.
login-too_often = Too many wrong passwords. Try again in { $length }.

## me

me-who = You are logged in as { $name } ({ $role }).
me-preferences = How you want the page
me-language = Language
me-language_wrong = Choose one of the languages that are offered.
me-unit = Temperatures in
me-keep = Keep
me-helpers = Helpers
me-helpers_explained = A helper sees everything, acknowledges and writes down, but changes no settings.
me-helpers_on = Helpers can log in.
me-helpers_off = Helpers cannot log in yet.
me-helpers_password = New password for helpers (empty: none can log in)
me-helpers_keep = Change
me-password_short = A password needs at least { $least } characters.
me-out = Leave
me-log_out = Log out

## link

link-not_valid = This link is not valid any more: it was used, or it has expired. Log in to see what is so now.
link-no_alarm = The alarm of this link is no longer in the settings.
link-nothing_to_do = There is nothing to acknowledge: it was acknowledged, or it is over, or it has come anew since.
link-to_page = To the page

## problem

problem-heading = That did not work
problem-elsewhere = This form did not come from this page, so nothing was done. Open the page itself and try again.
problem-form = This form is too old or not from this page, so nothing was done. Go back, load the page anew and try again.
problem-owner = Only the owner can do this. Nothing was changed.
problem-usage = That cannot be done.
problem-store = The database cannot be used at the moment. The monitor goes on from memory; run rearing-monitor check on its computer.
problem-not_here = There is no such page.
problem-not_so = This page cannot be asked in that way.
problem-back = To the beginning
