# Usiku: ukurasa, ripoti, ujumbe. Orodha ya maneno iko mwanzo wa page.ftl.


## night

night-wrong_now =
    { $count ->
        [one] Tatizo { $count } sasa
       *[other] Matatizo { $count } sasa
    }
night-well_now = Yote sawa sasa
night-alarms =
    { $count ->
        [one] onyo { $count } usiku
       *[other] maonyo { $count } usiku
    }
night-quiet = usiku mtulivu
night-span = { $start } hadi { $end }
night-other = Usiku mwingine
night-earlier = usiku uliotangulia
night-later = usiku uliofuata
night-date = Usiku hadi
night-show = Onyesha
night-wrong_heading = Matatizo sasa
night-to_alarms = La kufanya
night-to_today = Fanya na utie alama kwenye Sasa
night-alarms_heading = Maonyo ya usiku
night-late_heading = Yaliyojulikana baadaye; hakuna aliyeamshwa
night-monitor_heading = Programu yenyewe
night-nodes_heading = Angalia vifaa hivi
night-places_heading = Sehemu
night-week_heading = Wiki kwa ufupi
night-place = Sehemu
night-none = hakuna
night-no_readings = Hakuna vipimo usiku huu.
night-out = { $length } nje ya kikomo
night-gap = hakuna vipimo kwa { $length }
night-drying = nguvu ya kukausha { $mean } kPa kwa wastani, { $most } kPa juu kabisa
night-condensed = Umande ulikaa kwenye ukuta baridi zaidi kwa { $length }: fungua, futa, sogeza hewa
night-near_condensing = Umande ulikaribia { $at }: ukuta baridi zaidi ulikuwa { $margin } tu juu ya joto la umande
# uncertain
night-degree_days = siku-digrii { $earned } juu ya { $threshold }, kutoka { $measured }
night-degree_days_missing = { $length } bila vipimo hazikuhesabiwa
night-acknowledged = limeonwa na { $who } { $at }
night-not_acknowledged = hakuna aliyeliona
night-farthest = lilifika { $value }
night-over = lilikwisha { $at }
night-until = hadi { $at }
night-stands = bado lipo
night-not_running = Haikufanya kazi kuanzia { $start } hadi { $end } ({ $length }).
night-unsent =
    { $count ->
        [one] Ujumbe { $count } unasubiri kutumwa.
       *[other] Jumbe { $count } zinasubiri kutumwa.
    }
night-nothing_known_now = Hakuna tatizo linalojulikana
night-no_alarm = hakuna onyo usiku
night-blind =
    { $count ->
        [one] kidogo au hakuna kilichopimwa katika sehemu { $count }
       *[other] kidogo au hakuna kilichopimwa katika sehemu { $count }
    }
night-from_air = hewa
night-from_substrate = lishe
night-from_air_in_doubt = pipa lililojaa linaweza kuwa na joto digrii nyingi zaidi ya hewa yake
night-dew_point = joto la umande juu kabisa { $value }
night-held_back = limezuiwa tangu { $at }: { $reason }
night-wrong_then =
    { $count ->
        [one] Tatizo { $count } mwisho wake
       *[other] Matatizo { $count } mwisho wake
    }
night-well_then = Yote sawa mwisho wake
night-nothing_known_then = Hakuna tatizo lililojulikana mwisho wake
night-stopped = Programu imesimama, matatizo ya sasa hayajulikani
night-quiet_so_far = tulivu hadi sasa
night-before_first = programu ilikuwa bado haijaanza kuangalia
night-unknown_now = hakuna kinachojulikana kuhusu sehemu { $count } sasa
night-unknown_then = hakuna kilichojulikana kuhusu sehemu { $count } mwisho wake
night-out_places =
    { $count ->
        [one] sehemu { $count } ilikuwa nje ya kikomo, kwa { $length }
       *[other] sehemu { $count } zilikuwa nje ya kikomo, hadi { $length }
    }
night-late =
    { $count ->
        [one] mara { $count } kuvuka kikomo kulijulikana baadaye
       *[other] mara { $count } kuvuka kikomo kulijulikana baadaye
    }
night-down = programu haikufanya kazi kwa { $length }
night-gap_places = vipimo vinakosekana katika sehemu { $count }
night-parts_failed = mambo { $count } hayakuweza kukokotolewa
night-part_failed = haikuweza kukokotolewa: hitilafu ya programu ({ $kind }); kumbukumbu zake zinasema zaidi
night-as_known = Kama ilivyojulikana wakati huo: "sasa" na "leo" maana yake asubuhi ile.
night-wrong_then_heading = Matatizo mwisho wake
night-put_aside = limewekwa kando na { $who } { $at }
night-again = lilikuja tena { $at }
night-end_unknown = mwisho wake haujulikani, halipo tena kwenye mipangilio
night-probe = Kihisi cha unyevu
night-none_of = hakuna vipimo vya { $quantity }
night-unsent_then =
    { $count ->
        [one] Ujumbe { $count } wa mchana na usiku uliotangulia ulikuwa haujatumwa hadi wakati huo.
       *[other] Jumbe { $count } za mchana na usiku uliotangulia zilikuwa hazijatumwa hadi wakati huo.
    }
night-heartbeat = Anwani ya mapigo (heartbeat) haijajibu tangu { $since }: anayeangalia kutoka nje anaweza kudhani programu imekufa. Angalia heartbeat_url kwenye [messages], na intaneti.
night-copy_fault = { $place } hapajapata nakala tangu { $since }: { $why }
night-copy_never = { $place } hapajapata nakala bado: { $why }

# uncertain: the words below, up to the report, were added with the new Night
night-so_far = Usiku huu hadi sasa
night-day_so_far = Leo hadi sasa
night-last = Usiku uliopita
night-earlier_one = Usiku wa awali
night-to_day = leo hadi sasa
night-to_last = usiku uliopita
night-span_so_far = { $start } hadi sasa
night-alarms_day =
    { $count ->
        [one] onyo { $count } leo
       *[other] maonyo { $count } leo
    }
night-no_alarm_day = hakuna onyo leo
night-alarms_day_heading = Maonyo ya leo
night-week_nights = Usiku hadi
night-week_was = Ulikuwa
night-within = ndani ya vikomo vyote
night-not_measured = hakuna vipimo
night-everywhere = kila sehemu
night-more_places =
    { $count ->
        [one] nyingine { $count }
       *[other] nyingine { $count }
    }
mark-hot = joto
mark-cold = baridi
mark-dry = kavu
mark-humid = unyevu
mark-silent = kimya
mark-other = nje ya kikomo
night-quiet_range = { $low } ({ $low_at }) hadi { $high } ({ $high_at })
night-quiet_heading = Sehemu tulivu
night-full = Onyesha kila sehemu kwa ukamilifu
night-brief = Onyesha sehemu tulivu kwa mstari mmoja

## the report as text

night-head = { $title }, usiku hadi { $date }: { $verdict }
night-range = { $name } { $low } ({ $low_at }) hadi { $high } ({ $high_at })
night-aside_heading = Ya kuzingatia
night-water_heading = Mapipa
night-yields_heading = Mavuno ya wiki iliyopita, na kinachokuja
night-heat_heading = Joto la mapipa, baya zaidi kwanza
night-walls_heading = Kuta na vifuniko
night-cohorts_week_heading = Makundi wiki hii
night-no_watering = haiwezi kukokotolewa: { $why }
night-none_needs_water = hakuna linalohitaji maji kabla ya kesho
night-bin_unknown = haijulikani, unyevu wake hauwezi kukokotolewa
night-bin_wet = { $title }: { $zone } ({ $share }, { $basis }), changanya pumba kavu { $bran }
night-bin_water = { $title }: { $amount }, { $when } ({ $share }, { $low } hadi { $high }, { $basis })
night-dry_now = sasa: ni kavu mno
night-dry_perhaps_now = sasa: huenda tayari ni kavu mno
night-dry_before = kabla ya { $at }: linaweza kuwa kavu mno wakati huo ({ $chance } ndani ya siku moja); kupima uzito au kukausha konzi moja kwenye oveni kunaeleza zaidi
night-dry_likely = kabla ya { $at }: kuna uwezekano mkubwa liwe kavu mno wakati huo ({ $chance } ndani ya siku moja)
night-dry_in = kavu mno baada ya { $length } mapema kabisa
night-wall_condenses = umande unakaa kwenye ukuta wake baridi zaidi; ufute ukauke, sogeza hewa
night-wall_mould = ukuta baridi zaidi ulikuwa { $humidity } au zaidi kwa saa { $damp }, ukungu unaweza kuota kuanzia saa { $grows }; ingiza hewa, futa, pasha joto
night-no_forecast = hakuna utabiri: { $why }
night-not_entered = bado haijaandikwa: { $due }
night-more_due = na { $count } zaidi: rearing-monitor forecast
night-not_over = Usiku huu haujaisha bado; ripoti inafika hadi sasa.
