"""Names that `vulture monitor tests/vulture_allowed.py` must not call dead, with who uses them.

A name that only tests use does not belong here: it goes with its tests.
"""

# ruff: noqa: B018, F821
# mypy: ignore-errors

# Set on objects of libraries, which read them: paho, uvicorn, apprise, the SMTP test server, inspect, click.
_.auto_open
_.connect_timeout
_.msg
_.on_connect
_.on_disconnect
_.on_message
_.on_publish
_.on_socket_register_write
_.on_subscribe
_.overflow_mode
_.pool_classes_by_scheme
_.rich_help_panel
_.should_exit
_.trust_env
_.ConnectionCls
_.MaximumPacketSize
_.ReceiveMaximum
_.SessionExpiryInterval
_.__doc__
_.__signature__

# Called by pydantic.
_._complete
_._known_quantity
_._published_needs_source
model_config

# Read by templates of the page.
buttons
forms
only_withdrawn
_.all_shown
_.brief
can_correct
can_shelve
drawing
gauge
marked_text
remedies
offered
has_flies
shelved
week_text

# Members of enumerations, made from what stands in the logbook or the database.
HARVESTED
LOST
RESIDUE
SOLD

# Fields of records that become JSON as a whole, or rows of a table.
chattering_in_a_minute
hosts
parked_ms
peak_percent
per_10_min
send_every
tls_name
wifi
wifi_password

# Fields of the files of species and substrates.
latin_name

# For tests that check a promise of the program: every sentence.
_.variables

# Arguments that a protocol of Python asks for.
trace

# For the demo, which follows at once.
fakes_folder

# Figures of sums, which words and JSON read by their names.
bioconversion_wet
conversion_dry
conversion_dry_fresh
dead_flies_mass
efficiency
growth_rate
kept_worth
laid_hatch
per_female_mg

# A field of takings beside their hours, which the JSON reads by its name.
coldest_c

# The way back from a copy reads these.
_.secrets_inside
_.withheld
_.from_environment
put_into_database
unseal
target_at
