# Maneno ya mavuno.


## part

part-yields = Mavuno

## yield

yield-eggs = Mayai yaliyokusanywa
yield-grams = Mayai yaliyokusanywa
yield-eggs_per_female_day = Mayai kwa jike kwa siku
yield-per_female_mg = Uzito wa mayai kwa jike aliyewekwa
yield-eggs_per_female = Mayai kwa jike
yield-hatch = Walioanguliwa
yield-laid_hatch = Walioanguliwa kati ya mayai yaliyotagwa na nzi wake
yield-larvae = Mabuu waliovunwa
yield-prepupae = Mabuu weusi
yield-feed = Chakula kilichotolewa
yield-residue = Mabaki
yield-days = Siku kutoka kujaza hadi kuvuna
yield-days_from_egg = Siku kutoka yai hadi kuvuna
yield-conversion_wet = Chakula kwa kilo 1 ya mabuu, vyote vibichi
yield-conversion_dry = Chakula kwa kilo 1 ya mabuu, vyote vikavu
# uncertain
yield-conversion_dry_fresh = Chakula kikavu kwa kilo 1 ya mabuu wabichi
yield-bioconversion_wet = Chakula kilichogeuka mabuu, vyote vibichi
yield-bioconversion_dry = Chakula kilichogeuka mabuu, vyote vikavu
yield-reduction = Chakula kilichoisha, kikavu
# uncertain
yield-index = Kiwango cha kupunguza taka
# uncertain
yield-efficiency = Mabuu kutokana na chakula kilichoisha, kikavu
yield-survival = Mabuu waliofika mavuno
yield-growth_rate = Ukuaji
yield-kept = Waliowekwa kwa uzazi
yield-flies = Nzi waliowekwa
yield-emergence = Mabuu weusi waliokuwa nzi
yield-dead_flies = Nzi waliokufa waliotolewa
# uncertain
yield-dead_flies_mass = Nzi waliokufa waliofagiwa, kwa uzito

## yield_money

yield_money-eggs = Mayai yaliyouzwa
yield_money-larvae = Mabuu waliouzwa
yield_money-kept_worth = Mabuu waliolishwa mifugo, thamani
yield_money-feed = Chakula, gharama

## lack

lack-nothing_written = hakuna kilichoandikwa
lack-feed = chakula hakikupimwa
lack-feed_moisture = unyevu wa chakula haukuandikwa
lack-larvae_out = hakuna mabuu waliotolewa bado
lack-larvae_in = mabuu waliowekwa hawakupimwa
lack-larvae_count = mabuu waliowekwa hawakuhesabiwa
lack-counted_sample = hakuna sampuli iliyohesabiwa ya mavuno
lack-residue = mabaki hayakupimwa
lack-residue_moisture = unyevu wa mabaki haukuandikwa
lack-more_out_than_in = kilichotoka ni zaidi ya kilichoingia
lack-no_gain = mabuu hawakuongezeka
lack-counts_disagree = hesabu hazilingani
lack-still_filled = pipa bado limejaa
lack-flies = nzi hawakuhesabiwa
lack-female_share = majike hawakuhesabiwa, nusu imekadiriwa
lack-eggs_per_gram = idadi ya mayai kwa gramu haijulikani
lack-larva_dry_share = sehemu kavu ya mabuu imekadiriwa
lack-prepupa_mass = uzito wa buu mweusi umekadiriwa
lack-hatch = kuanguliwa hakukuandikwa
lack-some_hatch = kuanguliwa kwa baadhi ya mayai hakukuandikwa
lack-egg_day = siku ya mayai haijulikani
lack-prepupae = mabuu weusi hawakuhesabiwa
lack-price = hakuna bei kwenye mipangilio
lack-use = matumizi hayakutajwa

## lack_do

lack_do-feed_moisture = Andika unyevu wa chakula: kisha chakula na mabuu vinaweza kulinganishwa vikiwa vikavu.
lack_do-larvae_in = Pima uzito wa mabuu wachanga wanaowekwa, au hesabu sampuli yao.
lack_do-residue = Pima mabaki pipa linapomwagwa: kisha itajulikana chakula kiasi gani kimeisha.
lack_do-residue_moisture = Andika unyevu wa mabaki: pipa lililokauka tu lingeonekana limeliwa.
lack_do-flies = Hesabu nzi wanapotoka: kisha mayai kwa jike yatajulikana, na utabiri utakuwa na uhakika zaidi.
lack_do-hatch = Andika sehemu iliyoanguliwa ya mayai yaliyowekwa.
lack_do-egg_day = Anza kundi mayai yake yanapowekwa yaanguliwe: kisha siku hadi mavuno zitajulikana.
lack_do-use = Sema mayai na mabuu yalitumikaje: yaliuzwa, yalilishwa au yaliwekwa.

## yields

yields-not_known = haijulikani: { $why }
yields-between = { $value } ({ $low } hadi { $high })
yields-percent_a_day = { $count } % kwa siku
yields-used = { $amount } ({ $uses })
yields-of_needed = { $kept } kati ya { $needed } wanaohitajika
yields-of_cage = Mayai ya { $cage }
yields-filling = { $bin }, kujazwa { $day }
yields-this_week = Wiki hii, tangu { $day }
yields-this_month = Mwezi huu, tangu { $day }
yields-past_week = Wiki { $window }
yields-past_month = Mwezi { $window }
yields-before_week = wiki iliyopita
yields-before_month = mwezi uliopita
yields-none_yet = Hakuna kilichoandikwa bado cha kujumlisha: mayai yaliyokusanywa, chakula, mabuu waliovunwa.
yields-nothing_of_it = hakuna cha kujumlisha bado
yields-cages = Vizimba
yields-bins = Mapipa
yields-cohorts = Makundi
yields-ahead = Kinachokuja
yields-ahead_none = Hakuna kizimba wala pipa ambalo kitu kinatarajiwa.
yields-all_cages = Mayai ya vizimba vyote
yields-larva_weeks = Mabuu kwa wiki
yields-days_ahead = Siku kwa siku
yields-windows = Namba zilizo kwenye mabano zina ukweli mara nne kati ya tano.
yields-cage_week = Ndani ya siku saba { $grams } za mayai.
yields-bin_best = Ni bora kuvuna { $day } ({ $window }), kabla wengi hawajawa weusi: kisha { $amount } za mabuu.
yields-bin_late = Zaidi ya wachache ni weusi sasa: vuna sasa, { $amount } za mabuu.
yields-promise = Kufikia { $day } unaweza kuahidi { $grams } za mayai, kutoka siku saba hadi hapo: yatakuwepo mara nne kati ya tano.
yields-promise_none = Kufikia { $day } hakuna mayai yanayoweza kuahidiwa: yenye uhakika ni chini ya gramu moja.
yields-keep = Kwa { $grams } za mayai kwa wiki weka mabuu weusi { $safe } kila wiki: basi hupatikana wiki nne kati ya tano; kwa { $even } wiki moja kati ya mbili.
yields-keep_by = Wale wa wiki inayoanza { $week } kabla ya { $day }.
yields-keep_late = Kwa wiki inayoanza { $week } muda umepita.
yields-level_papers = Bado hakuna kilichojifunzwa: anachotoa jike kinategemea utafiti. Kila mkusanyo unaopimwa unakifanya kiwe chako.
yields-bins_papers = Kilo za mabuu zinategemea utafiti hadi pipa lenye chakula kilichopimwa livunwe.
yields-missing = Ili kujua zaidi
yields-doubts = Maingizo ya kuangalia tena
yields-count_flies = Hakuna aliyehesabu nzi wa { $cage }, kwa hiyo inadhaniwa itaendelea hivyo: wahesabu wanapotoka.
# uncertain
yields-cages_unknown = Hakuna kinachojulikana kuhusu nzi wa { $cages }: wahesabu wanapotoka, au pima mayai kwa mizani. Ndipo yajayo yataandikwa hapa.
yields-doubt_large = Ingizo { $number }, { $place }, { $day }: { $amount } inaonekana kuzidi mara { $times }. Hakuna kinachojifunzwa hadi lirekebishwe; jumla bado inalo.
yields-doubt_small = Ingizo { $number }, { $place }, { $day }: { $amount } inaonekana kupungua mara { $times }. Hakuna kinachojifunzwa hadi lirekebishwe; jumla bado inalo.
yields-doubt_odd = Ingizo { $number }, { $place }, { $day }: { $amount } iko mbali na kawaida ya hapo. Hakuna kinachojifunzwa hadi lirekebishwe; jumla bado inalo.
yields-csv_written = { $file } imeandikwa: mistari { $count }, mmoja kwa kila siku na sehemu.
# uncertain
yields-days_file = Kila siku ya kila sehemu kama jedwali (CSV)
yields-ask_grams = Gramu za mayai zinazotakiwa kwa wiki
yields-ask_day = Ahadi kwa mnunuzi kwa siku
yields-ask_do = Hesabu
yields-none = –
yields-hatch_seen = Kuanguliwa kumeonekana
yields-all_else = Mengine yote
yields-more_doubts =
    { $count ->
        [one] Na ingizo { $count } zaidi.
       *[other] Na maingizo { $count } zaidi.
    }
yields-level =
    { $count ->
        [one] Jike aliyewekwa hutoa { $eggs } za mayai, kwa wiki { $count } ya kukusanya hapa.
       *[other] Jike aliyewekwa hutoa { $eggs } za mayai, kwa wiki { $count } za kukusanya hapa.
    }
yields-learned_bins =
    { $count ->
        [one] Kilo ya chakula hutoa kilo { $kg } za mabuu, vyote vibichi, kwa pipa { $count } lililovunwa hapa.
       *[other] Kilo ya chakula hutoa kilo { $kg } za mabuu, vyote vibichi, kwa mapipa { $count } yaliyovunwa hapa.
    }

## climate

# uncertain
climate-heading = Yaliyoendana na hali ya hewa
# uncertain
climate-eggs_cold_nights = Usiku ulio chini ya { $limit } kwenye kizimba uliendana na mayai pungufu kwa { $share } % siku mbili zilizofuata ({ $low } hadi { $high } %; usiku { $such } dhidi ya { $others }).
# uncertain
climate-eggs_hot_days = Siku zilizo juu ya { $limit } kwenye kizimba ziliendana na mayai pungufu kwa { $share } % siku hizo na ya kesho yake ({ $low } hadi { $high } %; siku { $such } dhidi ya { $others }).
# uncertain
climate-eggs_dry_days = Siku zenye saa { $hours } au zaidi chini ya { $limit } kwenye kizimba ziliendana na mayai pungufu kwa { $share } % siku hizo na ya kesho yake ({ $low } hadi { $high } %; siku { $such } dhidi ya { $others }).
# uncertain
climate-eggs_dull_days = Siku zenye mwanga chini ya robo tatu ya saa za kawaida ziliendana na mayai pungufu kwa { $share } % siku hizo na ya kesho yake ({ $low } hadi { $high } %; siku { $such } dhidi ya { $others }).
# uncertain
climate-hatch_dry_hours = Saa { $hours } au zaidi chini ya { $limit } kwenye trei ziliendana na kuanguliwa pungufu kwa { $share } % ({ $low } hadi { $high } %; trei { $such } dhidi ya { $others }).
# uncertain
climate-hatch_cold_hours = Saa { $hours } au zaidi chini ya { $limit } kwenye trei ziliendana na kuanguliwa pungufu kwa { $share } % ({ $low } hadi { $high } %; trei { $such } dhidi ya { $others }).
# uncertain
climate-emergence_hot_hours = Saa { $hours } au zaidi juu ya { $limit } kwenye boksi ziliendana na nzi pungufu kwa { $share } % ({ $low } hadi { $high } %; maboksi { $such } dhidi ya { $others }).
# uncertain
climate-emergence_dry_hours = Saa { $hours } au zaidi chini ya { $limit } kwenye boksi ziliendana na nzi pungufu kwa { $share } % ({ $low } hadi { $high } %; maboksi { $such } dhidi ya { $others }).
# uncertain
climate-harvest_cold_hours = Saa { $hours } au zaidi chini ya { $limit } kwenye pipa ziliendana na mabuu pungufu kwa { $share } % kwa chakula kilekile ({ $low } hadi { $high } %; mapipa { $such } dhidi ya { $others }).
# uncertain
climate-harvest_hot_hours = Saa { $hours } au zaidi juu ya { $limit } kwenye pipa ziliendana na mabuu pungufu kwa { $share } % kwa chakula kilekile ({ $low } hadi { $high } %; mapipa { $such } dhidi ya { $others }).
climate-cost_eggs = Siku { $days } zilizopita: mayai pungufu takriban g { $middle } (g { $low } hadi { $high }).
# uncertain
climate-cost_hatch = Siku { $days } zilizopita: kuanguliwa pungufu kwa mayai takriban g { $middle } (g { $low } hadi { $high }).
climate-cost_emergence = Siku { $days } zilizopita: nzi pungufu takriban { $middle } ({ $low } hadi { $high }).
climate-cost_harvest = Siku { $days } zilizopita: mabuu pungufu takriban kg { $middle } (kg { $low } hadi { $high }).
climate-cost_money = Hiyo ni { $currency } { $low } hadi { $high }.
# uncertain
climate-limit_cold_nights = Mayai yako mwenyewe yanaunga mkono kikomo cha { $offered } kwa usiku kwenye kizimba badala ya { $now }: usiku ulio kati yake uliendana na mayai pungufu kwa { $share } % ({ $low } hadi { $high } %; usiku { $such } dhidi ya { $others }). Hakuna kilichobadilishwa.
# uncertain
climate-limit_hot_days = Mayai yako mwenyewe yanaunga mkono kikomo cha { $offered } kwa siku kwenye kizimba badala ya { $now }: siku zilizo kati yake ziliendana na mayai pungufu kwa { $share } % ({ $low } hadi { $high } %; siku { $such } dhidi ya { $others }). Hakuna kilichobadilishwa.
# uncertain
climate-milder_cold_nights = Kwa mayai yako mwenyewe, { $offered } inatosha kuwa kikomo cha usiku kwenye kizimba badala ya { $now }: usiku ulio kati yake uliendana na mayai pungufu kwa { $high } % kwa wingi (usiku { $such } dhidi ya { $others }). Hakuna kilichobadilishwa.
# uncertain
climate-milder_hot_days = Kwa mayai yako mwenyewe, { $offered } inatosha kuwa kikomo cha siku kwenye kizimba badala ya { $now }: siku zilizo kati yake ziliendana na mayai pungufu kwa { $high } % kwa wingi (siku { $such } dhidi ya { $others }). Hakuna kilichobadilishwa.
climate-rests =
    { $compared ->
        [one] Jambo { $compared } limelinganishwa, likiwa na visa vya kutosha.
       *[other] Mambo { $compared } yamelinganishwa, yakiwa na visa vya kutosha.
    }
# uncertain
climate-not_caused = Husemwa yale tu yanayojitokeza wazi; “iliendana na” si “ilisababisha”.
climate-nothing = Hakuna la hali ya hewa linalojitokeza bado kwenye mayai, kuanguliwa, nzi wala mavuno.
