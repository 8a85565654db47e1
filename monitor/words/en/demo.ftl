# What the demo says while the invented farm plays.

demo-opening = Saltbush Yard is an invented farm: its places, its people and every reading are simulated.
demo-plan =
    { $days ->
        [one] { $shown } day from { $day }, { $at } goes by quickly. Messages to people go into { $inbox }
       *[other] { $shown } days from { $day }, { $at } go by quickly. Messages to people go into { $inbox }
    }
demo-note =
    Settings of the demo. Saltbush Yard, its boards and its people are invented; so is every reading.
    Simulated time starts at { $start }. Messages go into the folder { $inbox }.
demo-page = The page: { $address }  (first password: { $password })
demo-staying = The farm goes on in real time, for the page. Ctrl-C ends it.
demo-closing = { $published } MQTT messages were published. { $messages } messages went to people: { $inbox }
demo-to = to { $recipient }: { $title }

## first word of a line
demo-farm = farm
demo-alarm = alarm
demo-over = over
demo-message = message
demo-monitor = monitor

## what happens on the farm
demo-forgotten-tray-3-begins = Nobody wets the pad of hatching tray 3 this morning.
demo-forgotten-tray-3-ends = The keeper wets the pad of hatching tray 3.
demo-forgotten-bin-6-begins = Bin 6 stands under a fan and gets no water.
demo-unknown_board-node-15-begins = A board that is not in the settings starts to send.
demo-loose_cable-node-10-begins = The probe cable of bin 3 works loose: the probe reads -127 and 85 now and then.
demo-loose_cable-node-10-ends = The probe cable of bin 3 is pushed in again.
demo-out_of_range-node-06-begins = A steel door shuts off node-06 from the radio. It keeps its readings.
demo-out_of_range-node-06-ends = The steel door opens; node-06 sends four hours of readings at once, in times before now.
demo-stuck-node-12-begins = The probe of bin 5 sticks at one value.
demo-stuck-node-12-ends = The probe of bin 5 is changed for a good one.
demo-dead-node-13-begins = The battery of node-13 is empty; the board on bin 6 falls silent.
demo-dead-node-13-ends = node-13 gets a new battery.
demo-covered-bin-4-begins = Another bin is stacked on bin 4, full of larvae in their hottest days: no air gets in.
demo-covered-bin-4-ends = The keeper takes the upper bin off and stirs bin 4.
demo-draught-cage-2-begins = The door beside love cage 2 blows open in the cold of the night.
demo-draught-cage-2-ends = The door beside love cage 2 is shut.
demo-power_cut-farm-begins = The power goes on the whole farm: heaters, lamps and the radio are off.
demo-power_cut-farm-ends = The power is back. Some boards kept their readings, the others restart.
