# Boards: page, command line, report.


## board

board-fine = sends
board-unknown = silent
board-unheard = not heard yet
board-out_of_service = out of service
board-new = new

## nodes

nodes-head = { $node }:
nodes-heard = heard { $at }
nodes-never = not heard yet
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
nodes-boot_stands = It began anew under the same boot number. The board has to count each start in flash; else lost messages cannot be seen.
nodes-boots_are_wakes = Each of its last starts had one or two messages: it counts wakes as starts, or begins anew all the time. Lost messages cannot be seen so.
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
nodes-never_heard = Not heard yet.
nodes-not_in_settings = It sends readings but is not in the settings: say on the page under Boards where it is, or see rearing-monitor nodes.
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

## report of a board

board_report-age = reported { $at }
board_report-kept = an older report, kept by the broker until { $at }
board_report-program = program { $version }
board_report-program_on = program { $version } on { $chip }
board_report-uptime = had then run for { $length }
board_report-reset_power = began when power came
board_report-reset_watchdog = began anew after it hung
board_report-reset_wake = sleeps between measurements
board_report-reset_software = began anew by its program
board_report-reset_brownout = began anew after its supply broke in
board_report-clock_monitor = time from the monitor
board_report-clock_chip = time from its clock chip
board_report-clock_kept = time kept over its sleep
board_report-clock_none = does not know the time
board_report-signal_good = signal good ({ $dbm } dBm)
board_report-signal_weak = signal weak ({ $dbm } dBm)
board_report-signal_too_weak = signal too weak ({ $dbm } dBm)
board_report-heap = { $kb } kB of memory free
board_report-probes = probes { $probes }
board_report-waiting =
    { $count ->
        [one] { $count } message waits on it
       *[other] { $count } messages wait on it
    }
board_report-lost =
    { $count ->
        [one] { $count } message lost in all
       *[other] { $count } messages lost in all
    }
board_report-damaged =
    { $count ->
        [one] { $count } byte of its memory was damaged
       *[other] { $count } bytes of its memory were damaged
    }
board_report-settings_in_force = the settings are in force
board_report-settings_other = the settings are not in force yet
board_report-sensor = Its sensor { $sensor } { $what }.
board_report-fault = has a fault ({ $code })
board_report-fault_no_answer = does not answer: look at cable, plug and supply
board_report-fault_crc = answers garbled: shorten the cable, move it away from mains, look at the pull-up
board_report-fault_power_on_value = says only its value at power-on: look at supply and pull-up
board_report-fault_rail = reads the end of its scale: a wire is off or touches another
board_report-fault_saturated = shows full humidity all the time: it is wet or broken
board_report-fault_range = says what it cannot measure
board_report-mend_watchdog = It hung and began anew by itself. If that comes again, copy its program anew or change the board.
board_report-mend_brownout = Its supply broke in and it began anew: look at cable, charger and battery.
board_report-mend_reset = It began anew against its will in the last day (it hung, or its supply broke in).
board_report-mend_lost =
    { $count ->
        [one] It has lost { $count } message for good, within the last day.
       *[other] It has lost { $count } messages for good in all, some within the last day.
    }
board_report-mend_damaged =
    { $count ->
        [one] { $count } byte of its memory was damaged within the last day. If that goes on, change the board.
       *[other] { $count } bytes of its memory were damaged in all, some within the last day. If that goes on, change the board.
    }
board_report-mend_weak = It hears the network weakly ({ $dbm } dBm): turn or move its box, or lift it.
board_report-mend_too_weak = It hears the network too weakly ({ $dbm } dBm): put a repeater or the router nearer.
board_report-mend_program = Its program is { $version }; { $newer } comes with this monitor: copy it over USB when you pass by.
board_report-mend_refused = It refuses its settings: { $why }

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
        [one] { $count } reading is refused by the server and tried again each hour
       *[other] { $count } readings are refused by the server and tried again each hour
    }
archive-trouble = last trouble: { $error }
archive-compared = read back and compared up to { $moment }
archive-begins = it holds nothing from before { $moment }: the server keeps no more
archive-filled =
    { $count ->
        [one] { $count } reading that the server had taken was not there and was sent again
       *[other] { $count } readings that the server had taken were not there and were sent again
    }
archive-missing =
    { $count ->
        [one] { $count } reading is not there although the server took it twice, of { $moment }
       *[other] { $count } readings are not there although the server took them twice, the oldest of { $moment }
    }
archive-unreadable = it cannot be read back, so nothing proves what it holds: { $error }

## battery

battery-count = { $count } days
battery-row = { $name }: { $value }
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
