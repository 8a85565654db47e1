# Mashamba mengi: orodha yote, shamba moja, ujumbe shamba linapokuwa kimya. Orodha ya maneno iko mwanzo wa page.ftl.

## sites

sites-title = Mashamba
sites-none = Hakuna shamba lililoandika kitu bado.
sites-count =
    { $count ->
        [one] Shamba { $count }
       *[other] Mashamba { $count }
    }
sites-all_fine = hakuna linalohitaji mtu
sites-count_need =
    { $count ->
        [one] { $count } linahitaji mtu
       *[other] { $count } yanahitaji mtu
    }
sites-count_silent =
    { $count ->
        [one] { $count } liko kimya
       *[other] { $count } yako kimya
    }
sites-count_awaited =
    { $count ->
        [one] { $count } halijasikika kamwe
       *[other] { $count } hayajasikika kamwe
    }
# uncertain
sites-read = Kama hifadhi ilivyosema { $at }.
sites-not_read_yet = Hifadhi inaulizwa kwa mara ya kwanza. Ukurasa huu utaonyesha mashamba baada ya muda mfupi.
sites-no_answer = Hifadhi haijajibu tangu { $at }. Yote hapa chini ni ya wakati huo. ({ $why })
sites-never_read = Hifadhi haijibu, na hakuna kilichosomwa awali. ({ $why })
sites-standing_high = Chukua hatua sasa
sites-standing_silent = Kimya
sites-standing_alarm = Chukua hatua hivi karibuni
sites-standing_seen = Limeonwa na mtu
sites-standing_mend = La kutunza
sites-standing_fine = Sawa
sites-standing_awaited = Halijasikika kamwe
sites-heard = lilisikika { $at }
sites-never_heard = halijasikika kamwe
sites-silent = hakuna kilichosikika tangu { $at }
sites-unwatched = Hakuna anayeambiwa kuhusu ukimya wake.
sites-last_said = Liliposikika mara ya mwisho
sites-unseen =
    { $count ->
        [one] onyo { $count } ambalo hakuna aliyeliona
       *[other] maonyo { $count } ambayo hakuna aliyeyaona
    }
sites-over_unseen = limekwisha, halijaonwa na mtu
# uncertain
sites-itself = mfumo wenyewe
sites-dry = { $place } linaweza kuwa kavu mno { $at }
sites-dry_already = { $place } linaweza kuwa kavu mno tangu { $at }
sites-to_mend =
    { $count ->
        [one] kifaa { $count } cha kutunza
       *[other] vifaa { $count } vya kutunza
    }
sites-this_week = Ndani ya siku saba
sites-eggs = mayai { $amount }
sites-larvae = mabuu { $amount }
sites-worked_out = ilikokotolewa { $at }
sites-alarms = Maonyo
sites-places = Sehemu
sites-bins = Mapipa
sites-cohorts = Makundi
sites-ahead = Yanayokuja
sites-boards = Vifaa
sites-until = unyevu unatosha hadi { $at }
sites-until_passed = linaweza kuwa kavu mno tangu { $at }
sites-water = linaweza kupokea maji { $litres }
sites-harvest = mavuno { $day } ({ $window })
sites-late = limechelewa
sites-board_fine = hakihitaji kitu
sites-board_to_mend = kinahitaji kutunzwa
sites-to_all = Mashamba yote
sites-others =
    { $count ->
        [one] Shamba { $count } lisilohitaji mtu
       *[other] Mashamba { $count } yasiyohitaji mtu
    }
sites-unknown = Hakuna shamba la jina hili unaloruhusiwa kuona.
sites-login = Jina lako
sites-login_explained = Jina lako kama lilivyo katika sites.toml.
sites-wrong = Jina au nenosiri si sahihi.
sites-more = Mengine { $count } yako chini.
sites-find = Tafuta shamba
sites-find_do = Onyesha
sites-nothing_found = Hakuna shamba la jina hilo.
sites-written = { $file } imeandikwa. Weka ndani yake anwani ya hifadhi, kisha: rearing-monitor sites

## site messages

sites-message_silent = { $site }: kimya
sites-message_silent_body =
    Hakuna kilichosikika kutoka { $site } tangu { $at } ({ $length }). Kompyuta yake yenyewe haiwezi kusema hivyo. Umeme, mtandao au kompyuta huenda imezimwa: mpigie mtu aliyeko huko, na wadudu waangaliwe hadi lisikike tena.
sites-message_before = Liliposikika mara ya mwisho: { $what }
sites-message_many =
    { $count ->
        [one] Shamba { $count } liko kimya
       *[other] Mashamba { $count } yako kimya
    }
# uncertain
sites-message_many_body = Mengi hivi kwa pamoja: huenda ni mtandao au mlango wa hifadhi kuliko mashamba yenyewe. { $sites }
sites-message_several_body = Hakuna kilichosikika kutoka kwao kwa muda mrefu kuliko kawaida: { $sites } Mpigie mtu aliyeko huko, na wadudu waangaliwe hadi yasikike tena.
sites-message_and_more = na mengine { $count }.
sites-message_back = { $site }: linasikika tena
sites-message_back_body = { $site } linasikika tena, baada ya { $length }. Yaliyotokea yako kwenye ukurasa wake.
sites-message_many_back =
    { $count ->
        [one] Shamba { $count } linasikika tena
       *[other] Mashamba { $count } yanasikika tena
    }
sites-message_many_back_body = Yanasikika tena: { $sites } Yaliyotokea yako kwenye kurasa zao.
sites-message_archive = Hifadhi ya mashamba haijibu
sites-message_archive_body = Hakuna kinachojulikana kuhusu shamba lolote tangu { $at } ({ $length }). Ukimya wa shamba hauwezi kutambuliwa hadi ijibu. ({ $why })
sites-message_archive_back = Hifadhi inajibu tena
sites-message_archive_back_body = Haikujibu kwa { $length }. Mashamba yatakayobaki kimya yatatajwa baada ya { $wait }.
