# Maneno ya mapipa. Orodha ya maneno iko mwanzo wa page.ftl.


## part

part-bins = Mapipa

## zone

zone-too_dry = Kavu mno
zone-dry = Kavu
zone-right = Sawa
zone-wet = Maji mengi
zone-too_wet = Maji mengi mno

## left

left-horizon = siku 10 au zaidi
left-hour = chini ya saa moja
left-beyond = si ndani ya siku 10
left-passed = tayari
left-in = baada ya { $length }
left-about = baada ya { $length } hivi
left-perhaps_now = huenda sasa
left-earliest = mapema kabisa baada ya { $length }
left-earliest_at = mapema kabisa baada ya { $length } ({ $at })

## bins

bins-need =
    { $count ->
        [one] Pipa { $count } linakuhitaji
       *[other] Mapipa { $count } yanakuhitaji
    }
bins-well = Mapipa yote yako sawa
bins-well_count =
    { $count ->
        [one] Pipa { $count } liko sawa
       *[other] Mapipa { $count } yako sawa
    }
bins-none = Hakuna pipa lililojazwa
bins-none_do = Hakuna pipa lililojazwa, kwa mujibu wa daftari. Kuliandika: { $command }
bins-empty = Tupu, kwa mujibu wa daftari: chagua moja ulijaze
bins-is_empty = Hakuna kitu ndani, kwa mujibu wa daftari.
bins-explained = Imekokotolewa { $at } kutokana na vilivyowekwa, hewa, joto na yaliyoandikwa. Mikanda hushika mara nne kati ya tano.
bins-as_of = Imekokotolewa { $at }.
bins-to_place = Vipimo vyake
bins-unknown = Haijulikani
bins-no_air = Unyevu wake hauwezi kukokotolewa: hakuna kipimo cha joto na unyevu wa hewa, cha pipa wala cha chumba chake.
bins-failed = Unyevu wake hauwezi kukokotolewa: hitilafu ya programu ({ $kind }); kumbukumbu zake zinasema zaidi.
bins-finishing = Linakaushwa kwa makusudi
bins-no_dry_alarm = Linakaushwa kwa makusudi na halitoi onyo la ukavu.
bins-no_limits = Hakuna vikomo
bins-dry_soon = Litakauka karibuni
bins-hot_soon = Litapata joto kali karibuni
bins-too_hot = Joto kali mno
bins-hot_do = Tandaza liwe jembamba, koroga, fungua kifuniko na usilishe kwanza. Feni inaweza kusaidia.
bins-left = Kavu mno { $left }
bins-warning = Onyo la ukavu ({ $limit }): { $left }.
bins-limit = Kikomo cha ukavu ({ $limit }): { $left }.
bins-likely_dry = Huenda ({ $chance }) likawa kavu mno kufikia { $at }.
bins-may_be_dry = Linaweza kuwa kavu mno kufikia { $at } (uwezekano { $chance }).
bins-water = Ongeza { $amount }: kurudi { $target }. Kidogo kidogo, koroga, acha kabla maji hayajatuama.
bins-room = Kuna nafasi ya { $amount } hadi { $target }.
bins-bran = Changanya pumba kavu { $amount }: kushuka hadi { $target }.
bins-no_water = Maji hayahitajiki.
bins-advice_water = Karibu { $amount } zitalirudisha { $target }.
bins-advice_hours = Huenda likawa kavu mno baada ya { $length }.
bins-advice_dry = Tayari ni kavu mno.
bins-advice_bran = Pumba kavu { $amount } zitalishusha hadi { $target }.
bins-loss = Linapoteza g { $rate } za maji kwa saa ({ $low } hadi { $high }).
bins-loss_small = Linapoteza chini ya g { $most } za maji kwa saa; hewa ina unyevu mno kujua zaidi.
bins-condenses = Umande unakaa juu yake, g { $rate } kwa saa.
bins-never_weighed = Halijawahi kupimwa uzito: kupima mara moja kutafanya yote haya kuwa ya uhakika zaidi.
bins-filled_in = { $length } bila vipimo zimejazwa kutoka siku za kawaida.
bins-no_usual_day = Kilichopimwa ni kidogo mno kujua siku ya kawaida hapa; hewa inachukuliwa kubaki ilivyokuwa.
bins-heat = Joto:
bins-above_air = { $excess } juu ya hewa
bins-below_air = { $excess } chini ya hewa
bins-rising = linapanda { $rate } kwa saa
bins-falling = linashuka { $rate } kwa saa
bins-at_limit = limefika au kupita kikomo cha juu cha { $limit }
bins-limit_in = { $limit } mapema kabisa baada ya { $early }
bins-limit_about = { $limit } baada ya { $middle } hivi, mapema kabisa baada ya { $early }
bins-limit_far = { $limit } si ndani ya siku moja kwa mwendo huu.
bins-heat_made = Karibu { $power } W/m² hutoka kwa mabuu na vijidudu.
bins-heat_above = saa { $hours } juu ya { $level }
bins-heat_past = Juu kabisa { $highest }, { $at }; { $above } katika siku nane zilizopita, au tangu lijazwe.
bins-heat_usual = Ni kawaida: mapipa tisa yaliyopimwa yenye mavuno ya kawaida yalifika { $peaks } °C na yalikaa saa { $hours_38 } juu ya 38 °C, saa { $hours_40 } juu ya 40 °C na saa { $hours_42 } juu ya 42 °C.
bins-heat_unusual = Ni zaidi ya kawaida: mapipa tisa yaliyopimwa yenye mavuno ya kawaida yalifika { $peaks } °C na yalikaa saa { $hours_38 } juu ya 38 °C, saa { $hours_40 } juu ya 40 °C na saa { $hours_42 } juu ya 42 °C.
harvest-ripe = Mabuu: karibu { $now } sasa, na karibu { $kg } kufikia { $day } ({ $band }), watakapokuwa wazito zaidi.
harvest-grows_on = Mabuu: karibu { $now } sasa, na karibu { $kg } kufikia { $day } ({ $band }); wakati huo bado wanakua.
harvest-past = Mabuu: karibu { $kg } sasa ({ $band }). Wamepita uzito wao wa juu: wavune.
harvest-band = { $low } hadi { $high }
harvest-hungry = Wamepewa chini ya ambacho wangekula: karibu { $feed } zaidi za chakula kikavu. Bila hicho watabaki na mg { $each } hivi kila mmoja.
bins-filled = Lilijazwa { $at }
bins-filled_with = { $kg } za { $substrate } zenye { $moisture }
bins-surface = { $area } m²
bins-moisture_now = Unyevu sasa: { $moisture }
moisture-probe = kwa kihisi
moisture-entered = kutokana na yaliyoandikwa
bins-figure = Unyevu { $moisture }, { $basis }.
bins-moved = Kavu mno: awali baada ya { $before }, sasa baada ya { $now }.
bins-gauge = Unyevu { $now }, kati ya { $low } na { $high }
bins-curve = Unyevu
bins-curve_said = Hadi { $now } kama ilivyokokotolewa, kisha kama inavyotarajiwa. Mkanda hushika mara nne kati ya tano.
bins-key_limits = kati ya vikomo
bins-key_ahead = bado inakuja
bins-key_added = maji au chakula
bins-key_measured = uzito au unyevu ulipimwa

## probe

probe-stale = Kihisi cha unyevu: hakuna kipimo kipya (namba ya mwisho { $index }).
probe-in_air = Kihisi cha unyevu { $index }: kiko hewani au kimetolewa; kirudishe ndani. Hakihesabiwi sasa.
probe-broken = Kihisi cha unyevu { $index }: waya au kihisi kimeharibika. Hakihesabiwi.
probe-index = Kihisi cha unyevu: namba { $index }, si unyevu hadi kisawazishwe kwenye lishe hii.
probe-outside = Kihisi cha unyevu: { $moisture }, nje ya kiwango kilichosawazishwa.
probe-moisture = Kihisi cha unyevu: { $moisture } kwa usawazishaji wake kwenye lishe hii.
probe-calibrate = Kukisawazisha: rearing-monitor calibrate probe { $sensor }

## substrate

substrate-wheat_bran = pumba za ngano
substrate-chicken_feed = chakula cha kuku
substrate-kitchen_waste = taka za jikoni

## bin_picture

bin_picture-title = { $bin }: unyevu
bin_picture-band = Mkanda: mara nne kati ya tano.
bin_picture-target = lengo
bin_picture-dry_limit = kikomo cha ukavu
bin_picture-dry = kavu
bin_picture-wet = maji mengi
bin_picture-wet_limit = kikomo cha maji
bin_picture-temperature = Joto:
bin_picture-substrate = lishe
bin_picture-air = hewa
bin_picture-now = sasa
bin_picture-marks = nukta nzito: uzito au unyevu ulipimwa; nukta tupu: ilikorogwa; mstari juu: maji au chakula
