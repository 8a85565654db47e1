# Maneno ya makundi na vizimba. Orodha ya maneno iko mwanzo wa page.ftl.


## part

part-cohorts = Makundi

## stage

stage-egg = mayai
stage-larva = mabuu
stage-prepupa = mabuu weusi
stage-pupa = pupa
stage-adult = nzi

## stage_short: under the bar of a cohort, a fifth of a phone wide each

stage_short-egg = mayai
stage_short-larva = mabuu
stage_short-prepupa = weusi
stage_short-pupa = pupa
stage_short-adult = nzi

## seen

seen-hatch = kuanguliwa
seen-first_prepupae = mabuu weusi wa kwanza
seen-half_prepupae = nusu ya mabuu ni weusi
seen-first_motionless = pupa wa kwanza wasiosogea
seen-half_motionless = nusu hawasogei
seen-first_emerged = nzi wa kwanza
seen-half_emerged = nusu ya nzi wametoka
seen-most_emerged = nzi tisa kati ya kumi wametoka
seen-first_eggs = mayai ya kwanza

## driven

driven-air = joto la hewa
driven-substrate = joto la lishe
driven-none = hakuna joto bado
driven-no_probe = joto la hewa: pipa lililojaa linaweza kuwa na joto zaidi sana, kwa hiyo muda ni mpana
driven-egg = joto la hewa; wakiwa mabuu wamehesabiwa kama kwenye mapipa, kwa kuwa hakuna mpango wa kuwahamisha
driven-tray = wako kwenye trei; wakiwa mabuu wamehesabiwa kama kwenye mapipa, kwa kuwa hakuna mpango wa kuwahamisha

## cohorts

cohorts-living =
    { $count ->
        [one] Kundi { $count }
       *[other] Makundi { $count }
    }
cohorts-none = Hakuna kundi hai
cohorts-none_do = Anza moja kwa mayai, mabuu au pupa ulio nao; ukurasa utasema lini wataanguliwa, watatoka na wataruka.
cohorts-none_yet = Hakuna kundi kwenye daftari. Anza moja, kwa mfano: { $command }
cohorts-today = Leo
cohorts-week = Siku 7 zijazo
cohorts-overdue = Imechelewa, au imeonekana lakini haijaandikwa
cohorts-nothing_due = Hakuna kinachotarajiwa katika siku saba zijazo.
cohorts-look = Yanayofaa zaidi kuangaliwa:
cohorts-due_now = Angalia sasa
cohorts-others =
    { $count ->
        [one] Kundi { $count } la tarehe za baadaye
       *[other] Makundi { $count } ya tarehe za baadaye
    }
cohorts-what_for = Ni kwa ajili ya nini?
cohorts-what_for_one = Ni kwa ajili ya nini?
cohorts-what_for_more =
    { $count ->
        [one] na { $count } zaidi
       *[other] na { $count } zaidi
    }
cohorts-details = Takwimu na istilahi
cohorts-terms = Mabuu weusi hawali tena na hutafuta mahali pakavu. Pupa wasiosogea wameanza kugeuka kuwa nzi.
cohorts-cage_more = Siku kwa siku
cohorts-first_name = kundi-1
cohorts-assumed_start = Mayai kwenye trei, mabuu kwenye pipa, na kadhalika; kuanzia sasa. Badilisha, au sema zaidi
cohorts-cage_flies = Nzi waliotoka tangu hesabu iliyopita. Inaandikwa kwa { $cohorts }, kulingana na nzi ambao kila kundi limetoa.
cohorts-i_saw_it = Nimeona
cohorts-each = Kila kundi, linalokuja kwanza juu
cohorts-next = Kinachofuata:
cohorts-event = { $event } { $day } ({ $window })
cohorts-day = { $day } ({ $window })
cohorts-due = katika { $place }: { $event } ({ $window })
cohorts-ask = { $event }, karibu { $day }. Kuandika siku hiyo kutafanya utabiri wake uwe wa uhakika zaidi kwa { $gain }.
cohorts-ask_command = Kuiandika: { $command }
cohorts-bar = { $stage }, { $percent } ya hatua hii
cohorts-degree_days = { $percent } % ya hatua, siku-digrii { $done } kati ya { $needed }
cohorts-full_days = { $percent } % ya hatua, siku { $done } kati ya { $needed } za mwendo kamili
cohorts-harvest_before = Vuna kabla ya
cohorts-unknown = Limefika wapi haijulikani: hakuna joto la sehemu yake tangu { $since }. Andika jambo linalofuata utakaloliona.
cohorts-flies = Karibu nzi { $best } siku bora, { $day } ({ $low } hadi { $high }); { $all } kwa jumla.
cohorts-flies_rough = Karibu nzi { $best } siku bora, { $day } ({ $low } hadi { $high }); { $all } kwa jumla, kwa hesabu ya kukadiria.
cohorts-not_counted = Nzi wangapi watatoka haijulikani: hakuna aliyehesabu kundi (`cohort count`).
cohorts-heat_fail = saa { $hours } juu ya kikomo cha joto: nzi wachache au hakuna watatoka.
cohorts-heat_warning = saa { $hours } juu ya kikomo cha joto tangu lianze: nzi wachache zaidi wanaweza kutoka.
cohorts-heat_few = saa { $hours } juu ya kikomo cha joto. Karibu { $lives } % ({ $low } hadi { $high }) ya wadudu wataishi kupitia joto hili na linalotarajiwa: nzi wachache au hakuna watatoka.
cohorts-heat_some = saa { $hours } juu ya kikomo cha joto. Karibu { $lives } % ({ $low } hadi { $high }) ya wadudu wataishi kupitia joto hili na linalotarajiwa: nzi wachache zaidi watatoka.
cohorts-heat_none = saa { $hours } juu ya kikomo cha joto: karibu hakuna mdudu atakayeishi kupitia joto hili. Usitarajie nzi kutoka kwake.
cohorts-heat_now = Kwa joto la hapo sasa, nusu ya wasioweza kukimbia hufa ndani ya { $length }.
cohorts-stands_cold = Hawatamaliza kwa joto hili: wakiwa { $stage } watachukua zaidi ya siku { $days }. Pasha joto sehemu yao, au wahamishe.
cohorts-stands_heat = Hawatamaliza kwa joto hili: wakiwa { $stage } hawakui vizuri kwa joto kali hivi, au hawakui kabisa. Poza sehemu yao, au wahamishe.
cohorts-behind = { $days } nyuma ya utabiri wa wiki iliyopita.
cohorts-ahead = { $days } mbele ya utabiri wa wiki iliyopita.
cohorts-unconfirmed = Lilipangwa kuhamia { $place } { $day }; limehesabiwa kama limehama. Andika uhamisho, au futa mpango.
cohorts-own =
    { $count ->
        [one] namba zako kutoka kundi { $count }
       *[other] namba zako kutoka makundi { $count }
    }
cohorts-papers = namba za utafiti, bado hakuna zako
cohorts-estimated = saa { $hours } kati yake zimekadiriwa
cohorts-assumed = kuanzia mabuu weusi limehesabiwa kama katika { $place }: ni makadirio, kwa kuwa hakuna mpango wa kuhama
cohorts-rests = Inategemea: { $what }.
cohorts-heading = { $title }:
cohorts-what_seen = Umeona nini?
cohorts-events = Nini kinakuja lini
cohorts-event_name = Nini
cohorts-likely = Uwezekano mkubwa
cohorts-window = Muda
cohorts-was_seen = imeonekana
cohorts-window_explained = Muda unashika siku yenyewe mara nne kati ya tano.
cohorts-curve_flies = Nzi wanaotoka, siku kwa siku
cohorts-curve_share = Sehemu wanaotoka, siku kwa siku (%)
cohorts-curve_said = Wengi zaidi { $day }, karibu { $count }. Mkanda hushika siku nne kati ya tano.
cohorts-ended = Limekwisha { $day }: { $how }.
cohorts-narrower = Muda wa nzi: awali { $before }, sasa { $now }.
cohorts-as_of = Imekokotolewa { $at }; upya kitu kikiandikwa.
# uncertain
cohorts-working_in = Kilichoandikwa mwisho kinahesabiwa: siku zilizo hapa chini zitafuata zenyewe baada ya muda mfupi.
# uncertain
cohorts-coming = Utabiri unahesabiwa: utaonekana hapa wenyewe baada ya muda mfupi.

## supply

supply-heading = Nzi kwenye vizimba, siku 30 zijazo
supply-no_cage = Hakuna kizimba kilichotajwa
supply-none = Hakuna kundi lililokusudiwa kwake.
supply-no_least = Weka least_flies kwenye mipangilio, au toa --least, ili uonywe kuhusu upungufu.
supply-most = Wengi zaidi { $day }, karibu nzi { $flies }.
supply-enough = Wanatosha siku zote (angalau { $least }).
supply-short = Ni wachache mno kwa { $days }, kuanzia { $day } (angalau { $least }).
supply-some = { $stage } { $count }
supply-too_late = { $what }: umechelewa kuanza nao.
supply-now = { $what }: tenga sasa; hata hivyo inaweza kuchelewa (nusu kwa nusu hadi { $even }).
supply-by = { $what }: tenga kufikia { $safe } kuwa na uhakika, { $even } kwa nusu kwa nusu.
supply-keep = Au weka { $cohort } kwa uzazi; amua kufikia { $day }, linapoanza kutoka.
supply-no_keep = Hakuna kundi la chakula litakalofika kwa wakati.
supply-least = angalau { $least }
supply-day_short = wachache mno
supply-day_eggs = mayai karibu { $count }
supply-eggs_rough = Mayai ni ya kukadiria: majike wanaoishi hadi kutaga, mara mayai ambayo utafiti unatoa.
supply-from = Kutoka
supply-uncounted = Wameachwa, kwa kuwa hakuna aliyewahesabu: { $names }
supply-undecided = Hawajahesabiwa, kwa kuwa hakuna aliyesema ni wa nini: { $names }.
supply-curve = Nzi walio hai
supply-curve_said = { $days } kuanzia leo. Mkanda hushika mara nne kati ya tano.

## learned

learned-heading = Utabiri unategemea nini
learned-taught =
    { $count ->
        [one] Umejifunza kutoka kundi { $count } la shamba hili.
       *[other] Umejifunza kutoka makundi { $count } ya shamba hili.
    }
learned-nothing = Bado haujajifunza kitu: utabiri unategemea namba za utafiti. Kila jambo unaloandika linaufanya uwe wako.
learned-more = Namba, na ubora wa utabiri uliopita
learned-constants = Siku-digrii za kila hatua
learned-on_feed = Siku-digrii za kila hatua, kwa { $feed }
learned-stage = Hatua
learned-papers = Kutoka utafiti
learned-own = Zako
learned-rests = Inategemea
learned-span = { $middle } ({ $low } hadi { $high })
learned-cohorts =
    { $count ->
        [one] kundi { $count }
       *[other] makundi { $count }
    }
learned-papers_only = utafiti tu
learned-spread =
    { $count ->
        [0] Wadudu wa kundi moja hutofautiana kwa muda wao kwa { $own } % (mwanzoni: { $prior } %); hakuna kundi lililohesabiwa siku kwa siku bado.
        [one] Wadudu wa kundi moja hutofautiana kwa muda wao kwa { $own } % (mwanzoni: { $prior } %), kutoka kundi { $count } lililohesabiwa siku kwa siku.
       *[other] Wadudu wa kundi moja hutofautiana kwa muda wao kwa { $own } % (mwanzoni: { $prior } %), kutoka makundi { $count } yaliyohesabiwa siku kwa siku.
    }
learned-scores = Utabiri uliopita, ukilinganishwa na yaliyoonekana:
learned-score = { $about } kabla: { $score }
learned-by_event = Kwa kila jambo, { $lead } kabla:
learned-should_hold = Muda nane kati ya kumi unapaswa kushika.
learned-later =
    { $count ->
        [one] jambo { $count }, kosa la { $off }, { $bias } baadaye kuliko ilivyosemwa; { $held } % ya muda ilishika.
       *[other] mambo { $count }, kosa la { $off }, { $bias } baadaye kuliko ilivyosemwa; { $held } % ya muda ilishika.
    }
learned-earlier =
    { $count ->
        [one] jambo { $count }, kosa la { $off }, { $bias } mapema kuliko ilivyosemwa; { $held } % ya muda ilishika.
       *[other] mambo { $count }, kosa la { $off }, { $bias } mapema kuliko ilivyosemwa; { $held } % ya muda ilishika.
    }
learned-no_score = Hakuna utabiri uliofikia wakati wake bado; utabiri wa kila siku huhifadhiwa na kulinganishwa na unachoandika.

## mark

mark-published = umechapishwa
mark-cited = umenukuliwa
mark-common_practice = desturi
mark-choice = chaguo letu
mark-own = wa shamba hili

## published

published-head = Yanayosemwa na utafiti, kando ya namba zinazotumika kwa shamba lisilojulikana bado: siku ya katikati, na muda unaoshika mashamba manne kati ya matano. Pale chanzo kisipotaja joto, limekadiriwa.
published-none = Faili ya spishi hii haina muda uliochapishwa.
published-stage = Hatua
published-temperature = Kwa
published-papers = Uliochapishwa
published-ours = Unaotumika
published-assumed = { $degrees } kwa makadirio
published-to_eggs = nzi hadi mayai ya kwanza
published-from_egg = yai
published-from_larva = buu
published-from_prepupa = buu mweusi
published-aged = { $begin } (umri siku { $days } hivi)
published-to_fly = { $begin } hadi nzi
published-on = { $what } kwa { $feed }
published-days = siku { $span }
published-least = angalau siku { $low }
published-inside = ndani
published-held = muda unaushika
published-outside = nje
published-reason = Kwa nini: { $reason }

## calendar

calendar-title =
    { $count ->
        [one] Yanayokuja wiki ijayo
       *[other] Yanayokuja wiki { $count } zijazo
    }
calendar-explained = Alama ni siku yenye uwezekano mkubwa; mstari unashika jambo mara nne kati ya tano.
calendar-nothing = Hakuna kinachotarajiwa kwa kundi lolote.
calendar-meaning = nzito: pa kuchukua hatua (nusu ya nzi wametoka, wa kwanza wanatoka pipani)
calendar-now = sasa
calendar-hatch = kuanguliwa
calendar-half_prepupae = mabuu weusi
calendar-half_motionless = hawasogei
calendar-half_emerged = nusu ya nzi
calendar-first_eggs = mayai ya kwanza
calendar-feed_hatch = kuanguliwa
calendar-feed_first_prepupae = vuna kabla
calendar-feed_half_prepupae = nusu weusi

## emergence

emergence-title = { $cohort }: nzi siku kwa siku
emergence-half = Nusu wametoka { $day } ({ $window }).
emergence-band = Mkanda: siku nne kati ya tano ziko ndani.
emergence-nothing = Bado haiwezi kusemwa lini watatoka.
emergence-flies = nzi kwa siku
emergence-share = % yao kwa siku
