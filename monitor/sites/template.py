"""A commented `sites.toml` to begin with; its keys are those of `settings`, which a test compares."""

from __future__ import annotations

TEMPLATE = """\
# Many sites in one list, for somebody who looks after several farms. Nothing in a farm depends on it.
# `rearing-monitor sites` shows them, `rearing-monitor sites run` serves the page and tells of silence.

[archive]                       # where the farms write, and this reads
url = "http://127.0.0.1:8428"   # web address of the server
bucket = "farms"                # bucket, as in the settings of the farms; VictoriaMetrics has none
# read_url = ""                 # where it is read, if that is another address
# token_file = "archive.token"  # a token that may read, if it asks for one

[group]
title = "Our farms"             # stands above the list and in messages
time_zone = "UTC"               # region/city in which times are shown
language = "en"                 # of messages and of the command line: en, fr, sw
# folder = "sites"              # what was read last, and messages that wait

[watch]
silent_minutes = 60             # so long without a sign of a site, and people are told
# look_minutes = 1              # how often the archive is asked
# days_back = 30                # a site that was silent for longer leaves the list, unless it stands below

[page]
# enabled = true
listen = "127.0.0.1"            # 0.0.0.0 is every network of this computer
port = 8470
# public_address = "https://farms.example"
# proxies = ["127.0.0.1"]       # a web server in front of the page

# What the archive does not know of a site; all this is optional.
# [[sites]]
# id = "north-yard"             # as in the settings of that farm
# title = "North Yard"
# silent_minutes = 240          # where the network comes and goes
# watched = false               # nobody is told when it falls silent

# Who may see which sites, and who is told. Passwords and addresses stand in files of their own (chmod 600).
# [[people]]
# id = "amina"                  # also the name for logging in
# sites = { "*" = "full" }      # "full"; "care" is all but what is yielded; "none"; "north-*" for several
# password_file = "amina.password"
# address_file = "amina.address"  # an apprise URL such as mailtos://...
# language = "en"
# quiet_hours = { start = "21:00", end = "05:30" }
# most_per_hour = 6
"""
