# Yanayokataliwa na daftari na amri zake. Jina ni sentensi ya Kiingereza.

s-800-g-2-kg-1-5-l-or-300-ml =
    800 g, 2 kg, 1.5 l au 300 ml
s-70-or-0-7 =
    70 % au 0.7
s-60-x-40-cm-0-24-m2-or-40-cm-round-for-a-bucket =
    60 x 40 cm, 0.24 m2, au 40 cm round kwa ndoo
s-8-cm-80-mm-or-0-08-m =
    8 cm, 80 mm au 0.08 m
s-3-kg-at-12-800-g-12-or-7-l-for-water =
    3 kg at 12 %, 800 g 12 %, au 7 l kwa maji
now-14-30-yesterday-18-00-monday-7-00-8-oct-18-00-8-october-2026-2-hours-ago-2026-11-25-14-30-or-2026-11-25t14-30-02-00 =
    sasa, 14:30, jana 18:00, jumatatu 7:00, 8 Okt 18:00, 8 Oktoba 2026, saa 2 zilizopita, 2026-11-25 14:30 au 2026-11-25T14:30+02:00
name-can-be-several-places-write-one-of-places =
    { $name } inaweza kuwa sehemu kadhaa; andika moja ya: { $places }
text-date-is-another-day-of-the-week-correct-one-of-the-two =
    { $text }: { $date } ni siku nyingine ya wiki; sahihisha mojawapo
s-30-min-2-h-1-h-30-min-or-3-days =
    30 min, 2 h, 1 h 30 min au 3 days
text-many-or-few-write-many-or-few =
    { $text }: { $many } au { $few }? andika { $many } au { $few }
text-is-no-whole-number-allowed-such-as-2500-or-10-000 =
    { $text } si namba kamili; inaruhusiwa: kama 2500 au 10 000
# uncertain
text-is-no-part-of-a-sample-allowed-such-as-37-of-50 =
    { $text } si sehemu ya sampuli; inaruhusiwa: kama 37 of 50 (37 kati ya 50)
text-is-neither-yes-nor-no-allowed-yes-no-on-off =
    { $text } si ndiyo wala hapana; inaruhusiwa: ndiyo, hapana, on, off
name-reason =
    { $name }: { $reason }
text-is-no-number-allowed-such-as-2500-or-2-5 =
    { $text } si namba; inaruhusiwa: kama 2500 au 2.5
text-is-no-amount-that-is-understood-allowed-allowed =
    { $text } si kiasi kinachoeleweka; inaruhusiwa: { $allowed }
text-has-no-unit-grams-or-kilograms-allowed-allowed =
    { $text } haina kipimo; ni gramu au kilo? inaruhusiwa: { $allowed }
text-is-nothing-allowed-more-than-0-such-as-examples =
    { $text } si kitu; inaruhusiwa: zaidi ya 0, kama { $examples }
text-is-no-moisture-that-is-understood-allowed-allowed =
    { $text } si unyevu unaoeleweka; inaruhusiwa: { $allowed }
text-cannot-be-a-moisture-allowed-between-0-and-100-such-as-examples =
    { $text } haiwezi kuwa unyevu; inaruhusiwa: kati ya 0 na 100 %, kama { $examples }
text-is-a-surface-of-area-m2-allowed-0-001-to-100-m2-such-as-examples =
    { $text } ni eneo la { $area } m2; inaruhusiwa: 0.001 hadi 100 m2, kama { $examples }
text-is-no-size-that-is-understood-allowed-allowed =
    { $text } si ukubwa unaoeleweka; inaruhusiwa: { $allowed }
text-is-no-depth-that-is-understood-allowed-allowed =
    { $text } si kina kinachoeleweka; inaruhusiwa: { $allowed }
text-is-length-m-allowed-up-to-2-m-such-as-examples =
    { $text } ni { $length } m; inaruhusiwa: hadi 2 m, kama { $examples }
text-is-not-understood-allowed-allowed =
    { $text } haieleweki; inaruhusiwa: { $allowed }
text-says-no-moisture-allowed-allowed =
    { $text } haisemi unyevu; inaruhusiwa: { $allowed }
text-is-no-time-that-is-understood-allowed-allowed =
    { $text } si wakati unaoeleweka; inaruhusiwa: { $allowed }
text-is-no-length-of-time-allowed-allowed =
    { $text } si muda; inaruhusiwa: { $allowed }
a-number-from-low-to-high =
    namba kuanzia { $low } hadi { $high }
a-number-above-low-to-high =
    namba zaidi ya { $low } hadi { $high }
a-whole-number-from-low-to-high =
    namba kamili kuanzia { $low } hadi { $high }
a-whole-number-above-low-to-high =
    namba kamili zaidi ya { $low } hadi { $high }
a-number =
    namba
true-or-false =
    true (kweli) au false (si kweli)
their-number-above-0 =
    idadi yao, zaidi ya 0
the-name-of-a-cohort =
    jina la kundi
none-here-leave-it-out =
    hakuna hapa; liache
name-is-value-allowed-allowed =
    { $name } ni { $value }; inaruhusiwa: { $allowed }
name-is-missing-allowed-allowed =
    { $name } inakosekana; inaruhusiwa: { $allowed }
kind-is-no-kind-of-entry-allowed-known =
    { $kind } si aina ya ingizo; inaruhusiwa: { $known }
the-size-is-missing-say-it-once-such-as-size-60-x-40-cm =
    ukubwa unakosekana; useme mara moja, kama --size '60 x 40 cm'
place-cannot-be-filled-allowed-allowed =
    { $place } haiwezi kujazwa; inaruhusiwa: { $allowed }
it-was-not-filled-before-that-enter-bin-fill-first-with-its-time =
    halikuwa limejazwa kabla ya hapo; andika kwanza `bin fill`, na wakati wake
it-was-emptied-on-time-and-not-filled-since-enter-bin-fill-first =
    lilimwagwa { $time } na halijajazwa tangu hapo; andika kwanza `bin fill`
it-has-been-filled-since-time-enter-bin-empty-first-or-bin-feed-for-feed-put-on-top =
    limejazwa tangu { $time }; andika kwanza `bin empty`, au `bin feed` kwa chakula kilichoongezwa juu
name-is-no-name-for-a-cohort-allowed-up-to-40-letters-digits-dots-dashes-underscores =
    { $name } si jina la kundi; inaruhusiwa: hadi alama 40, herufi, tarakimu, nukta, vistari, mistari ya chini
there-is-a-cohort-name-already-choose-another-name =
    tayari kuna kundi { $name }; chagua jina jingine
there-is-no-cohort-name-at-that-time-known-then-known =
    hakuna kundi { $name } wakati huo; yaliyojulikana wakati huo: { $known }
none-yet =
    hakuna bado
name-ended-on-time-how-nothing-can-happen-to-it-after-that =
    { $name } lilikwisha { $time } ({ $how }); hakuna kinachoweza kulitokea baada ya hapo
time-is-before-its-start-start =
    { $time } ni kabla ya kuanza kwake ({ $start })
it-has-lived-in-place-since-time-already =
    tayari liko katika { $place } tangu { $time }
it-came-to-place-only-at-time =
    lilifika { $place } { $time } tu
say-how-many-a-number-of-animals-or-a-share-in-percent-one-of-the-two =
    sema wangapi: idadi ya wadudu au sehemu kwa asilimia, mojawapo
percent-is-100-allowed-above-0-and-below-100-to-take-all-move-the-cohort =
    asilimia ni 100; inaruhusiwa: zaidi ya 0 na chini ya 100. Kuchukua wote, hamisha kundi
it-has-about-count-animals-and-taken-of-them-cannot-be-taken-say-a-share =
    lina wadudu { $count } hivi na { $taken } kati yao hawawezi kutolewa; sema sehemu
its-number-is-not-known-so-say-which-share-was-taken-out-in-percent =
    idadi yake haijulikani, kwa hiyo sema sehemu gani ilitolewa, kwa asilimia
a-cohort-cannot-be-merged-with-itself =
    kundi haliwezi kuunganishwa na lenyewe
their-lives-began-days-days-apart-so-their-flies-come-out-days-apart-allowed-up-to-most-days-keep-both-two-cohorts-may-live-in-one-place =
    maisha yao yalianza siku { $days } tofauti, kwa hiyo nzi wao watatoka siku tofauti; inaruhusiwa: hadi siku { $most }. Weka yote mawili: makundi mawili yanaweza kuishi sehemu moja
it-began-as-stage-so-event-cannot-be-seen-of-it =
    lilianza kama { $stage }, kwa hiyo { $event } haiwezi kuonekana kwake
it-began-as-start-stage-cannot-be-counted-in-it =
    lilianza kama { $start }; { $stage } hawawezi kuhesabiwa ndani yake
event-was-entered-already-for-time-cohort-correct-changes-that-entry =
    { $event } tayari imeandikwa, kwa { $time }; `cohort correct` inabadilisha ingizo hilo
event-on-time-cannot-come-after-other-which-was-seen-on-other-time =
    { $event } { $time } haiwezi kuja baada ya { $other }, iliyoonekana { $other_time }
flies-were-entered-for-time-already-cohort-correct-changes-that-entry =
    nzi wameandikwa tayari kwa { $time }; `cohort correct` inabadilisha ingizo hilo
time-lies-ahead-now-now-allowed-times-that-are-past =
    { $time } bado haijafika (sasa: { $now }); inaruhusiwa: wakati uliopita
time-is-past-a-planned-move-lies-ahead-for-a-move-that-was-made-leave-planned-out =
    { $time } imepita; uhamisho uliopangwa ni wa baadaye. Kwa uhamisho uliokwisha kufanyika acha --planned
subject-reason-nothing-was-written =
    { $subject }: { $reason }. Hakuna kilichoandikwa
subject-then-entries-nothing-was-written =
    { $subject }: basi { $entries }. Hakuna kilichoandikwa
entry-number-kind-of-other-time-could-not-be-reason =
    ingizo { $number } ({ $kind } la { $other }, { $time }) lisingewezekana: { $reason }
cohorts-lives-in-it-already-are-these-its-larvae-say-so-cohort-first-did-they-come-on-top-give-them-a-name-cohort-start-name-place-stage-larva =
    { $cohorts } tayari wako ndani; kama hawa ni mabuu wake, sema: --cohort { $first }. Kama wameongezwa, wape jina: `cohort start NAME { $place } --stage larva`
cohorts-live-in-it-say-whose-larvae-they-are-cohort-first =
    { $cohorts } wako ndani; sema ni mabuu wa nani: --cohort { $first }
cohort-has-known-animals-so-count-of-it-cannot-be-put-in-where-it-was-counted-wrong-enter-the-right-number-first-cohort-count-cohort-animals-number =
    { $cohort } lina wadudu { $known }, kwa hiyo { $count } wake hawawezi kuwekwa; kama lilihesabiwa vibaya, andika kwanza idadi sahihi: `cohort count { $cohort } --animals NUMBER`
cohort-does-not-live-in-it-so-it-cannot-stay =
    { $cohort } halimo ndani yake, kwa hiyo haliwezi kubaki
place-its-said-larvae-have-become-the-cohort-cohorts-if-they-are-those-of-another-or-for-a-better-name-bin-correct-entry-cohort-name =
    { $place }: mabuu wake { $said } wamekuwa kundi { $cohorts }. Kama ni wa kundi jingine, au kwa jina bora: `bin correct { $entry } --cohort NAME`
place-cohorts-had-no-number-so-the-said-larvae-of-the-filling-count-now-to-put-it-right-command =
    { $place }: { $cohorts } halikuwa na idadi, kwa hiyo mabuu { $said } wa kujaza wanahesabiwa sasa. Kusahihisha: `{ $command }`
place-the-filling-said-said-larvae-and-its-cohorts-cohorts-counted-animals-counted-count-now-to-put-it-right-command =
    { $place }: kujaza kulisema mabuu { $said } na makundi yake ({ $cohorts }) wadudu { $counted }; { $counted } wanahesabiwa sasa. Kusahihisha: `{ $command }`
names-of-cohorts =
    majina ya makundi
the-logbook-has-no-entry-number-about-a-subject-command-lists-the-numbers =
    daftari halina ingizo { $number } kuhusu { $subject }; `{ $command }` inaonyesha namba
cohort =
    kundi
bin =
    pipa
entry-number-was-corrected-already-by-entry-newer-correct-that-one-nothing-was-written =
    ingizo { $number } tayari limesahihishwa na ingizo { $newer }; sahihisha hilo. Hakuna kilichoandikwa
entry-number-withdraws-another-enter-anew-what-was-withdrawn =
    ingizo { $number } linafuta jingine; andika upya kilichofutwa
entry-number-kind-cannot-be-corrected-here =
    ingizo { $number } ({ $kind }) haliwezi kusahihishwa hapa
the-logbook-has-no-entry-number-nothing-was-written =
    daftari halina ingizo { $number }; hakuna kilichoandikwa
entry-number-is-about-old-not-about-new-nothing-was-written =
    ingizo { $number } ni la { $old }, si la { $new }; hakuna kilichoandikwa
the-bin-bin =
    pipa { $bin }
the-cohort-cohort =
    kundi { $cohort }
the-place-place =
    sehemu { $place }
the-board-node =
    kifaa { $node }
first-and-second-allowed-in-the-first-line-known =
    { $first } na { $second }; inaruhusiwa kwenye mstari wa kwanza: { $known }
problem-allowed-in-the-first-line-known =
    { $problem }; inaruhusiwa kwenye mstari wa kwanza: { $known }
the-columns-columns-are-missing =
    safu { $columns } zinakosekana
the-columns-columns-are-not-known =
    safu { $columns } hazijulikani
it-has-more-cells-than-the-first-line-has-names =
    ina visanduku vingi kuliko majina ya mstari wa kwanza
columns-is-empty =
    { $columns } ni tupu
subject-reason =
    { $subject }: { $reason }
entry-number-could-then-not-be-reason =
    ingizo { $number } lisingewezekana tena: { $reason }
file-is-not-utf-8-text-save-it-as-csv-in-utf-8 =
    { $file } si maandishi ya UTF-8; ihifadhi kama CSV kwa UTF-8
file-cannot-be-read-why =
    { $file } haisomeki: { $why }
file-cannot-be-written-why =
    { $file } haiandikiki: { $why }
name-is-no-place-in-the-settings-known-known =
    { $name } si sehemu ya mipangilio; zinazojulikana: { $known }
name-is-no-place-in-the-settings-do-you-mean-near =
    { $name } si sehemu ya mipangilio; ulimaanisha "{ $near }"?
place-is-a-kind-which-is-not-filled-allowed-allowed =
    { $place } ni { $kind }, ambayo haijazwi; inaruhusiwa: { $allowed }
there-is-no-cohort-name-cohort-list-all-shows-every-one =
    hakuna kundi { $name }; `cohort list --all` inaonyesha yote
there-is-no-cohort-name-do-you-mean-near =
    hakuna kundi { $name }; ulimaanisha "{ $near }"?
give-what-is-right-a-time-with-at-or-both-or-withdraw-alone =
    toa kilicho sahihi, wakati kwa --at, au vyote viwili; au --withdraw peke yake
that-is-water-alone-say-the-dry-material-too-allowed =
    hayo ni maji peke yake; sema pia kitu kikavu: { $allowed }
age-needs-the-number-of-larvae-larvae-number-or-cohort-name =
    --age inahitaji idadi ya mabuu: --larvae NUMBER, au --cohort NAME
the-box-alone-box-is-as-heavy-as-the-whole-whole-check-the-two-weights =
    chombo peke yake ({ $box }) ni kizito kama vyote ({ $whole }); angalia vipimo viwili
what-cannot-be-a-value-of-kind-bin-kind-help-shows-what-can =
    { $what } haiwezi kuwa thamani ya `{ $kind }`; `bin { $kind } --help` inaonyesha zinazoweza
what-is-more-than-one-value-quote-what-has-spaces =
    { $what } ni zaidi ya thamani moja; weka alama za nukuu kwenye yenye nafasi
give-one-of-a-moisture-wet-with-dry-or-squeeze =
    toa moja: unyevu, --wet pamoja na --dry, au --squeeze
wet-and-dry-belong-together-a-handful-before-and-after-the-oven =
    --wet na --dry huenda pamoja: konzi moja kabla na baada ya oveni
dry-dry-is-not-below-wet-wet-a-handful-loses-weight-in-the-oven =
    kavu ({ $dry }) si chini ya mbichi ({ $wet }); konzi hupungua uzito kwenye oveni
place-is-not-filled-there-is-nothing-to-draw =
    { $place } haijajazwa; hakuna cha kuchora
until-must-lie-after-at-and-not-ahead-nothing-was-written =
    --until lazima iwe baada ya --at na isiwe ya baadaye; hakuna kilichoandikwa
give-one-of-animals-flies-and-eggs =
    toa moja ya --animals, --flies na --eggs
the-stage-of-cohort-is-not-known-now-say-it-with-stage =
    hatua ya { $cohort } haijulikani sasa; iseme kwa --stage
set-change-is-not-understood-allowed-key-value-such-as-animals-3000 =
    --set { $change } haieleweki; inaruhusiwa: KEY=VALUE, kama animals=3000
from-15-minutes-to-hours-hours =
    kuanzia dakika 15 hadi saa { $hours }
minutes-minutes-is-no-time-for-which-it-can-be-put-aside-allowed-allowed =
    dakika { $minutes } si muda wa kuweka kando; inaruhusiwa: { $allowed }
name-is-not-in-the-settings-known-known =
    { $name } haipo kwenye mipangilio; zinazojulikana: { $known }
nothing-was-written =
    hakuna kilichoandikwa
subject-no-place-is-without-animals-by-that-so-none-is-empty-nothing-was-written =
    { $subject }: hakuna sehemu inayobaki bila wadudu kwa hilo, kwa hiyo hakuna iliyo tupu. Hakuna kilichoandikwa
odd-nothing-was-written-if-it-is-empty-all-the-same-say-so-sure =
    { $odd }
    Hakuna kilichoandikwa. Kama ni tupu hata hivyo, sema: --sure
what-is-neither-the-number-of-an-entry-nor-an-import-logbook-list-shows-both =
    { $what } si namba ya ingizo wala ya daftari la karatasi; `logbook list` inaonyesha vyote
reasons-nothing-was-written =
    { $reasons }
    Hakuna kilichoandikwa
questions-nothing-was-written-if-it-is-right-all-the-same-say-so-sure =
    { $questions }
    Hakuna kilichoandikwa. Kama ni sahihi hata hivyo, sema: --sure
number-what-and-known-animals-are-known-of-they-do-not-become-more =
    { $what } { $number }, na wadudu { $known } wanajulikana; hawaongezeki
kg-kg-weighed-and-held-kg-at-most-are-in-it-by-the-book-nothing-becomes-heavier-where-water-or-feed-was-put-in-enter-that-first =
    kg { $kg } zimepimwa, na kg { $held } zaidi kabisa zimo kwa mujibu wa daftari; hakuna kinachoongezeka uzito. Kama maji au chakula kiliwekwa, andika hicho kwanza
kg-kg-taken-out-and-held-kg-at-most-are-in-it-by-the-book =
    kg { $kg } zimetolewa, na kg { $held } zaidi kabisa zimo kwa mujibu wa daftari
what-days-days-after-stage-even-at-the-best-temperature-that-takes-about-fastest-days =
    { $what } siku { $days } baada ya { $stage }: hata kwa joto bora huchukua siku { $fastest } hivi
flies =
    nzi
eggs =
    mayai
animals =
    wadudu
kg-kg-weighed-and-held-kg-were-put-in-so-little-of-it-is-left =
    kg { $kg } zimepimwa, na kg { $held } ziliwekwa; imebaki kidogo hivyo?
that-was-days-days-ago =
    hiyo ilikuwa siku { $days } zilizopita
grams-g-of-eggs-are-about-count-animals-up-to-most-g-at-once-are-usual =
    g { $grams } za mayai ni wadudu { $count } hivi; hadi g { $most } kwa mara moja ni kawaida
count-larvae-on-surface-m-are-each-on-each-cm-up-to-most-are-believable =
    mabuu { $count } kwenye { $surface } m² ni { $each } kwa kila cm²; hadi { $most } inaaminika
grams-g-of-eggs-weigh-more-than-the-flies-flies-that-laid-them-where-there-are-more-enter-their-number-first =
    g { $grams } za mayai ni nzito kuliko nzi { $flies } waliotaga; kama ni wengi zaidi, andika idadi yao kwanza
grams-g-of-count-animals-are-each-mg-each-up-to-most-mg-are-known =
    g { $grams } za wadudu { $count } ni mg { $each } kila mmoja; hadi mg { $most } inajulikana
kg-kg-on-surface-m-would-stand-depth-cm-deep-even-as-heavy-as-water-usual-cm-are-usual-most-cm-are-the-most =
    kg { $kg } kwenye { $surface } m² zingekuwa na kina cha cm { $depth } hata zikiwa nzito kama maji; cm { $usual } ni kawaida, cm { $most } ni mwisho
kg-litres-into-held-kg-would-make-it-percent-water-up-to-most-are-believable =
    lita { $kg } ndani ya kg { $held } zingeifanya iwe maji { $percent } %; hadi { $most } % inaaminika
value-key-is-times-times-the-usual-usual =
    { $value } { $key } ni mara { $times } ya kawaida { $usual }
grams-g-of-eggs-from-flies-flies-if-all-were-females-they-would-lay-most-g =
    g { $grams } za mayai kutoka nzi { $flies }; kama wote wangekuwa majike wangetaga g { $most }
the-logbook-has-no-entry-number-logbook-list-lists-them =
    daftari halina ingizo { $number }; `logbook list` inayaonyesha
no-entry-of-run-counts-logbook-list-shows-the-imports =
    hakuna ingizo la { $run } linalohesabiwa; `logbook list` inaonyesha madaftari ya karatasi
place-is-no-love-cage-allowed-allowed =
    { $place } si kizimba cha nzi; vinavyoruhusiwa: { $allowed }
cohort-began-as-stage-so-no-eggs-are-added-to-it =
    { $cohort } lilianza kama { $stage }, kwa hiyo mayai hayaongezwi kwake
their-number-or-their-weight-in-grams =
    idadi yao, au uzito wao kwa gramu
say-in-which-tray-they-hatch-trays =
    sema yataanguliwa kwenye trei gani: { $trays }
any-text =
    maandishi yoyote
a-share-or-a-weight-is-said-of-hatch-alone-not-of-event =
    sehemu au uzito husemwa kwa `hatch` tu, si kwa { $event }
dead-flies =
    nzi waliokufa
grams-g-of-dead-flies-and-flies-flies-are-known-of-more-than-they-weigh =
    gramu { $grams } za nzi waliokufa, na nzi wanaojulikana ni { $flies }: ni zaidi ya uzito wao
grams-g-of-eggs-from-a-cage-that-holds-flies-flies-more-than-they-weigh-meant-g =
    gramu { $grams } za mayai kutoka kizimba chenye nzi { $flies }: ni zaidi ya uzito wao; gramu { $meant }?
grams-g-of-eggs-out-of-one-cage-up-to-most-g-at-once-are-usual-meant-g =
    gramu { $grams } za mayai kutoka kizimba kimoja; kwa kawaida ni hadi gramu { $most } kwa mara moja; gramu { $meant }?
kg-kg-of-mean-mg-each-are-count-larvae-and-known-are-known-of =
    kilo { $kg } za mg { $mean } kila mmoja ni mabuu { $count }, na wanaojulikana ni { $known }
kg-kg-taken-out-and-held-kg-at-most-are-in-it-by-the-book-meant-kg =
    kilo { $kg } zilitolewa, na kwa daftari ndani kuna kilo { $held } tu; kilo { $meant }?
mean-mg-each-on-the-mean-up-to-most-mg-are-known =
    mg { $mean } kila mmoja kwa wastani; inajulikana hadi mg { $most }
no-cohort-of-eggs-is-in-place-set-eggs-to-hatch-there-first-eggs-cage-amount-to-place-or-cohort-start-name-place-stage-egg =
    hakuna kundi la mayai ndani ya { $place }; kwanza weka mayai yaanguliwe hapo: `eggs CAGE AMOUNT --to { $place }`, au `cohort start NAME { $place } --stage egg`
several-cohorts-of-eggs-are-in-place-say-which-cohorts =
    makundi kadhaa ya mayai yako ndani ya { $place }; sema lipi: { $cohorts }
sold-and-to-do-not-go-together-enter-what-was-sold-and-what-was-set-apart =
    --sold na --to haviendi pamoja; andika kando yaliyouzwa na yaliyowekwa yaanguliwe
the-same-was-entered-as-entry-number-already-once-more =
    jambo hilo hilo limeandikwa tayari kama ingizo { $number }; mara nyingine tena?
young-g-of-young-larvae-from-eggs-g-of-eggs-they-weigh-about-what-their-eggs-did =
    gramu { $young } za mabuu wachanga kutoka gramu { $eggs } za mayai: uzito wao ni karibu sawa na wa mayai yao
file-ends-in-neither-html-nor-csv =
    { $file } haiishii kwa .html wala .csv
write-the-cohort-of-eggs-in-place-that-hatched-there-are-cohorts =
    andika kundi la mayai la { $place } lililoanguliwa; yaliyopo: { $cohorts }
# uncertain
what-days-days-after-stage-of-which-percent-were-behind-them-even-at-the-best-temperature-the-rest-takes-about-fastest-days =
    { $what } siku { $days } baada ya { $stage }, ambapo asilimia { $percent } ilikuwa imeshapita: hata kwa joto bora, sehemu iliyobaki huchukua siku { $fastest } hivi
day-cannot-be-promised-allowed-is-today-first-to-last =
    { $day } haiwezi kuahidiwa: inaruhusiwa kuanzia leo ({ $first }) hadi { $last }
