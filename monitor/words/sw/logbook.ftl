# Maneno ya daftari na ya yote yanayoandikwa ndani yake. Orodha ya maneno iko mwanzo wa page.ftl.


## part

part-logbook = Daftari

## window

window-span = { $low } hadi { $high }
window-from = kuanzia { $low }
window-never = hakuna siku inayoonekana
window-days =
    { $count ->
        [one] siku { $shown }
       *[other] siku { $shown }
    }

## amount

amount-litres =
    { $count ->
        [one] lita { $shown }
       *[other] lita { $shown }
    }
amount-grams = g { $count }
amount-kilograms = kg { $count }

## ahead

ahead-low = Angalau
ahead-likely = Uwezekano mkubwa
ahead-high = Zaidi kabisa

## tap

tap-water = Maji
tap-weigh = Uzito
tap-stir = Nimekoroga
tap-test = Kipimo cha unyevu
tap-empty = Kumwagwa
tap-look = Fungua
tap-saw = Nimeona: { $event }
tap-else = Kitu kingine

## kind_of

kind_of-water = Maji
kind_of-weigh = Uzito
kind_of-stir = Kukoroga
kind_of-feed = Chakula
kind_of-test = Kipimo cha unyevu
kind_of-cover = Kifuniko
kind_of-fan = Feni
kind_of-larvae = Mabuu waliowekwa
kind_of-take = Kilichotolewa
kind_of-finish = Kausha kwa makusudi
kind_of-empty = Kumwagwa
kind_of-in_use = Inatumika
kind_of-aside = Kuwekwa kando
kind_of-fill = Kujazwa
kind_of-saw = Kilichoonekana
kind_of-flies = Nzi waliohesabiwa
kind_of-eggs = Mayai yaliyokusanywa
kind_of-count = Wadudu waliohesabiwa
kind_of-move = Kuhamishwa
kind_of-planned_move = Panga uhamisho
kind_of-split = Kugawanywa
kind_of-merge = Weka kundi jingine ndani yake
kind_of-thin = Kupunguzwa
kind_of-purpose = Ni kwa ajili ya nini
kind_of-end = Limekwisha
kind_of-collect = Mayai yamekusanywa
kind_of-dead = Nzi waliokufa wametolewa
kind_of-note = Maelezo
kind_of-start = Kundi jipya
kind_of-withdrawn = Kufutwa
kind_of-probe = Kihisi kimesawazishwa

## explained

explained-water = Kiasi kilichomwagwa; lita za kulirudisha kwenye lengo tayari zimeandikwa.
explained-weigh = Kupima uzito hufanya yote kuhusu pipa hili kuwa ya uhakika zaidi. Bila chombo.
explained-test = Konzi moja kabla na baada ya oveni ni sahihi; iliyokamuliwa ni makadirio tu.
explained-feed = Pumba kavu dhidi ya maji mengi pia ni chakula.
explained-larvae = Wanachukua nafasi ya wale ambao pipa liliwajua.
explained-finish = Kuanzia hapo halitoi tena onyo la ukavu.
explained-empty = Hakuna kinachokokotolewa kwake hadi lijazwe tena.
explained-fill = Ukubwa unahitajika mara moja kwa kila pipa; kujaza kwingine kunautumia huohuo.
explained-saw = Inafanya utabiri huu na wa makundi yajayo uwe sahihi zaidi.
explained-flies = Nzi waliotoka tangu hesabu ya mwisho.
explained-planned_move = Utabiri unahesabu hivyo kuanzia hapo.
explained-split = Sehemu inayokuwa kundi lake yenyewe, kama vile sehemu iliyowekwa kwa uzazi.
explained-start = Mayai yaliyotagwa, mabuu walioanguliwa au kununuliwa, mabuu weusi au pupa.
explained-collect = Yapime bila vipande. Yakiwekwa kwenye trei yaanguliwe yanaanza kundi hapo, au kujiunga na la siku hiyo.
explained-dead = Idadi, au uzito.
explained-note = Chochote kinachofaa kujulikana baadaye; hakuna kinachohesabiwa kutokana nacho.
explained-take = Mabuu na matumizi yao; mabuu weusi kwa uzito au idadi; mabaki na unyevu wake.

## field

field-litres = Kiasi (lita)
field-kg = Kiasi (kg)
field-moisture = Unyevu (%)
field-surface_m2 = Ukubwa wa ndani (kama 60 x 40 cm)
field-depth_m = Kina cha kujaza (kama 8 cm)
field-larvae = Idadi ya mabuu
field-age_days = Umri wao (siku tangu kuanguliwa)
field-spread = imetandazwa nyembamba pia
field-rough = Imekamuliwa kwa mkono, kwa hiyo ni makadirio
field-cover = Kilicho juu yake
field-on = Feni
field-switch_on = imewashwa
field-switch_off = imezimwa
field-what = Kilichotolewa
field-event = Kilichoonekana
field-sure_days = Uhakika wa siku (± siku; tupu: nusu siku)
field-flies = Idadi ya nzi
field-grams = Uzito (g)
field-animals = Idadi ya wadudu
field-stage = Wakiwa
field-place = Sehemu
field-purpose = Kwa ajili ya
field-cage = Kizimba ambacho nzi wake wataenda
field-into = Jina la kundi jipya
field-percent = Sehemu yake (%)
field-other = Kundi jingine
field-how = Lilikwishaje
field-cohort = La kundi gani (tupu: jipya linaanza)
field-stays = Kundi gani linabaki ndani
field-name = Jina la kundi
field-at = Lini
field-note = Maelezo
field-reason = Kwa nini
field-use = Kwa matumizi gani
field-egg_use = Kwa matumizi gani
field-tray = Yataanguliwa kwenye trei gani
field-strips = Idadi ya vipande
field-clutches = Idadi ya mafungu ya mayai
field-mean_mg = Uzito wa wastani wa mmoja, sampuli iliyohesabiwa (mg)
field-feed = Chakula gani
field-residue_kg = Mabaki (kg)
field-residue_moisture = Unyevu wa mabaki (%)
field-young_grams = Au uzito wa mabuu wachanga (g)
field-hatched = Walioanguliwa katika sampuli (%)
field-female_percent = Majike katika sampuli (%)
field-taken_animals = Au idadi yao (mabuu weusi)
field-harvest_grams = Mabuu waliovunwa (g)

## cover

cover-open = hakuna
cover-net = neti
cover-lid = kifuniko

## taken

taken-larvae = mabuu
taken-residue = mabaki
taken-prepupae = mabuu weusi

## purpose

purpose-breeding = kwa uzazi
purpose-feed = kwa chakula

## use

use-feed = kwa chakula
use-sold = imeuzwa
use-breeding = imewekwa kwa uzazi
use-hatch = imewekwa ianguliwe

## ending

ending-emerged = nzi wote wametoka
ending-harvested = limevunwa
ending-sold = limeuzwa
ending-lost = limepotea
ending-merged = limewekwa kwenye jingine

## write

write-heading = { $what }: { $about }
write-do = Andika
write-leave_it = Acha
write-choose = chagua
write-leave = haijasemwa
write-anything = Andika kitu
write-refused = Haikuandikwa
write-written = Imeandikwa kama ingizo { $number }, { $about }: { $said }.
write-when = Lini: { $when }.
write-withdrawn = Imeandikwa kama ingizo { $number }, { $about }: ingizo { $old } halihesabiwi tena; linabaki kwenye daftari.
write-missing = { $field }: hii inahitajika.
write-wrong_litres = { $field }: “{ $text }” si kiasi. Inaruhusiwa: 1.5, 1.5 l au 300 ml, zaidi ya 0.
write-wrong_kilograms = { $field }: “{ $text }” si uzito. Inaruhusiwa: 2.4, 2.4 kg au 800 g, zaidi ya 0.
write-wrong_share = { $field }: “{ $text }” si unyevu. Inaruhusiwa: kati ya 0 na 100 %, kama 65 %.
write-wrong_size = { $field }: “{ $text }” si ukubwa. Inaruhusiwa: 60 x 40 cm, 0.24 m2, au 40 cm round.
write-wrong_length = { $field }: “{ $text }” si kina. Inaruhusiwa: hadi 2 m, kama 8 cm.
write-wrong_whole = { $field }: “{ $text }” si namba kamili. Inaruhusiwa: kama 2500.
write-wrong_grams = { $field }: “{ $text }” si uzito. Inaruhusiwa: 12, 12.5 g au 1.5 kg, zaidi ya 0.
write-wrong_days = { $field }: “{ $text }” si namba. Inaruhusiwa: kama 5 au 2.5.
write-wrong_percent = { $field }: “{ $text }” si namba. Inaruhusiwa: kama 5 au 2.5.
write-wrong_choice = { $field }: “{ $text }” haimo kati ya vinavyoweza kuchaguliwa.
write-wrong_switch = { $field }: “{ $text }” haimo kati ya vinavyoweza kuchaguliwa.
write-wrong_time = Lini: “{ $text }” si wakati. Inaruhusiwa: kama 14:30, jana 18:00, 8 Okt 18:00 au 2026-11-25 14:30.
write-wrong_milligrams = { $field }: “{ $text }” si uzito. Inaruhusiwa: kama 180 au 180 mg, zaidi ya 0.
write-sold_and_tray = Kilichouzwa hakianguliwi kwenye trei hapa: acha trei, au andika kando kilichouzwa na kilichowekwa kianguliwe.
write-caution_fan = Weka feni, waya na plagi zikiwa kavu na mbali na sakafu yenye maji. Fundi umeme mwenye leseni ndiye anayeamua kuhusu nyaya.

## ask

ask-write_it = Je, ni sahihi hata hivyo? Andika [y/N]
ask-heading = Je, hii ni sahihi?
ask-explained = Bado hakuna kilichoandikwa. Hili si la kawaida:
ask-yes = Ndiyo, andika
ask-change = Badilisha

## said

said-moment = { $weekday } { $day } { $month }, { $at }, { $away }
said-moment_year = { $weekday } { $day } { $month } { $year }, { $at }, { $away }
said-now = sasa
said-ago = { $length } zilizopita
said-ahead = baada ya { $length }

## told

told-water = { $kg } za maji
told-weigh = uzito ulikuwa { $kg }
told-stir_spread = ilikorogwa na kutandazwa nyembamba
told-stir = ilikorogwa
told-feed = { $kg } za chakula chenye { $moisture }
told-test = unyevu ulipimwa: { $moisture }
told-test_rough = unyevu kwa mkono: { $moisture }
told-cover = ilifunikwa kwa { $cover }
told-cover_open = ilifunguliwa
told-fan = feni imezimwa
told-fan_on = feni imewashwa
told-larvae = mabuu { $larvae } waliwekwa
told-take = { $kg } za { $what } zilitolewa
# uncertain
told-take_counted = { $animals } wametolewa: { $what }
told-finish = inakaushwa kwa makusudi kuanzia hapo
told-empty = ilimwagwa
told-place_empty = hakuna wadudu ndani
told-place_in_use = kuna wadudu ndani
told-place_aside = imewekwa kando hadi { $until }
told-place_collect = { $grams } za mayai zimekusanywa
told-place_dead = nzi waliokufa wametolewa
told-place_note = maelezo
told-board_in_use = kinatumika tena
told-board_aside = kimewekwa kando hadi { $until }
told-board_note = maelezo
told-fill = ilijazwa { $kg } zenye { $moisture }
told-saw = imeonekana: { $event }
told-flies = nzi { $flies } walitoka
told-eggs = mayai yalikusanywa, { $grams }
told-count = { $stage } { $animals } walihesabiwa
told-move = lilihamia { $place }
told-planned_move = limepangwa kuhamia { $place }
told-split = liligawanywa, likatolewa { $into }
told-merge = { $other } liliwekwa ndani yake
told-thin = lilipunguzwa
told-purpose = limesemwa kuwa { $purpose }
told-end = limekwisha: { $how }
told-note = maelezo
told-start = lilianza kama { $stage } katika { $place }
told-withdrawn = ingizo { $number } limefutwa
told-probe = kihisi cha unyevu kimesawazishwa
told-with_animals = wadudu { $animals }
told-with_grams = { $grams }
told-with_age_days = umri { $age_days }
told-with_purpose = { $purpose }
told-with_cage = nzi kwenda { $cage }
told-with_percent = { $percent } % yake
told-with_larvae = mabuu { $larvae }
told-with_cohort = wa { $cohort }
told-with_cohort_new = kama kundi jipya { $cohort }
told-with_ended = { $ended } limekwisha: { $how }
told-with_stays = { $stays } linabaki
told-with_back_to_kg = kurudi { $back_to_kg }
told-with_sure_days = ± { $sure_days }
# uncertain
told-with_strips = kwenye vipande { $strips }
# uncertain
told-with_clutches = mafungu { $clutches } ya mayai
told-with_use = { $use }
told-with_tray = ndani ya { $tray }
told-with_mean_mg = { $mean_mg } kila mmoja
told-with_residue_kg = { $residue_kg } za mabaki
told-with_residue_moisture = kwa unyevu { $residue_moisture }
told-with_moisture = kwa unyevu { $moisture }
told-with_hatched = { $percent } % yameanguliwa
told-with_young_grams = { $young_grams } za mabuu wachanga
told-with_female_percent = { $female_percent } % majike
told-with_feed = { $feed }

## logbook

logbook-about = Kuhusu
logbook-everything = kila kitu
logbook-kind = Nini
logbook-every_kind = aina zote
logbook-days = Kwa siku za mwisho
logbook-show = Onyesha
logbook-count =
    { $count ->
        [one] Ingizo { $count }
       *[other] Maingizo { $count }
    }
logbook-undone =
    { $count ->
        [one] { $run } imerudishwa: ingizo { $count } halihesabiwi tena; linabaki kwenye daftari.
       *[other] { $run } imerudishwa: maingizo { $count } hayahesabiwi tena; yanabaki kwenye daftari.
    }
logbook-import_line =
    { $count ->
        [one] { $run }: ingizo { $count } la daftari la karatasi
       *[other] { $run }: maingizo { $count } ya daftari la karatasi
    }
logbook-import_undo = Rudisha yote
logbook-import_undone = Imerudishwa; haihesabiwi tena.
logbook-nothing = Bado hakuna kitu.
logbook-refused = Ingizo { $number } ({ $about }) halihesabiwi: { $reason }
logbook-by = { $who }, ingizo { $number }
logbook-by_whom = na { $who }
logbook-entered = liliandikwa { $at }
logbook-entry = Ingizo { $number }
logbook-not_counting = Haya hayahesabiwi, kwa kuwa hayawezi kuwa hivyo
logbook-correct = sahihisha
logbook-corrected = limesahihishwa na ingizo { $number }
logbook-withdrawn = limefutwa na ingizo { $number }
logbook-instead = badala ya ingizo { $number }
logbook-all_of_it = Yote yaliyoandikwa kuhusu hili
logbook-older = ya awali
logbook-newer = ya baadaye
logbook-correct_heading = Sahihisha ingizo { $number }, { $about }
logbook-correct_explained = Ingizo la kwanza linabaki kwenye daftari; jipya linahesabiwa badala yake.
logbook-correct_do = Andika sahihisho
logbook-withdraw_heading = Haikuwahi kuwa hivyo
logbook-withdraw_explained = Ingizo halihesabiwi tena. Linabaki kwenye daftari, pamoja na jina la aliyelifuta.
logbook-withdraw = Lifute
logbook-nothing_new = Hakuna tofauti na kilichopo; badilisha kilicho kosa, au ulifute.

## list

list-none_lives = Hakuna kundi hai sasa; --all inaonyesha yaliyokwisha
list-lives = { $stage } katika { $place }
list-stage_unknown = hatua haijulikani
list-since = tangu { $day }
list-counted = { $stage } { $count }
list-about = { $stage } karibu { $count }

## show

show-logbook = Daftari
show-earlier =
    { $count ->
        [one] na ingizo { $count } la awali: --all
       *[other] na maingizo { $count } ya awali: --all
    }
show-drawn = { $file } imeandikwa
show-bin_emptied = { $bin } lilimwagwa na halijajazwa tangu hapo. Kulijaza: rearing-monitor bin fill { $place }
show-bin_unknown = { $bin }: hakuna kitu kwenye daftari. Kuandika kujazwa kwake: rearing-monitor bin fill { $place }

## notebook

notebook-line = { $file }, mstari { $line }: { $reason }
notebook-more = na { $count } zaidi
notebook-known =
    { $count ->
        [one] mstari { $count } ulikuwa tayari kwenye daftari
       *[other] mistari { $count } ilikuwa tayari kwenye daftari
    }
notebook-asked =
    { $count ->
        [one] mstari { $count } si wa kawaida, kwa hiyo hakuna kilichoandikwa; kama ni sahihi, sema: --sure
       *[other] mistari { $count } si ya kawaida, kwa hiyo hakuna kilichoandikwa; kama ni sahihi, sema: --sure
    }
notebook-undo = Kurudisha yote: { $command }
notebook-refused =
    { $count ->
        [one] mstari { $count } hauwezi kupokelewa, kwa hiyo hakuna kilichoandikwa
       *[other] mistari { $count } haiwezi kupokelewa, kwa hiyo hakuna kilichoandikwa
    }
notebook-written =
    { $count ->
        [one] ingizo { $count } limeandikwa
       *[other] maingizo { $count } yameandikwa
    }
notebook-tried =
    { $count ->
        [one] ingizo { $count } lingeandikwa
       *[other] maingizo { $count } yangeandikwa
    }

## leave: a place that an entry leaves without animals

leave-ask = { $place } itabaki bila wadudu. Je, ni tupu, ili onyo lisitoke hapo tena? y/N
leave-stays = { $place } haina wadudu kwa mujibu wa daftari na inabaki inalindwa. Kama ni tupu: { $command }

## sheet: the paper of a week

sheet-when = lini
sheet-where = wapi
sheet-what = nini
sheet-amount = kiasi
sheet-use = matumizi
sheet-to = kwenye trei
sheet-note = maelezo
sheet-by = na nani
sheet-eggs = mayai
sheet-hatch = kuanguliwa
sheet-feed = chakula
sheet-harvest = mavuno
sheet-prepupae = mabuu weusi
sheet-residue = mabaki
sheet-dead = nzi waliokufa
sheet-sold = imeuzwa
sheet-breeding = uzazi
sheet-title = { $farm }: wiki kuanzia { $first } hadi { $last }
sheet-explain_where = { $where }: { $places }; au jina la kundi
sheet-explain_what = { $what }: { $words }. Andika kiasi pamoja na kipimo: 12.4 g, 4.2 kg, 80 %; chakula pamoja na unyevu wake: 2 kg 70 %.
sheet-explain_use = { $use }: { $uses }. { $to }: mahali mayai yanapowekwa yaanguliwe.
sheet-explain_import = Ikiandikwa kwenye jedwali la kompyuta chini ya vichwa hivi na kuhifadhiwa kama CSV: { $command }
sheet-written = { $file } imeandikwa: wiki kuanzia { $first }. Ichapishe, au ijaze.
