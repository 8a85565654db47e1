# A board is enrolled: what was done, its card, how far it has come.


## What was done

board-done_add = { $node } is in the settings ({ $place }), has a user at the broker and a card.
board-done_card = { $node } has a new card. The card that it had before does not let it in any more.
board-done_replace = Another board may take the place of { $node } ({ $place }) with this card. The old board is let in no more, and its readings stay.
board-removed = { $node } is gone from the settings and from the broker, and its card is deleted. What it measured stays.
board-unguards = { $place } is no longer guarded: no other board is in it.
board-would_unguard = Without it no board guards { $place }.
board-unmeasured = { $place }: no board measures the { $quantity } there. Nothing that rests on it is guarded.
board-card_file = The card: { $file }
board-proven = The broker has read its users again and lets { $node } in.
board-reload = The broker does not know of it yet: it does not run, or this user may not tell it. Run: { $command }
board-reload_monitor = The monitor that runs belongs to another user and has not read the settings again. Run: sudo systemctl reload rearing-monitor
board-still_connected = Nobody could see to it that the open connection of { $node } ends. End it by a restart of the broker: sudo systemctl restart mosquitto
board-broker_silent = Nothing answers at port { $port } of the broker, so nobody could try whether it lets the board in. Start it: sudo systemctl start mosquitto
board-asks_broker = Waiting for the broker at port { $port } to answer, up to a quarter of a minute …
board-ask_wifi = Name of the Wi-Fi of the boards (2.4 GHz; empty: each board asks for it):
board-ask_password = Password of the Wi-Fi “{ $wifi }” (it is not shown):
board-ask_remove = Remove { $node }? [y/N]


## Its card

board-paste = Its card, one line to paste into the set-up page of the board:
board-scan = Scan it with a phone, copy the text, join the Wi-Fi that the board opens, and paste it there.
board-too_narrow = The QR code needs { $columns } columns; widen the terminal, or see it on the page under Nodes.
board-secret = The card holds a password. Whoever has it can send as this board; show it to nobody, and do not send it by mail.
board-next = Next: power the board, join the Wi-Fi “board-new” that it opens, open http://192.168.4.1 there and paste the card. A board that had a card before opens its Wi-Fi, “board-” and its old name, only when you press BOOT within two seconds after power.


## How far it has come

board-step_stopped = The monitor does not run, so nobody would hear { $node }. Start it: rearing-monitor run
board-step_away = The monitor runs and has no connection to the broker. See why: rearing-monitor check --broker
board-step_unseen = Waiting. Nobody has seen { $node } log in at the broker. Look at its power, at the Wi-Fi (2.4 GHz alone), and whether the whole card was pasted.
board-step_wrong_card = The broker refused somebody at { $why }, who has no right name or password. If that is { $node }, it has an older card: paste the newest one, or make it again: rearing-monitor board card { $node }
board-step_no_trust = Somebody at { $why } does not believe the broker’s certificate. If that is { $node }, its card is of another authority: make it again: rearing-monitor board card { $node }
board-step_logged_in = { $node } has logged in and has sent nothing yet. Its first round comes within its interval; else no sensor answers it.
board-step_refused = { $node } sends, and what it sends is refused: { $why }
board-step_heard = Heard: { $node } sends.
board-value = { $what }: { $value } ({ $place })
board-not_heard = Expected and not heard yet: { $names }
board-not_expected = Sent, but not in the settings: { $names }
board-later = It may be hung up at any time; see whether it is heard: { $command }
board-without_card = without a card
board-without_user = the broker does not know it
board-planned =
    { $count ->
        [one] Planned in the settings, not there yet: { $boards }
       *[other] Planned in the settings, { $count } boards not there yet: { $boards }
    }
board-planned_do = When you have one: rearing-monitor board add NAME. One that you will not have: rearing-monitor board remove NAME


## The program of the boards

board-files_compiled =
    { $count ->
        [one] { $count } file in { $folder }, compiled beforehand, { $size } bytes:
       *[other] { $count } files in { $folder }, compiled beforehand, { $size } bytes:
    }
board-files_plain =
    { $count ->
        [one] { $count } file in { $folder }, as text (mpy-cross is not installed), { $size } bytes:
       *[other] { $count } files in { $folder }, as text (mpy-cross is not installed), { $size } bytes:
    }
board-files_next = Over USB: { $command }
board-files_older = A board that has them as text would go on with those; take them away first: { $command }


## Problems

problems-nothing_changed =
    { $count ->
        [one] { $count } problem, and nothing was changed:
       *[other] { $count } problems, and nothing was changed:
    }

## The page: a new board

board-add = Add a board
board-owner_adds = The owner can add boards, replace them and take them away.
board-owner_only = The owner can make its card again, move it, put another board in its place, or take it away.
board-not_set_up = The broker on this computer cannot tell boards apart yet. Run there, once: { $command }
board-add_explained = This gives the board a user at the broker and a card to paste into it, and writes the settings file. Its comments stay, and the old file is kept beside it.
board-name = Its name
board-hangs_in = It hangs in
board-wired = What is wired to it
board-sensor_sht3x = SHT3x
board-sensor_sht4x = SHT4x
board-sensor_bme280 = BME280
board-sensor_ds18b20 = DS18B20, one-wire thermometer: its probes lie in or measure
board-sensor_moisture = Moisture probe (capacitive)
board-sensor_battery = Divider for the battery
board-sensor_ds3231 = DS3231, clock chip
board-at_address = { $sensor }, at its other address { $address }
board-no_probe = none is wired
board-other_addresses = Sensors at their other address
board-probes = Names of its one-wire probes, if it has several, and where each hangs
board-power = It lives on
board-power_mains = mains, always on
board-power_battery = a battery, asleep between two rounds
board-measures_each = It measures each
board-sends_each = It sends
board-rounds =
    { $count ->
        [one] each measuring at once
       *[other] { $count } measurings in one go
    }
board-wifi = Name of the Wi-Fi
board-wifi_password = Password of the Wi-Fi
board-wifi_known = Leave the password empty to take that of “{ $wifi }” as for the board before.
board-wifi_explained = Leave the Wi-Fi out if you do not want to type it here: the board asks for it. Boards use 2.4 GHz alone.
board-make = Make its card


## The page: its card

board-card_of = Card of { $node }
board-qr_title = Card of { $node } as a QR code
board-shown_once = It is shown here once; make another one when you lost it.
board-copy = Copy the card
board-copied = Copied
board-look = To the page of { $node }


## The page: one board

board-move = Move it to another place
board-move_explained = For a board that hangs elsewhere now. What it measured where it was is shown at the new place too; where that would mislead, take it away and add it under a new name. Its probes stay where the settings say.
board-moved = { $node } is in its new place. The monitor reads the settings again in a moment.
board-do_card = Make its card again
board-do_replace = Put another board in its place
board-do_remove = Take it away
board-explains_card = For the same board, such as after a reset. It gets a new password, and the card that it has ends at once.
board-explains_replace = For a board that is broken or stolen. The new one takes its name and place, the card of the old one ends at once, and the readings stay.
board-explains_remove = Its user at the broker, its lines in the settings and its card go, and its open connection ends. Its readings stay.
