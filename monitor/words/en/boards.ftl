# Boards: page, command line, report.


## board

board-fine = sends
board-unknown = silent
board-out_of_service = out of service
board-new = new

## nodes

nodes-head = { $node }:
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
nodes-calibrated_today = calibrated today
nodes-guards_nothing = It is in no place, so it guards nothing.
nodes-silent_for = Silent for { $length }.
nodes-never_heard = Never heard.
nodes-not_in_settings = It sends readings but is not in the settings: rearing-monitor nodes shows what to add.
nodes-doubtful = { $sensor } doubtful for { $length } (stuck, jumping or wetted).
nodes-none_named = The settings name no board yet.
nodes-new_line = { $facts }. It guards nothing until you add to farm.toml:
nodes-place_line = take the first # away and name one of: { $places }
nodes-no_places_yet = none yet: add a [[places]] table first
nodes-nameless =
    { $count ->
        [one] { $count } message that fits no board, { $at }: { $why }
       *[other] { $count } messages that fit no board, the last { $at }: { $why }
    }
nodes-column_board = board
nodes-column_place = place
nodes-column_heard = heard
nodes-column_battery = battery
nodes-column_messages = messages
nodes-column_missing = missing
nodes-column_calibration = calibration
nodes-column_faults = faults

## archive

archive-head = Archive:
archive-up_to_date = up to date
archive-waiting =
    { $count ->
        [one] { $count } reading waits
       *[other] { $count } readings wait
    }
archive-oldest = the oldest for { $length }
archive-refused =
    { $count ->
        [one] { $count } reading was refused by the server for good
       *[other] { $count } readings were refused by the server for good
    }
archive-trouble = last trouble: { $error }

## battery

battery-count = { $count } days
battery-days = { $rhythm }: about { $days } on a cell of { $capacity } mAh, of which { $used } is used.
battery-rhythm =
    { $count ->
        [one] Measuring every { $every }, sending each time
       *[other] Measuring every { $every }, sending { $count } of them at a time
    }
battery-others = With another rhythm:
battery-power_cut = Always on instead, with the mains and the cell behind it: { $length } through a power cut.
battery-voltages = The cell: full at { $full } V, charge it at { $charge } V, never below { $cut_off } V.
battery-pin = The battery pin gets it divided by { $ratio }: { $pin_full } to { $pin_cut_off } V; it measures up to { $widest } V. Never the cell itself.
battery-assumed = Assumed:
battery-measure = Nobody has measured these on a board of yours. Measure, and give what you found as options (see --help).
battery-part_asleep_ma = asleep
battery-part_measuring_ma = awake
battery-part_measuring_s = awake for each measuring
battery-part_sending_ma = sending
battery-part_sending_s = radio on for each message
battery-part_always_on_ma = always on
battery-part_used = used of the cell
battery-part_lost = lost by itself each month
