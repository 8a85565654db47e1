# The commands that set up, run and copy: init, check, run, demo, send-test, calibrate, import, replay, export, backup.

command-not_running = The monitor does not run, so nothing is guarded now. What you asked for is kept and will be done when it starts: rearing-monitor run
command-no_answer =
    { $count ->
        [one] The monitor has not answered within { $count } second.
       *[other] The monitor has not answered within { $count } seconds.
    } What you asked for is kept and will be done as soon as it can; `rearing-monitor now` says whether it runs
data-written = Written: { $file }

problems-count =
    { $count ->
        [one] { $count } problem in the settings:
       *[other] { $count } problems in the settings:
    }
failure-inside = Something failed inside the program ({ $kind }). This is not your mistake.
failure-details = The details are in { $file }; please send that file along when you report it.
failure-stopped = stopped

init-begin = Press Enter to take the answer in brackets. Nothing is written before the last answer.
init-yes = y
init-no = n
init-name = Name of the farm
init-zone = Time zone (region/city, or a city alone)
init-altitude = Height above sea level (m)
init-rooms = How many rooms
init-cages = How many love cages
init-trays = How many hatching trays
init-bins = How many grow-out bins
init-boxes = How many pupation boxes
init-room_of_cages = In which room are the love cages (1 to { $count })
init-room_of_trays = In which room are the hatching trays (1 to { $count })
init-room_of_bins = In which room are the grow-out bins (1 to { $count })
init-room_of_boxes = In which room are the pupation boxes (1 to { $count })
init-boards = A board carries the sensors of a place. A board can be added or moved later.
init-board_in_each = { $count ->
    [one] A board of its own in this place (y or n)
   *[other] A board of its own in each of the { $count } places (y or n)
}
init-board_count = How many boards
init-board_place = Where does { $board } hang (number or name; 0: not yet)
init-broker =
    Boards send to a broker, the post office on a computer. This program can run one itself;
    mosquitto keeps messages over a power cut too.
init-embedded = Run the broker in this program (y or n)
init-host = Computer on which the broker runs
init-user = User name of this program at the broker (-: none)
init-password = Password of that user (it is not shown)
init-keep_address = Send messages to the address of the option --address (y or n)
init-ways = How do messages reach you?
init-way = Number
init-way_mail = e-mail
init-way_push = push message to an app on the phone (ntfy)
init-way_telegram = Telegram
init-way_signal = Signal, through a gateway of your own
init-way_sms = text message (SMS), through an account at Twilio
init-way_whatsapp = WhatsApp, through an account for its Cloud API
init-way_other = another way: an apprise address
init-way_none = nowhere yet
init-help_mail =
    Messages go from your mail account to itself. Your provider names the outgoing server (SMTP);
    many want an "app password" made for this program in place of your own.
init-help_push =
    Install the app ntfy on the phone and subscribe to the topic below. Whoever knows the topic
    can read along, so take one that nobody guesses.
init-help_telegram =
    Write to @BotFather: /newbot. It answers with a token. Then write to your new bot, and open
    https://api.telegram.org/bot<token>/getUpdates: the number behind "chat":{ "{" }"id": is yours.
init-help_signal =
    It needs the gateway signal-cli-rest-api on a computer of yours, with a number of its own.
init-help_sms =
    The account shows its SID (AC...), its token and its telephone number. Each message costs money.
init-help_whatsapp =
    The account shows an access token and the id of the sending number. The phone must have written
    to that number within a day, or the message needs a template: try it with send-test.
init-example = Example of the address that follows: { $address }
init-ask_mail_to = Your e-mail address
init-ask_mail_server = Outgoing mail server (SMTP), with its port if it is not 587
init-ask_mail_user = User name at the mail server
init-ask_mail_password = Password at the mail server (it is not shown)
init-ask_push_server = Server
init-ask_topic = Topic
init-ask_token = Token of the bot
init-ask_chat = Number of the chat
init-ask_gateway = Gateway (computer:port)
init-ask_phone_from = Telephone number that sends, with country code
init-ask_phone_to = Telephone number that receives, with country code
init-ask_sms_account = Account SID
init-ask_sms_key = Account token (it is not shown)
init-ask_whatsapp_key = Access token (it is not shown)
init-ask_whatsapp_sender = Id of the sending number
init-services =
    Messages go to any service that apprise knows, as its pages describe: matrixs://..., atalk://...,
    or folder:///path for files in a folder.
init-address = Address (empty: nowhere yet)
init-written_secret = Written: { $file } (readable by you alone)
init-kept = The old file is kept as { $file }
init-set_variable = Set { $variable } to the address before the next step, for example in the shell:
init-try_broker = Try the way to the broker now (y or n)
init-try_message = Send a test message now (y or n)
init-topic = The first board publishes to { $topic }; the others likewise.
init-next = Next:
init-next_check = { "" }  { $command }    what is missing, what each place is guarded for, and the way to the broker
init-next_test = { "" }  { $command }         whether messages reach you
init-next_run = { "" }  { $command }               start guarding
init-next_broker = { "" }  { $command }      after the first evening: mosquitto keeps boards apart and forgets nothing

check-fine = { $site }: { $file } has no problem.
check-warning = warning: { $warning }
check-warnings = Warnings
check-notes = Good to know
check-guards = What each place is guarded for
check-no_places = { "" }  nothing: there is no [[places]] table
check-held_back = held back: { $reason }
check-unguarded = not watched: { $what }
check-if_measured = if its sensors measure it: { $what }
check-sensors_unknown = whether its sensors measure all this is not known yet
check-broker = The way to the broker at { $where }
check-step_good = right: { $said }
check-step_bad = WRONG: { $said }

demo-folder = Everything of this demo is in { $folder } and stays there. To look into it:

trial-from_here = The monitor does not run; the test goes out from here.
trial-sent = { $name }: sent
trial-phone_of = { $name } (phone)
trial-not_sent = { $name }: not sent: { $why }
trial-not_yet = { $name }: not sent yet: { $why }. The monitor goes on trying
trial-no_answer =
    { $count ->
        [one] no answer within { $count } second
       *[other] no answer within { $count } seconds
    }

calibrate-entered = Entered:
calibrate-in_use = The running monitor uses it within a minute.
calibrate-line = { $sensor }: true = { $slope } × raw { $sign } { $offset }, from { $since } on
calibrate-none = No calibration was entered yet; values are shown as the sensors send them.
calibrate-ends = in air { $air }, in water { $water }
calibrate-index = { $sensor }: an index only ({ $ends }); for a moisture it needs { $points } points by the oven
calibrate-probe = { $sensor }: moisture from { $low } to { $high }, { $ends }; a point is off by { $off } % or so

import-read =
    { $count ->
        [one] { $file }: { $count } reading in { $rows }
       *[other] { $file }: { $count } readings in { $rows }
    }
import-rows =
    { $count ->
        [one] { $taken } of { $count } row
       *[other] { $taken } of { $count } rows
    }
import-span = from { $first } to { $last } ({ $length })
import-column = column { $column }
import-unused = columns not used: { $columns }
import-skipped =
    { $count ->
        [one] { $count } row was not taken:
       *[other] { $count } rows were not taken:
    }
import-line = line { $line }: { $reason }
import-more = and { $count } more
import-dry = Nothing was stored (--dry-run).
import-storing = Storing
import-stored =
    { $count ->
        [one] Stored: { $count } reading
       *[other] Stored: { $count } readings
    }
import-duplicates =
    { $count ->
        [one] { $count } reading was there already
       *[other] { $count } readings were there already
    }
import-conflicts =
    { $count ->
        [one] { $count } reading differs from one of the same time that was there; the earlier one is kept
       *[other] { $count } readings differ from one of the same time that was there; the earlier one is kept
    }
import-failed =
    { $count ->
        [one] { $count } reading cannot be true and will not be used (flag { $flag } in an export)
       *[other] { $count } readings cannot be true and will not be used (flag { $flag } in an export)
    }
import-suspect =
    { $count ->
        [one] { $count } reading doubtful, used with that mark (flag { $flag } in an export)
       *[other] { $count } readings doubtful, used with that mark (flag { $flag } in an export)
    }
import-no_node = { "" }  { $node } stands in no [[nodes]] table yet; `rearing-monitor nodes` shows the lines to add

replay-bar = Sending
replay-begin =
    { $count ->
        [one] { $file }: { $count } message to { $broker } in { $length }
       *[other] { $file }: { $count } messages to { $broker } in { $length }
    }
replay-sent =
    { $count ->
        [one] Sent: { $count } message, all taken by the broker
       *[other] Sent: { $count } messages, all taken by the broker
    }
replay-no_node = { $node } stands in no [[nodes]] table, so no alarm comes from it

refill-bar = Fetching
refill-stored =
    { $count ->
        [one] Fetched from the archive: { $count } reading that was missing; it holds { $sensors } up to { $newest }
       *[other] Fetched from the archive: { $count } readings that were missing; it holds { $sensors } up to { $newest }
    }
refill-resumed = Went on from { $moment }, where it was broken off before.
refill-stays = What was fetched up to here stays; the same command goes on from there.
refill-nothing = The archive holds no reading of the site { $site } in that time.
refill-sites = It knows these sites: { $sites }

export-bar = Writing
export-written =
    { $count ->
        [one] Written: { $file }, { $count } row of { $sensors }
       *[other] Written: { $file }, { $count } rows of { $sensors }
    }
export-sensors =
    { $count ->
        [one] { $count } sensor
       *[other] { $count } sensors
    }
export-nothing = no reading in that time
backup-bar = Copying
backup-written = Written: { $file }, { $megabytes } MB, checked
backup-prepared = { $folder } is prepared: copies may be written there
backup-daily_hint = For a copy each day write into the settings, under [store]: backup_folder = "{ $folder }"
backup-same_disk = This folder is on the same disk as the database: when that disk fails, the copy is lost with it. If it is meant to be a stick, see whether it is plugged in and mounted.
backup-failed = No copy: { $why }
backup-no_secrets = Keys, cards and passwords are in no copy. To have them in, sealed: write a passphrase into a file, name it in the settings under [store] as backup_passphrase_file, and note it in another place too.
backup-none_yet = no copy yet
backup-server_key = The key of this server is { $key }. Ask whoever runs it whether that is right; to speak with no other, write at this place in the settings: options = {"{"} host_key = "{ $key }" {"}"}
backup-copy = { $name }, { $at }, { $megabytes } MB
backup-copy_unread = { $name }, { $at }
backup-no_photos =
    { $count ->
        [one] { $count } photo that an entry names cannot be read in { $folder }, so the copy has it not.
       *[other] { $count } photos that entries name cannot be read in { $folder }, so the copy has them not.
    }

## photos

photos-room =
    { $count ->
        [one] { $count } photo, { $used } of { $most } MB, in { $folder }
       *[other] { $count } photos, { $used } of { $most } MB, in { $folder }
    }
photos-oldest = The oldest belongs to entry { $number }, { $at }. Room is made with --delete-before TIME, or under [store] with photos_mb.
photos-would_delete =
    { $count ->
        [one] { $count } photo, { $megabytes } MB, would be deleted. Give the command again with --sure. Nothing was deleted.
       *[other] { $count } photos, { $megabytes } MB, would be deleted. Give the command again with --sure. Nothing was deleted.
    }
photos-deleted =
    { $count ->
        [one] { $count } photo deleted, { $megabytes } MB
       *[other] { $count } photos deleted, { $megabytes } MB
    }

## page_setup

page_setup-way_plain = plain: phones in the own network open it; not encrypted, cannot be installed
page_setup-way_https = https: besides, encrypted by the farm’s own CA; phones can install it
page_setup-way_proxy = proxy: behind another web server or a tunnel that encrypts
page_setup-which = How do phones reach the page? (1, 2 or 3)
page_setup-as_it_should = The page is set up so already; nothing was changed.
page_setup-written = Written.
page_setup-names = The page’s certificate bears: { $names }
page_setup-new_password = The page gets a password; it stands in { $file }, which only you can read. A password that the page had before is over.
page_setup-not_encrypted = Not encrypted: whoever listens in this network reads what the page shows, and the password at the login.
page_setup-nginx = These lines are for nginx, in a file such as /etc/nginx/conf.d/farm.conf; put in where its certificate lies:
page_setup-address = The page is then at { $address }
page_setup-by_number = Let the router give this computer the same address always, or name it with --name: otherwise phones lose the page when the address changes.
page_setup-fingerprint = SHA-256 fingerprint of the farm’s CA: { $fingerprint }
page_setup-start = A phone begins here, with the certificate and the steps: { $address }
page_setup-open = This code opens the page on a phone: { $address }
