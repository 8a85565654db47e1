# The words of the page in English. A word in {braces} is put in by the program: keep it as it is.


## format

format-list = { ", " }
format-quoted = “{ $text }”
format-colon = { ":" }
format-clauses = { "; " }

## length

length-moment = less than a minute
length-minutes = { $count } min
length-hours = { $count } h
length-ago = { $at } ({ $length } ago)
length-weeks =
    { $count ->
        [one] { $count } week
       *[other] { $count } weeks
    }
length-years =
    { $count ->
        [one] { $count } year
       *[other] { $count } years
    }
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
value-index = Probe index
value-no_moisture = an index, not a moisture
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
state-beyond = Beyond a limit
state-unknown = Not known
state-unguarded = Not guarded
state-fine = Fine
state-empty = Empty
state-over = Over
state-shelved = Put aside
state-out_of_service = Out of service
state-normal = Back to normal

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
quantity-substrate_excess = Substrate above the air of its room
quantity-condensation_margin = Margin to condensation
quantity-minutes_to_overheating = Time to overheating
quantity-hours_to_dry = Time until too dry
quantity-silent_minutes = Silence
quantity-dead_sensor_minutes = Time without a good reading
quantity-silent_node_share = Share of silent boards
quantity-unheard_nodes = Boards not heard yet
quantity-store_fault = Fault of the database
quantity-broker_way_fault = Way through the broker
quantity-archive_lag_hours = Lag of the archive
quantity-copy_age_hours = Age of the last good copy
quantity-copy_behind_hours = Longest wait of a place for a copy
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
command-not_on_disk = It is not on disk yet: the database takes nothing at the moment, and a restart would forget it.

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

## journal

journal-by = by { $who }
journal-nothing = Nothing yet.

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
me-who_unnamed = You are logged in as { $role }.
me-preferences = How you want the page
me-language = Language
me-language_unread = { $language }: no native speaker has read it yet. Tell us what sounds wrong.
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
me-password_guessed = This password is one of those that are tried first. Take four words that have nothing to do with one another.
me-password_own = Give the helpers another one than your own: whoever has it is the owner.
me-out = Leave
me-end_heading = A phone is lost
me-end_explained = All sessions under a name end, on every phone and computer; what waits on such a phone cannot be handed in. Whoever knows the password can log in again: give a new one too.
me-end_name = The name
me-end_do = End all sessions of this person
me-end_whose = Say whose sessions are to end.
me-ended = All sessions of { $who } have ended.
me-log_out = Log out
me-phone = This page on a phone: QR code and steps
me-invite = A helper’s phone
me-invite_explained = A link that logs one phone in as a helper, once, without a password.
me-invite_do = Make a link
me-invite_copy = Copy the link
me-invite_copied = Copied

## link

link-not_valid = This link is not valid any more: it was used, or it has expired. Log in to see what is so now.
link-no_alarm = The alarm of this link is no longer in the settings.
link-nothing_to_do = There is nothing to acknowledge: it was acknowledged, or it is over, or it has come anew since.
link-to_page = To the page

## once

once-heading = From your phone
once-changed = This form was handed in before, { $at }, with other values. What was written then stands; this was not written. If it is a further entry, open the form anew.
once-see = See what was written
once-phone_clock = The clock of your phone and that of the monitor differ by more than a day. By the monitor’s clock this was made { $at }. Is that so?
once-waited_long = This waited very long on your phone: it was made { $at }. Look in the logbook whether it stands there already. Write it?
once-clock_set = The clock of your phone was set while this waited. As far as is known it was made { $at }. Is that so?

## phone

phone-waiting = Waiting on this phone
phone-gone = No connection. What you see is { $age } old.
phone-count = Waiting on this phone: { $count }.
phone-of = From { $who }, { $at }
phone-log_in = It is handed in when { $who } logs in.
phone-asks = Something is asked.
phone-kept = Kept on this phone, handed in when the connection is back: { $what }
phone-not_sent = No connection: nothing was sent. What you typed is still here; try again.
phone-no_page = No connection: that page cannot be opened now. This one goes on.
phone-answer = Answer
phone-edit = Change
phone-delete = Delete
phone-sure = Delete what waits? { $what }
phone-leave = Not handed in yet: { $count }. It stays on this phone until you log in here again. Log out all the same?
phone-back = The connection is back. What you see is still { $age } old.
phone-keeps_nothing = This browser keeps nothing (a private window, or no space left): without a connection nothing can be written down here.
phone-twice = The same is waiting already, from { $at }. Keep it once more?
phone-maybe = It may have arrived already: look in the logbook.
phone-no_answer = No answer came: it may have arrived. Send it again, it is written only once.

## problem

problem-heading = That did not work
problem-elsewhere = This form did not come from this page, so nothing was done. Open the page itself and try again.
problem-form = This form is too old or not from this page, so nothing was done. Go back, load the page anew and try again.
problem-owner = Only the owner can do this. Nothing was changed.
owner-only_place = The owner can put this place aside and say that it is empty.
owner-only_alarm = The owner can put places and alarms aside for a time, and back: meanwhile nobody is warned of them.
owner-only_me = The owner can give the helpers a password and end the sessions of a person.
problem-usage = That cannot be done.
problem-store = The database cannot be used at the moment. The monitor goes on from memory; run rearing-monitor check on its computer.
problem-not_here = There is no such page.
problem-not_so = This page cannot be asked in that way.
problem-back = To the beginning

## reach

reach-heading = This page on a phone
reach-own = Over the encrypted address the page can be installed, and pages that you have seen open without a connection. For that the phone has to know the farm’s own certificate (CA), once. Do this in the farm’s Wi-Fi.
reach-get_ca = 1. The farm’s certificate
reach-ca_file = Download the certificate
reach-fingerprint = Its SHA-256 fingerprint, as `rearing-monitor page setup` shows it too:
reach-ca_caution = With it the phone believes whatever this farm’s computer vouches for. Install it only from your own farm, and take it off a phone that leaves the farm.
reach-android = On Android
reach-android_1 = Tap “Download the certificate” above. If the phone offers to install it at once, go on with step 3.
reach-android_2 = Open Settings, search for “CA certificate”, and choose it (often under Security, Encryption and credentials, Install a certificate).
reach-android_3 = Tap “Install anyway”, and choose the file farm-ca.crt among the downloads. A phone without a screen lock asks for one.
reach-iphone = On iPhone and iPad
reach-iphone_1 = In Safari, tap “Download the certificate” above and allow the download of a profile.
reach-iphone_2 = Open Settings, tap “Profile Downloaded” (or General, VPN & Device Management), then Install.
reach-iphone_3 = Open Settings, General, About, Certificate Trust Settings, and switch the farm’s certificate on.
reach-untried = These steps are written from memory; nobody has tried them on a phone with this program yet. Names in Settings differ between phones.
reach-then = 2. Open the encrypted page
reach-install = Install it
reach-install_android = Android, in Chrome: menu (three dots), then “Add to Home screen” or “Install app”.
reach-install_iphone = iPhone and iPad, in Safari: Share, then “Add to Home Screen”.
reach-plain = This address is not encrypted: the page works and keeps what you write while it is open, but browsers let it neither be installed nor be opened without a connection. The owner changes that with `rearing-monitor page setup` on the farm’s computer.
reach-another = Another phone
reach-scan_start = For a phone that has no certificate yet, this opens these steps. Point its camera here:
reach-scan_page = This opens the page. Point the phone’s camera here:
reach-qr_start = QR code of these steps
reach-qr_page = QR code of the page
reach-no_connection = No connection
reach-not_kept = This page was not opened on this phone before, so it cannot be shown now. It is loaded as soon as the connection is back.

## join

join-qr_title = QR code of the link for a helper
join-scan = One helper’s phone opens this and is logged in. The link works once, until { $until }.
join-secret = Whoever opens it first is your helper. Show it to nobody else.
join-paste = Or send the link:
join-heading = Welcome
join-explained = With this you are logged in on this phone as a helper. The link works once.
join-do = Begin
join-name_needed = Say your name, so that the others see who wrote what.
join-not_valid = This link is over: it was used, it is too old, or it is not whole. Ask the owner for a new one.

push-acknowledged = Noted: you have seen it.
push-not_acknowledged = It could not be noted that you have seen it: the farm’s page does not answer from here. The alarm still waits.
push-more = The rest is on the page.
push-heading = Messages on this phone
push-explained = Alarms and the night report come onto the screen of this phone, also while the page is closed. A tap opens the place.
push-never_alone = They go over the internet, through the service of the phone’s maker: without internet at the farm or on the phone nothing comes. Never rely on them alone; keep another way, and the sounder in the barn.
push-needs_https = This address is not encrypted, and browsers let only an encrypted page take messages. The owner changes that on the farm’s computer with `rearing-monitor page setup`; then open the encrypted address on this phone.
push-needs_library = The program that encrypts these messages is not installed on the farm’s computer. The owner installs it with `{ $command }` and starts the monitor again.
push-needs_people = The settings name nobody who is told. The owner adds a [[recipients]] table with a name and an address to farm.toml; `{ $address }` is this page alone.
push-needs_scripts = This needs scripts, and they are switched off in this browser.
push-for_whom = Messages for
push-turn_on = Turn on messages on this phone
push-turned_on = Turned on. Send a test below, and see whether it comes.
push-turned_off = Turned off: this phone gets no more messages.
push-this_phone = This phone: messages are on. Logging out ends them.
push-again = The farm does not know this phone any more. Turn messages on again.
push-cannot = This browser cannot take messages.
push-iphone = On an iPhone or iPad, first put the page on the home screen (Share, then “Add to Home Screen”), and open it from there.
push-denied = This browser was told to show no messages of this page. Allow notifications for it in the browser’s or the phone’s settings, then open this page again.
push-no_service = The service of the phone’s maker does not answer. See whether this phone has internet, and try again.
push-people = Who is told, and how
push-by_address = by the address in the settings ({ $kind })
push-alone = { $name } is told by phones with this page alone. Without internet nothing comes, and when the browser’s data are deleted it ends without a word. Give { $name } another way in farm.toml as well.
push-alone_without = No phone takes messages for { $name } yet, so { $name } is told nothing.
push-gone = { $device }: takes messages no more, since { $at }. Turn them on again on it.
push-device_android = Android phone
push-device_iphone = iPhone or iPad
push-device_computer = Computer
push-since = since { $at }
push-turned_on_by = turned on by { $name }
push-last = last message { $at }
push-test = Send a test
push-end = End messages here
push-whose = Say whose messages this phone is to get.
push-too_many = Too many phones take messages already. End those that are not used any more.
push-unknown = This phone takes no messages any more.
push-not_yours = Only the owner, or who turned messages on there, can do that.
push-phones =
    { $count ->
        [one] { $count } phone
       *[other] { $count } phones
    }
push-failures =
    { $count ->
        [one] { $count } message not taken since
       *[other] { $count } messages not taken since
    }
