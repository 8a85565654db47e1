# Vifaa: ukurasa, ripoti. Orodha ya maneno iko mwanzo wa page.ftl.


## board

board-fine = kinatuma
board-unknown = kimya
board-unheard = hakijasikika bado
board-out_of_service = kimezimwa
board-new = kipya

## nodes

nodes-head = { $node }:
nodes-heard = kilisikika { $at }
nodes-never = hakijasikika bado
nodes-battery = betri { $value }
nodes-battery_low = Betri yake iko chini ya { $limit }: ichaji au ibadilishe.
nodes-messages =
    { $count ->
        [one] ujumbe { $count }
       *[other] jumbe { $count }
    }
nodes-not_calibrated = hakijawahi kusawazishwa
nodes-calibrated = kilisawazishwa { $days } zilizopita
nodes-calibration_due = kinahitaji kusawazishwa: mara ya mwisho { $days } zilizopita
nodes-clock = Saa yake si sahihi: { $fault }
nodes-missing =
    { $count ->
        [one] Ujumbe { $count } wake haukufika kamwe.
       *[other] Jumbe { $count } zake hazikufika kamwe.
    }
nodes-conflicts =
    { $count ->
        [one] Kipimo { $count } kinapingana na cha awali cha wakati uleule.
       *[other] Vipimo { $count } vinapingana na vya awali vya wakati uleule.
    }
nodes-rejected =
    { $count ->
        [one] Ujumbe { $count } haukueleweka: { $why }
       *[other] Jumbe { $count } hazikueleweka, wa mwisho: { $why }
    }
nodes-boot_stands = Kilianza upya kwa namba ileile ya kuwaka. Kifaa kinapaswa kuhesabu kila kuwaka kwenye flash; la sivyo jumbe zilizopotea hazionekani.
nodes-boots_are_wakes = Kila mara kilipoanza karibuni kilituma ujumbe mmoja au miwili: kinahesabu kuamka kama kuwaka, au kinaanza upya kila wakati. Hivyo jumbe zilizopotea hazionekani.
nodes-no_place = hakina sehemu
nodes-new =
    { $count ->
        [one] Kifaa kipya { $count }
       *[other] Vifaa vipya { $count }
    }
nodes-new_explained = Vipimo vyake vinahifadhiwa, lakini hakilindi chochote hadi kipewe sehemu.
nodes-in_place = Kiko katika
nodes-choose = chagua sehemu
nodes-put = Kiweke hapo
nodes-put_explained = Hii inaandika faili ya mipangilio. Maelezo yake yanabaki, na faili ya zamani inahifadhiwa kando.
nodes-owner_only = Mmiliki anaweza kukipa sehemu.
nodes-lines = Mistari ya faili ya mipangilio
nodes-care = Angalia hivi
nodes-fine = Hivi vinatuma
nodes-none = Hakuna kifaa kilichosikika, na mipangilio haitaji chochote.
nodes-placed = { $node } kimepata sehemu yake. Programu itasoma mipangilio upya baada ya muda mfupi.
nodes-choose_place = Chagua sehemu moja ya zilizopo.
nodes-not_heard = Kifaa hicho hakijasikika na hakipo kwenye mipangilio.
nodes-no_file = Ukurasa huu uliwashwa bila faili ya mipangilio; ongeza mistari kwa mkono.
nodes-calibrated_today = kimesawazishwa leo
nodes-guards_nothing = Hakina sehemu, kwa hiyo hakilindi chochote.
nodes-silent_for = Kimya kwa { $length }.
nodes-never_heard = Hakijasikika bado.
nodes-not_in_settings = Kinatuma vipimo lakini hakipo kwenye mipangilio: sema kwenye ukurasa, sehemu ya Vifaa, kilipo, au tazama rearing-monitor nodes.
nodes-doubtful = { $sensor } cha mashaka kwa { $length } (kimekwama, kinaruka au kimelowa).
nodes-none_named = Mipangilio haitaji kifaa chochote bado.
nodes-new_line = { $facts }. Hakilindi chochote hadi uongeze kwenye farm.toml:
nodes-place_line = ondoa # ya kwanza na utaje moja ya: { $places }
nodes-no_places_yet = hakuna bado: ongeza jedwali la [[places]] kwanza
nodes-nameless =
    { $count ->
        [one] Ujumbe { $count } usio wa kifaa chochote, { $at }: { $why }
       *[other] Jumbe { $count } zisizo za kifaa chochote, wa mwisho { $at }: { $why }
    }
nodes-column_board = kifaa
nodes-column_place = sehemu
nodes-column_heard = kilisikika
nodes-column_battery = betri
nodes-column_messages = jumbe
nodes-column_missing = zilizopotea
nodes-column_calibration = usawazishaji
nodes-column_faults = hitilafu

## report of a board

board_report-age = kiliripoti { $at }
board_report-kept = ripoti ya zamani, iliyowekwa na broker hadi { $at }
board_report-program = programu { $version }
board_report-program_on = programu { $version } kwenye { $chip }
board_report-uptime = kinafanya kazi kwa { $length }
board_report-reset_power = kilianza umeme ulipokuja
board_report-reset_watchdog = kilianza upya baada ya kukwama
board_report-reset_wake = kinalala kati ya vipimo
board_report-reset_software = kilianzishwa upya na programu yake
board_report-reset_brownout = kilianza upya baada ya umeme wake kushuka
board_report-clock_monitor = saa kutoka kwa programu
board_report-clock_chip = saa kutoka kwa chipu yake
board_report-clock_kept = saa iliyohifadhiwa kikiwa kimelala
board_report-clock_none = hakijui saa
board_report-signal_good = mtandao mzuri ({ $dbm } dBm)
board_report-signal_weak = mtandao dhaifu ({ $dbm } dBm)
board_report-signal_too_weak = mtandao dhaifu mno ({ $dbm } dBm)
board_report-heap = kB { $kb } za kumbukumbu ziko huru
board_report-probes = vihisi { $probes }
board_report-waiting =
    { $count ->
        [one] ujumbe { $count } unasubiri ndani yake
       *[other] jumbe { $count } zinasubiri ndani yake
    }
board_report-lost =
    { $count ->
        [one] ujumbe { $count } umepotea kwa jumla
       *[other] jumbe { $count } zimepotea kwa jumla
    }
board_report-damaged =
    { $count ->
        [one] baiti { $count } ya kumbukumbu yake iliharibika
       *[other] baiti { $count } za kumbukumbu yake ziliharibika
    }
board_report-settings_in_force = mipangilio inatumika
board_report-settings_other = mipangilio haijaanza kutumika
board_report-sensor = Kihisi chake { $sensor } { $what }.
board_report-fault = kina hitilafu ({ $code })
board_report-fault_no_answer = hakijibu: angalia waya, plagi na umeme
board_report-fault_crc = kinajibu vibaya: fupisha waya, uweke mbali na umeme wa nyumba, angalia pull-up
board_report-fault_power_on_value = kinatoa tu namba ya kuwaka: angalia umeme na pull-up
board_report-fault_rail = kinasoma mwisho wa kipimo: waya umetoka au unagusa mwingine
board_report-fault_saturated = kinaonyesha unyevu kamili wakati wote: kimelowa au kimeharibika
board_report-fault_range = kinasema kisichoweza kupimwa
board_report-mend_watchdog = Kilikwama na kuanza upya chenyewe. Ikitokea tena, nakili programu yake upya au badilisha kifaa.
board_report-mend_brownout = Umeme wake ulishuka na kikaanza upya: angalia waya, chaja na betri.
board_report-mend_reset = Kilianza upya bila kutaka katika siku iliyopita (kilikwama, au umeme wake ulishuka).
board_report-mend_lost =
    { $count ->
        [one] Kimepoteza ujumbe { $count } kabisa, katika siku iliyopita.
       *[other] Kimepoteza jumbe { $count } kabisa kwa jumla, baadhi katika siku iliyopita.
    }
board_report-mend_damaged =
    { $count ->
        [one] Baiti { $count } ya kumbukumbu yake iliharibika katika siku iliyopita. Ikiendelea, badilisha kifaa.
       *[other] Baiti { $count } za kumbukumbu yake ziliharibika kwa jumla, baadhi katika siku iliyopita. Ikiendelea, badilisha kifaa.
    }
board_report-mend_weak = Kinasikia mtandao kwa udhaifu ({ $dbm } dBm): geuza au sogeza boksi lake, au liinue.
board_report-mend_too_weak = Kinasikia mtandao kwa udhaifu mno ({ $dbm } dBm): weka kirudishaji (repeater) au ruta karibu.
board_report-mend_program = Programu yake ni { $version }; { $newer } inakuja na programu hii: inakili kwa USB ukipita hapo.
board_report-mend_refused = Kinakataa mipangilio yake: { $why }

## archive

archive-head = Hifadhi ya nje:
archive-up_to_date = iko ya sasa
archive-waiting =
    { $count ->
        [one] kipimo { $count } kinasubiri
       *[other] vipimo { $count } vinasubiri
    }
archive-oldest = cha zamani zaidi kwa { $length }
archive-refused =
    { $count ->
        [one] kipimo { $count } kinakataliwa na seva na kinajaribiwa tena kila saa
       *[other] vipimo { $count } vinakataliwa na seva na vinajaribiwa tena kila saa
    }
archive-trouble = tatizo la mwisho: { $error }
# uncertain
archive-compared = imesomwa tena na kulinganishwa hadi { $moment }
# uncertain
archive-begins = haina kitu cha kabla ya { $moment }: seva haihifadhi zaidi
# uncertain
archive-filled =
    { $count ->
        [one] kipimo { $count } ambacho seva ilipokea hakikuwepo na kimetumwa tena
       *[other] vipimo { $count } ambavyo seva ilipokea havikuwepo na vimetumwa tena
    }
# uncertain
archive-missing =
    { $count ->
        [one] kipimo { $count } hakipo ingawa seva ilikipokea mara mbili, cha { $moment }
       *[other] vipimo { $count } havipo ingawa seva ilivipokea mara mbili, cha zamani zaidi ni cha { $moment }
    }
# uncertain
archive-unreadable = haiwezi kusomwa tena, hivyo hakuna kinachothibitisha yaliyomo: { $error }

## battery

battery-count = siku { $count }
battery-row = { $name }: { $value }
battery-days = { $rhythm }: karibu { $days } kwa betri ya mAh { $capacity }, ambayo { $used } hutumika.
battery-rhythm =
    { $count ->
        [one] Kupima kila { $every }, kutuma kila mara
       *[other] Kupima kila { $every }, kutuma { $count } kwa pamoja
    }
battery-others = Kwa mwendo mwingine:
battery-power_cut = Kikiwa kimewaka wakati wote, kwa umeme wa nyumba na betri nyuma yake: { $length } umeme ukikatika.
battery-voltages = Betri: imejaa kwa { $full } V, ichaji kwa { $charge } V, kamwe isishuke chini ya { $cut_off } V.
battery-pin = Pini ya betri inaipata ikiwa imegawanywa kwa { $ratio }: { $pin_full } hadi { $pin_cut_off } V; inapima hadi { $widest } V. Kamwe si betri yenyewe moja kwa moja.
battery-assumed = Imekadiriwa:
battery-measure = Hakuna aliyepima haya kwenye kifaa chako. Pima, na utoe ulichopata kama machaguo (angalia --help).
battery-part_asleep_ma = kimelala
battery-part_measuring_ma = macho
battery-part_measuring_s = macho kwa kila kupima
battery-part_sending_ma = kinatuma
battery-part_sending_s = redio imewaka kwa kila ujumbe
battery-part_always_on_ma = kimewaka wakati wote
battery-part_used = kinachotumika cha betri
battery-part_lost = kinachopotea chenyewe kila mwezi
