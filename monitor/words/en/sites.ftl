# Many sites: the overview, one site, messages when one falls silent.

## sites

sites-title = Sites
sites-none = No site has written anything yet.
sites-count =
    { $count ->
        [one] { $count } site
       *[other] { $count } sites
    }
sites-all_fine = none needs anybody
sites-count_need =
    { $count ->
        [one] { $count } needs somebody
       *[other] { $count } need somebody
    }
sites-count_silent =
    { $count ->
        [one] { $count } is silent
       *[other] { $count } are silent
    }
sites-count_awaited =
    { $count ->
        [one] { $count } was never heard
       *[other] { $count } were never heard
    }
sites-read = As the archive said { $at }.
sites-not_read_yet = The archive is being asked for the first time. This page shows the sites in a moment.
sites-no_answer = The archive has not answered since { $at }. All below is as it was then. ({ $why })
sites-never_read = The archive does not answer, and nothing was read before. ({ $why })
sites-standing_high = Act now
sites-standing_silent = Silent
sites-standing_alarm = Act soon
sites-standing_seen = Seen by somebody
sites-standing_mend = To look after
sites-standing_fine = Fine
sites-standing_awaited = Never heard
sites-heard = heard { $at }
sites-never_heard = never heard
sites-silent = nothing heard since { $at }
sites-unwatched = Nobody is told of its silence.
sites-last_said = When it was heard last
sites-unseen =
    { $count ->
        [one] { $count } alarm that nobody has seen
       *[other] { $count } alarms that nobody has seen
    }
sites-over_unseen = over, seen by nobody
sites-itself = the monitor itself
sites-dry = { $place } may be too dry { $at }
sites-dry_already = { $place } may be too dry since { $at }
sites-to_mend =
    { $count ->
        [one] { $count } board to look after
       *[other] { $count } boards to look after
    }
sites-this_week = Within seven days
sites-eggs = eggs { $amount }
sites-larvae = larvae { $amount }
sites-worked_out = worked out { $at }
sites-alarms = Alarms
sites-places = Places
sites-bins = Bins
sites-cohorts = Cohorts
sites-ahead = What is to come
sites-boards = Boards
sites-until = moist enough until { $at }
sites-until_passed = may be too dry since { $at }
sites-water = can take { $litres } of water
sites-harvest = harvest { $day } ({ $window })
sites-late = late
sites-board_fine = needs nothing
sites-board_to_mend = needs a hand
sites-to_all = All sites
sites-others =
    { $count ->
        [one] { $count } site that needs nobody
       *[other] { $count } sites that need nobody
    }
sites-unknown = There is no site of this name that you may see.
sites-login = Your name
sites-login_explained = The name that stands for you in sites.toml.
sites-wrong = The name or the password is not right.
sites-more = { $count } more stand below.
sites-find = Find a site
sites-find_do = Show
sites-nothing_found = No site of that name.
sites-written = { $file } is written. Put the address of the archive into it, then: rearing-monitor sites

## site messages

sites-message_silent = { $site }: silent
sites-message_silent_body =
    Nothing was heard of { $site } since { $at } ({ $length }). Its own computer cannot say so. Power, network or the computer may be off: call somebody there, and look at the animals until it is heard again.
sites-message_before = When it was heard last: { $what }
sites-message_many =
    { $count ->
        [one] { $count } site is silent
       *[other] { $count } sites are silent
    }
sites-message_many_body = So many at once hint at the network or the archive's door rather than at the farms. { $sites }
sites-message_several_body = Nothing was heard of them for longer than is usual: { $sites } Call somebody there, and look at the animals until they are heard again.
sites-message_and_more = and { $count } more.
sites-message_back = { $site }: heard again
sites-message_back_body = { $site } is heard again, after { $length }. What happened meanwhile stands on its own page.
sites-message_many_back =
    { $count ->
        [one] { $count } site is heard again
       *[other] { $count } sites are heard again
    }
sites-message_many_back_body = They are heard again: { $sites } What happened meanwhile stands on their own pages.
sites-message_archive = The archive of the sites does not answer
sites-message_archive_body = Nothing is known of any site since { $at } ({ $length }). Silence of a site cannot be noticed until it answers. ({ $why })
sites-message_archive_back = The archive answers again
sites-message_archive_back_body = It did not answer for { $length }. Sites that stay silent are told in { $wait }.
