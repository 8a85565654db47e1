# The way back from a copy: `restore`.

restore-fetching = Fetching the copy
restore-copy = Copy of { $title } ({ $site })
restore-from = from { $source }
restore-made = made { $at }
restore-until = readings until { $at }, { $length } ago
restore-no_readings = no readings
restore-cohorts = { $count ->
    [0] no living cohort
    [one] one living cohort: { $names }
   *[other] { $count } living cohorts: { $names }
}
restore-alarms = { $count ->
    [0] no open alarm
    [one] one open alarm
   *[other] { $count } open alarms
}
restore-photos = { $count ->
    [0] no photos
    [one] one photo
   *[other] { $count } photos
}
restore-photos_missing = { $count ->
    [one] one of them is not there any more
   *[other] { $count } of them are not there any more
}
restore-secrets_none = no secrets: keys, passwords and addresses have to be given again
restore-secrets_closed = secrets, but not opened: without the passphrase keys, passwords and addresses have to be given again
restore-secrets_opened = secrets: opened
restore-outside = also writes into { $folders }
restore-passed_over = { $count ->
    [one] One copy is dated ahead of now and was passed over: { $names }. To take it: --copy NAME
   *[other] { $count } copies are dated ahead of now and were passed over: { $names }. To take one: --copy NAME
}
restore-passphrase = Passphrase of the copies (empty: go on without secrets):
restore-sure = Put all this in its place, in { $folder }? What is there already is kept beside it. [y/N]
restore-nothing = Nothing was changed. To do it without a question, give --yes.
restore-done = Everything is in its place: settings { $file }, database { $database }
restore-moved = In the settings these named the old folder and now start at the folder of the file: { $keys }
restore-kept = { $count ->
    [one] What was there before is kept: { $files }
   *[other] What was there before is kept: { $files }
}
restore-left = { $count ->
    [one] Left as it is on this computer: { $files }. To take the one of the copy, give --everything.
   *[other] Left as they are on this computer: { $files }. To take those of the copy, give --everything.
}
restore-missing = What is missing yet
restore-give_files = Secrets to write into their files again (chmod 600): { $names }
restore-give_keys = Secrets to write into the settings again: { $names }
restore-give_variables = Secrets to put into the environment again: { $names }
restore-page_is_new = The page has new keys: everybody logs in again. Where the settings hold no password for the owner, `run` writes a first one into a file and names it. Phones take messages again once they are turned on there.
restore-photos_lost = { $count ->
    [one] One photo was in no copy any more; its entry is there.
   *[other] { $count } photos were in no copy any more; their entries are there.
}
restore-boards_need_cards = The boards’ passwords and the farm’s own authority were not in the copy: write a new password into the file that [broker] names, run `rearing-monitor broker setup --new-ca`, then `rearing-monitor board card NAME` for each board.
restore-not_filled = No reading was taken from the archive: { $why } When it answers again:
restore-checked = Checked: it can run with these settings. What each place is guarded for: { $command }
restore-test_later = When that is put right: rearing-monitor send-test
restore-next = What comes next
restore-next_broker = { $command }: gives mosquitto its files, with the names of this computer
restore-next_boards = Boards need nothing new: they go on with their cards, as soon as this computer is found under the address of the old one.
restore-next_boards_at = Boards need nothing new: they go on with their cards, as soon as this computer is found as { $names }.
restore-next_run = { $command }, or where it is a service: sudo systemctl enable --now rearing-monitor
