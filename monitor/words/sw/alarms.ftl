# Maonyo: hali, kanuni zake, yaliyotokea, na jumbe. Orodha ya maneno iko mwanzo wa page.ftl.

## trend

trend-rising = Inapanda { $rate } kwa saa, itakuwa karibu { $later } baada ya saa moja kama hakuna kitakachobadilika.
trend-falling = Inashuka { $rate } kwa saa, itakuwa karibu { $later } baada ya saa moja kama hakuna kitakachobadilika.
trend-rising_only = Inapanda { $rate } kwa saa.
trend-falling_only = Inashuka { $rate } kwa saa.
trend-steady = Haibadiliki.

## alarm

alarm-above = { $quantity } { $value }, inapaswa kuwa chini ya { $limit }
alarm-below = { $quantity } { $value }, inapaswa kuwa juu ya { $limit }
alarm-minutes_to_overheating = Itakaribia kikomo cha juu kwa digrii moja baada ya { $value } hivi ikiendelea hivi
alarm-minutes_to_overheating_passed = Iko karibu na kikomo cha juu kwa digrii moja, na bado inapanda
alarm-hours_to_dry = Inaweza kuwa kavu mno baada ya { $value }
alarm-hours_to_dry_passed = Huenda tayari ni kavu mno
alarm-silent_minutes = Haijasikika kwa { $value }
alarm-dead_sensor_minutes = Kihisi chake kimoja hakijatoa kipimo kizuri kwa { $value }
alarm-silent_node_share = { $value } ya vifaa viko kimya
alarm-unheard_nodes = Vifaa ambavyo havijasikika bado: { $value }
alarm-store_fault = Vipimo haviwezi kuhifadhiwa
alarm-broker_way_fault = Broker inapokea vinachotuma vifaa, lakini haipitishi: mada au ruhusa
alarm-archive_lag_hours = Hifadhi ya nje imechelewa kwa { $value }
alarm-copy_age_hours = Nakala nzuri ya mwisho ya hifadhidata ina umri wa { $value }
alarm-copy_behind_hours = Mahali pamoja pa nakala hapajapata nakala kwa { $value }
alarm-unsent_message_minutes = Ujumbe umesubiri kutumwa kwa { $value }
alarm-since = tangu { $at } ({ $length })
alarm-between = imerudi ndani ya kikomo, lakini kidogo mno onyo kwisha
alarm-back = imerudi ndani ya kikomo
alarm-back_since = imerudi ndani ya kikomo tangu { $at }
alarm-over_at = litakwisha { $at } ikibaki hivi
alarm-comes_at = onyo litakuja { $at } ikibaki hivi
alarm-held_back = onyo lake limezuiwa
alarm-was_high = { $quantity }: juu kabisa { $value }, kikomo { $limit }
alarm-was_low = { $quantity }: chini kabisa { $value }, kikomo { $limit }
alarm-over_span = kuanzia { $start } hadi { $end } ({ $length }), limekwisha tangu hapo
alarm-shelved_until = limewekwa kando hadi { $at }
alarm-acknowledged = kuna mtu ameliona
alarm-seen_by = ameiona { $who }, { $at }
alarm-over_line = { $what } · { $length }, hadi { $end }
alarm-no_newer = hakuna kipimo kipya
alarm-last_true = hakuna kipimo kipya, mara ya mwisho kuonekana hivyo { $at }
alarm-do = Fanya:
alarm-caution = Jihadhari:
alarm-otherwise = Kama hakuna atakayechukua hatua:
alarm-acknowledge = Nimeona
alarm-seen = Nimeona
alarm-boards = Ni { $boards }.
alarm-began_anew = Onyo hili lilianza upya { $at }, baada ya ulichoona. Liangalie na useme tena kuwa umeliona.
alarm-aside_anew = { $who } aliweka onyo hili kando { $at }, baada ya wewe kulirudisha kwenye simu yako. Hakuna kilichobadilika.
alarm-unknown = Hakuna onyo kama hilo. Huenda limeondoka kwa kubadilisha mipangilio.

## alarms

alarms-none = Hakuna onyo
alarms-standing =
    { $count ->
        [one] Onyo { $count }
       *[other] Maonyo { $count }
    }
alarms-over = Yamekwisha, bado hayajaonwa
alarms-see_all = Nimeona yote
alarms-aside = Yaliyowekwa kando au kuzimwa
alarms-journal = Yaliyotokea
alarms-to_health = Ubora wa maonyo yenyewe

## shelve

shelve-heading = Weka kando kwa muda
shelve-place = Sehemu yote { $place } kwa
shelve-alarm = Onyo hili tu, kwa
shelve-put_back = Rudisha kazini
shelve-explained = Likiwa kando, hakuna anayeambiwa. Litarudi lenyewe.
shelve-for = Kwa muda wa
shelve-reason = Kwa nini
shelve-do = Weka kando
shelve-end = Lirudishe sasa
shelve-hours_wrong = Chagua muda mmoja wa iliyopo.

## event

event-activate = lilikuja
event-clear = limekwisha
event-acknowledge = limeonwa
event-shelve = limewekwa kando
event-unshelve = limerudishwa kwa mkono
event-shelf_end = limerudi lenyewe
event-suppress = limezuiwa
event-unsuppress = halijazuiwa tena
event-take_out_of_service = limezimwa
event-return_to_service = limewashwa tena

## health

health-heading = Ubora wa maonyo
health-explained = Imepimwa kwa siku { $days } kwa vipimo vya ISA-18.2 / IEC 62682. Onyo linalokuja mara nyingi mno, au linalokaa siku nyingi, hupuuzwa haraka.
health-too_short = Chini ya siku { $days } za vipimo, namba hizi hazitoshi kutoa uamuzi.
health-measure = Kipimo
health-figure = Namba
health-told = Maonyo yaliyotolewa
health-worst_day = Maonyo mengi zaidi ya siku moja yaliyokaa zaidi ya siku
health-top_share = Sehemu ya maonyo kumi yanayokuja mara nyingi
health-per_day = Maonyo kwa siku
health-peak = Maonyo mengi zaidi ndani ya dakika kumi
health-flood = Muda wa mafuriko ya maonyo (zaidi ya 10 ndani ya dakika kumi)
health-flood_advice = Tafuta chanzo kimoja; zuia maonyo yanayotokana nacho.
health-share = { $share } %
health-of_priority = Sehemu ya: { $word }
health-times =
    { $count ->
        [one] mara { $count }
       *[other] mara { $count }
    }
health-chatters = linakuja na kuondoka
health-chatters_advice = Ongeza nafasi yake (deadband) au ucheleweshaji wake kwenye mipangilio.
health-stood = lilikaa { $length }
health-stood_advice = Rekebisha chanzo chake, au badilisha kikomo chake kama sehemu iko vizuri.
health-journal = Yaliyotokea kwa siku { $days }
health-back = Rudi kwenye maonyo

## what an alarm watches for

rule-above = { $quantity } juu ya { $limit }
rule-below = { $quantity } chini ya { $limit }
rule-minutes_to_overheating = joto kuzidi kunatarajiwa ndani ya { $limit }
rule-hours_to_dry = inaweza kuwa kavu mno ndani ya { $limit }
rule-silent_minutes = kimya kwa zaidi ya { $limit }
rule-dead_sensor_minutes = kihisi bila kipimo kizuri kwa zaidi ya { $limit }
rule-silent_node_share = zaidi ya { $limit } ya vifaa kimya kwa pamoja
rule-unheard_nodes = vifaa vya mipangilio ambavyo havijasikika bado
rule-store_fault = vipimo haviwezi kuhifadhiwa
rule-broker_way_fault = broker haipitishi vinachotuma vifaa
rule-archive_lag_hours = hifadhi ya nje imechelewa zaidi ya { $limit }
rule-copy_age_hours = nakala nzuri ya mwisho ya hifadhidata ina zaidi ya { $limit }
rule-copy_behind_hours = mahali pamoja pa nakala bila nakala kwa zaidi ya { $limit }
rule-unsent_message_minutes = ujumbe haujatumwa kwa zaidi ya { $limit }
rule-condensation_margin = ukuta ulio chini ya { $limit } juu ya joto la umande
rule-condensation_margin_none = ukuta ulio chini ya joto la umande
guard-lasting = { $what } kwa { $length }
guard-high = { $what }: inakuamsha.
guard-medium = { $what }: inatuma ujumbe, nje ya saa za kimya.
guard-low = { $what }: inaandikwa kwenye ripoti ya usiku.
guard-nobody = { $what }: ni onyo ambalo hakuna anayeambiwa.
guard-too_slow = { $what }: kifaa hutuma kila { $every }, ni polepole mno kwa hili
guard-no_sensor = { $what }: hakuna kihisi hapa
guard-no_sensor_for = { $what }: hakuna kihisi hapa cha { $quantities }
guard-index = { $what }: kihisi kinatoa namba tu, si unyevu, hadi kisawazishwe (rearing-monitor calibrate probe)

## priority

priority-high = KUBWA
priority-medium = KATI
priority-low = NDOGO

## status

status-normal = kawaida
status-unacknowledged = hakuna aliyeliona
status-acknowledged = limeonwa
status-returned_unacknowledged = limekwisha, lakini hakuna aliyeliona
status-shelved = limewekwa kando
status-suppressed_by_design = limezuiwa, kama mipangilio au badiliko la karibuni linavyotaka
status-out_of_service = limezimwa

## lists of the command line

list-stands = { $priority } { $title }: { $what }
list-name = Jina: { $name }
list-none_open = Hakuna onyo linaloendelea, lililowekwa kando au kuzimwa.
list-none_made = Mipangilio haina onyo lolote: hakuna jedwali la [[places]] wala la [[nodes]].
list-journal = { $priority } { $title }: { $what }: { $event }
list-many = linasimama kwa niaba ya { $names }
list-none_happened = Hakuna kilichotokea kwa onyo lolote muda huo.
list-by = na { $who }
list-health = Ubora wa maonyo, kwa siku { $days } (vipimo vya ISA-18.2 / IEC 62682)
list-health_line = { $name }: { $figure }
list-gone = { $name } (halipo tena kwenye mipangilio)

## decisions of a person

decide-done = { $done }: { $what }, na { $who }
decide-kept = imehifadhiwa kwa programu, ili { $done }: { $what }
decide-none_waits = Hakuna onyo linalosubiri kuonwa.
decide-none_over = Hakuna onyo lililokwisha linalosubiri kuonwa.
decide-nobody_warned = Hakuna anayeonywa tena kuhusu hili. Kurudisha:

## messages

message-title = { $priority } { $place } { $what }
message-title_stale = { $priority } { $place } { $what } (hakuna vipimo vipya)
message-title_suspect = { $priority } { $place } { $what } (kipimo cha mashaka)
message-title_still = BADO { $title }
message-title_returned = IMERUDI SAWA { $place } { $what }
message-title_unguarded = HAILINDWI { $place } { $what }
message-unguarded = Hakuna onyo litakalotoka hapo kwa muda huo wote. Kama kuna wadudu ndani, rudisha sasa.
message-name_air_temperature = hewa
message-name_substrate_temperature = lishe
message-name_surface_temperature = ukuta
message-name_substrate_moisture = unyevu
message-above = { $quantity } { $value }, kikomo { $limit }, iko juu mno
message-below = { $quantity } { $value }, kikomo { $limit }, iko chini mno
message-back = { $what }, imerudi kwa sasa
message-between = { $what }, imerudi kidogo tu
message-over = { $quantity } { $value }, kikomo { $limit }
message-minutes_to_overheating = inakaribia kikomo cha juu baada ya { $value } hivi
message-minutes_to_overheating_passed = inakaribia kikomo cha juu, bado inapanda
message-hours_to_dry = inaweza kuwa kavu mno baada ya { $value }
message-hours_to_dry_passed = huenda tayari ni kavu mno
message-silent_minutes = hakuna vipimo kwa { $value }
message-dead_sensor_minutes = hakuna kipimo kizuri kwa { $value }
message-silent_node_share = { $value } ya vifaa viko kimya, umeme au mtandao umekatika
message-unheard_nodes = vifaa ambavyo havijasikika bado: { $value }
message-store_fault = vipimo haviwezi kuhifadhiwa
message-broker_way_fault = broker inapokea vinachotuma vifaa, lakini haipitishi
message-archive_lag_hours = hifadhi ya nje imechelewa { $value }
message-copy_age_hours = hakuna nakala nzuri ya hifadhidata kwa { $value }
message-copy_behind_hours = mahali pamoja pa nakala hapajapata nakala kwa { $value }
message-unsent_message_minutes = jumbe zimesubiri bila kutumwa kwa { $value }
message-over_minutes_to_overheating = haielekei tena kwenye joto kali
message-over_hours_to_dry = haikaribii tena kukauka
message-over_silent_minutes = inatuma vipimo tena
message-over_dead_sensor_minutes = inapima vizuri tena
message-over_silent_node_share = vifaa vinatuma tena
message-over_unheard_nodes = vifaa vyote vimesikika
message-over_store_fault = vipimo vinahifadhiwa tena
message-over_broker_way_fault = broker inapitisha vinachotuma vifaa
message-over_archive_lag_hours = hifadhi ya nje imefikia ya sasa
message-over_copy_age_hours = hifadhidata inanakiliwa tena
message-over_copy_behind_hours = kila mahali pa nakala pana nakala tena
message-over_unsent_message_minutes = jumbe zinatumwa tena
message-since = Tangu { $at } ({ $length }).
message-highest_so_far = Juu kabisa hadi sasa { $value }.
message-lowest_so_far = Chini kabisa hadi sasa { $value }.
message-highest = Juu kabisa { $value }.
message-lowest = Chini kabisa { $value }.
message-stale = Hakuna vipimo vipya. Chukulia kuwa bado ni kweli.
message-stale_since = Hakuna vipimo vipya: ilijulikana kuwa kweli mara ya mwisho { $at }. Chukulia kuwa bado ni kweli.
message-suspect = Kipimo kina mashaka. Chukulia ni kweli hadi uangalie, na kagua kihisi.
message-suspect_returned = Kipimo kina mashaka: kagua kihisi.
message-do = Fanya: { $text }
message-caution = Jihadhari: { $text }
message-otherwise = Kama hakuna kitakachofanyika: { $text }
message-seen = Nimeona: { $link }
message-late = Ujumbe huu umechelewa: umesubiri tangu { $at }.
message-reminder = Kumbusho: bado hakuna aliyesema ameona.
message-was_told = { $name } aliambiwa { $at } na hajajibu.
message-not_reached = { $name } hakupatikana tangu { $at }.
message-returned = Imerudi sawa.
message-returned_at = Imerudi sawa tangu { $at }.
message-out_of_range = Nje ya kikomo kuanzia { $start } hadi { $end } ({ $length }).
message-acknowledged = Limeonwa na { $who } { $at }.
message-somebody = mtu fulani
message-came_and_went = Pia lilikuja na kuondoka { $times }.
message-folded_title =
    { $count ->
        [one] Ujumbe { $count } ndani ya mmoja. Wa kwanza: { $first }
       *[other] Jumbe { $count } ndani ya mmoja. Wa kwanza: { $first }
    }
message-folded_reason = Zaidi ya jumbe { $most } ndani ya saa moja, kwa hiyo hizi zinakuja pamoja:
message-folded_more = na nyingine { $count }
message-folded_all = Zote: rearing-monitor alarms
message-night_title = Ripoti ya usiku { $site }, { $day }
message-test_title = JARIBIO kutoka { $site }: jumbe zinakufikia
message-test = Umetumwa { $at } kwa { $name }. Hakuna tatizo. Onyo huja kwa njia hiyo hiyo; husema kuna nini na ufanye nini.
message-cannot_start_title = { $priority } { $site } programu haiwezi kuanza
message-cannot_start =
    Hakuna kinachoangaliwa, na hakuna anayeonywa kuhusu chochote.
    { $problem }
    Fanya: Rekebisha kwenye kompyuta, na waangalie wadudu kwa mkono hadi programu ifanye kazi.
guard-heat_warning = Kukiwa na kipimo kila { $every }, tarajia kuambiwa kuhusu joto karibu { $warning } kabla ya kikomo (nusu ya mara zote mapema zaidi, nusu baadaye). Kifaa kinaweza kutuma kila { $longest } kwa onyo refu zaidi.
guard-sounded_never = { $what }: lisingelia katika siku { $days } zilizopita.
guard-sounded =
    { $count ->
        [one] { $what }: lingelia mara moja katika siku { $days } zilizopita, kwa { $length }.
       *[other] { $what }: lingelia mara { $count } katika siku { $days } zilizopita, kwa { $length } kwa jumla.
    }
