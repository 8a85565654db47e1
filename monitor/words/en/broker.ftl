# The broker: `broker setup` and `broker test`.


## broker

broker-as_it_should = The broker's files are as they should be; nothing was changed.
broker-will_write = This will be written:
broker-doors = The monitor connects at 127.0.0.1, port { $monitor }; boards at port { $boards }, encrypted.
broker-names = The broker's certificate bears: { $names }
broker-new_ca = The farm gets a CA of its own in { $folder }. Keep a copy of that folder in a safe place: without it every board needs a new card.
broker-new_cards = Every card that was made before is void with the new CA. For each board: { $command }
broker-dry_run = Nothing was written (--dry-run).
broker-sure = Write it? (y or n)
broker-written = Written.
broker-restarted = mosquitto was told and runs with the new files.
broker-next_restart = Next: { $command }
broker-next_reload = Next: { $command }
broker-next_unit = Then: { $command }
broker-next_monitor = If the monitor runs, start it again: { $command }
broker-next_test = Then prove it: { $command }
broker-next_board = Then a board: { $command }
broker-proven = The broker keeps boards apart, and they are heard.
broker-from_here = It was tried from this computer; a firewall that stops boards is seen by a board alone.
broker-failed =
    { $count ->
        [one] { $count } trial failed.
       *[other] { $count } trials failed.
    }
