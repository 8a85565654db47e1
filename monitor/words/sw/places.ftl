# Hali ya sasa ya shamba na sehemu zake. Orodha ya maneno iko mwanzo wa page.ftl.


## now

now-fine = Kila kitu kiko sawa
now-need =
    { $count ->
        [one] Sehemu { $count } inakuhitaji
       *[other] Sehemu { $count } zinakuhitaji
    }
now-beyond = Sehemu { $count } nje ya kikomo
now-unknown =
    { $count ->
        [one] Sehemu { $count } haijulikani
       *[other] Sehemu { $count } hazijulikani
    }
now-unguarded =
    { $count ->
        [one] Sehemu { $count } hailindwi
       *[other] Sehemu { $count } hazilindwi
    }
now-boards =
    { $count ->
        [one] Onyo { $count } la kifaa au la programu
       *[other] Maonyo { $count } ya vifaa au ya programu
    }
now-boards_heading = Vifaa na programu yenyewe
now-stopped = Programu haifanyi kazi
now-stopped_since = Ilionekana hai mara ya mwisho { $at }. Hakuna anayeonywa, na yaliyo hapa chini ni ya zamani.
now-stopped_never = Haijawahi kufanya kazi. Hakuna anayeonywa.
now-stopped_do = Iwashe kwenye kompyuta yake: rearing-monitor run.
now-board_aside = Kifaa chake kimewekwa kando, kwa hiyo hapa hakupimwi kitu.
now-board_aside_do = Iangalie sehemu wewe mwenyewe hadi hapo.
now-never_heard = Hakuna kihisi cha sehemu hii kilichowahi kusikika.
now-never_heard_do = Angalia kifaa kinachopaswa kuwa hapo. Ukurasa wa Vifaa unaonyesha vilivyosikika.
now-unheard = Hakijasikika bado: { $boards }. Hakuna kinacholinda sehemu hii.
now-unheard_do = Tundika kifaa chake na ukipe umeme. Hadi kisikike, angalia sehemu hii mwenyewe.
now-unwatched = Vihisi vyake hupima tu vitu ambavyo hakuna onyo linavyoangalia: { $quantities }. Hailindwi na chochote.
now-unwatched_do = Weka hapo kihisi kinachopima kinachoangaliwa; `rearing-monitor check` inasema ni kipi.
now-last_heard = Hakuna kipimo kinachofaa; cha mwisho kilikuwa { $at }.
now-last_heard_do = Nenda uangalie sehemu. Kisha angalia { $nodes }: umeme, waya, mtandao.
now-fine_places =
    { $count ->
        [one] Sehemu { $count } iko sawa
       *[other] Sehemu { $count } ziko sawa
    }
## what is not guarded, and who said so

unguarded-empty = Hakuna wadudu ndani, alisema { $who }, { $at }.
unguarded-file = Hakuna wadudu ndani, inasema farm.toml (empty = true).
unguarded-aside = Imewekwa kando hadi { $until }, alisema { $who }, { $at }.
unguarded-no_rule = Mipangilio haina onyo kwa ajili yake.
unguarded-note = Sababu: { $note }.
unguarded-undo = Kurudisha: { $command }
unguarded-undo_file = Kurudisha: ondoa empty = true kwenye farm.toml.
unguarded-undo_no_rule = Kurudisha: ondoa remove = true kwenye [[rules]] katika farm.toml.
unguarded-shelved = Hailindwi kwa { $quantity } ({ $value }, kikomo { $limit }): onyo limewekwa kando hadi { $until }.
unguarded-out_of_service = Hailindwi kwa { $quantity } ({ $value }, kikomo { $limit }): onyo limezimwa.
unguarded-removed = Hailindwi kwa { $quantity } ({ $value }, kikomo { $limit }): mipangilio inaondoa onyo hili.
unguarded-board = Haipimwi na kifaa { $board } hadi { $until }: kimewekwa kando, alisema { $who }.
unguarded-unheard = Hakipimwi na kifaa { $board }: hakijasikika bado. Kitundike na ukipe umeme, au kiondoe kwenye mipangilio.
unguarded-to_alarms = Rudisha onyo kazini
unguarded-to_board = Rudisha kifaa { $board }
unguarded-to_unheard = Angalia kifaa { $board }
unguarded-board_in_use = Kisikilize tena
unguarded-asks = Daftari halitaji wadudu ndani yake tena; inabaki inalindwa. Je, ni tupu?
unguarded-answers = Kama ni tupu: { $empty }. Kama bado kuna wadudu: { $in_use }

now-no_places = Mipangilio haitaji sehemu yoyote bado, kwa hiyo hakuna kinacholindwa.

## place

place-in_room = ndani ya { $room }
place-to_bin = Kwenye pipa
place-spans = Muda
place-figures = Namba
place-when = Lini
place-low = Chini
place-mean = Wastani
place-high = Juu
place-no_sensor = Hakuna kihisi cha sehemu hii kilichotuma chochote bado.
place-happened = Yaliyotokea hapa

## now on the command line

now-line = { $title }, { $at }: { $verdict }
now-place = { $title }: { $state }
now-carried = Makundi na mapipa sasa yako kwenye daftari moja. Yaliyopatikana ndani:
now-aside = onyo la { $quantity }: { $state }
health-looked_at = muda ulioangaliwa: { $length } za mwisho

## guard and doubts

guard-guarded = inalindwa
doubt-lived_in = { $place }: kwa mujibu wa daftari kuna wadudu ndani.
doubt-alarm = { $place }: kuna onyo: { $value }.
doubt-warm = { $place }: lishe yake ina joto { $value } zaidi ya hewa ya chumba, kama palipo na wadudu.
doubt-moist = { $place }: lishe yake ina maji { $value }, kama pipa lenye wadudu.
doubt-ask = Je, ni tupu hata hivyo, ili onyo lisitoke hapo tena? y/N
guard-heading = Ulinzi
guard-empty_do = Ni tupu: acha kulinda
guard-in_use_do = Kuna wadudu ndani
guard-still_do = Bado kuna wadudu ndani
guard-aside = Weka kando kwa ajili ya usafi
guard-aside_explained = Kwa muda huo hakuna onyo litakalotoka hapo. Kisha italindwa tena yenyewe.
guard-aside_do = Weka kando
guard-empty_explained = Sema hivi kama hakuna wadudu ndani: hakuna onyo litakalotoka hapo hadi mtu aseme kuna wadudu ndani.
guard-aside_over = Hii ingewekwa kando hadi { $at }, na muda huo umepita. Hakuna kilichoandikwa.
# uncertain
guard-in_use_since = { $who } alisema { $at } kwamba kinatumika, baada ya wewe kukiweka kando kwenye simu yako. Hakuna kilichobadilishwa.
guard-minutes_wrong = Sehemu haiwezi kuwekwa kando kwa muda huo; chagua mmoja wa iliyopo.
guard-sure = Je, { $place } ni tupu?
guard-odd = Kuna jambo linalopinga
guard-sure_explained = Kama kuna wadudu ndani, hakuna atakayeonywa wakipata joto kali au ukavu.
guard-empty_all_the_same = Ni tupu hata hivyo: acha kulinda
guard-question = Swali
