# Maneno ya ukurasa kwa Kiswahili. Neno lililo ndani ya {mabano} huwekwa na programu: liache lilivyo.
#
# No native speaker has read this language yet. Where the translator was not sure stands "# uncertain".
#
# The same word for the same thing, in all files of this folder:
#   larvae             mabuu (living: "mabuu wamekufa"); not "funza", which is also the jigger flea that bites people
#   eggs, to hatch     mayai, kuanguliwa
#   prepupae           mabuu weusi: what the farmer sees, larvae that turned dark
#   pupae              pupa (as schoolbooks write it)
#   flies              nzi
#   animals            wadudu: all stages together
#   place              sehemu (one or many, the same word)
#   room               chumba, vyumba
#   love cage          kizimba cha nzi, vizimba (as for fish in cages)
#   hatching tray      trei ya kuangulia
#   grow-out bin       pipa, mapipa
#   pupation box       boksi la pupa
#   cohort             kundi, makundi: animals that began together
#   substrate          lishe: what is in the bin and in which larvae live   # uncertain
#   feed               chakula
#   bran               pumba
#   moisture, humidity unyevu, unyevu wa hewa
#   dry, wet           kavu, maji mengi
#   temperature, heat  joto
#   limit              kikomo, vikomo
#   alarm              onyo, maonyo
#   acknowledged       limeonwa (somebody has said: nimeona)
#   put aside          limewekwa kando
#   to guard           kulinda, ulinzi
#   board              kifaa, vifaa: the device that carries the sensors
#   sensor, probe      kihisi, vihisi
#   reading            kipimo, vipimo
#   broker             broker: the program's own name for it, as in English
#   the monitor        programu
#   settings           mipangilio
#   message            ujumbe, jumbe
#   logbook, entry     daftari, ingizo, maingizo
#   copy, archive      nakala, hifadhi ya nje   # uncertain
#   water, weigh, stir maji, uzito, koroga
#   spread, harvest    tandaza, vuna
#
# Times of day are always in figures on the 24-hour clock, "14:30"; "saa 2" is a length, two hours, never a
# time of day, since in speech it would be eight o'clock.


## format

format-list = { ", " }
format-quoted = “{ $text }”
format-colon = { ":" }
format-clauses = { "; " }

## length

length-moment = sekunde chache
length-minutes = dk { $count }
length-hours = saa { $count }
# uncertain: "mwaka 1 uliopita" would be right, "zilizopita" agrees with saa, dk, siku and wiki alone
length-ago = { $at } ({ $length } zilizopita)
length-weeks = wiki { $count }
length-years =
    { $count ->
        [one] mwaka { $count }
       *[other] miaka { $count }
    }
length-days = siku { $count }

## unit

unit-RH = %
unit-min = dk
# uncertain: stands after its number, "12 saa", where one would say "saa 12"
unit-h = saa

## value

value-none = hakuna kipimo
value-span = { $low } hadi { $high }
value-doubtful = cha mashaka
value-index = Namba ya kihisi
value-no_moisture = ni namba tu, si unyevu
value-not_since = hakijasikika tangu { $at }
value-broken = kihisi kinaonyesha kisichowezekana

## base

base-skip = Nenda kwenye yaliyomo
base-parts = Sehemu za ukurasa
base-more = Zaidi
base-invented = Mfano wa majaribio

## part

part-now = Sasa
part-night = Usiku
part-alarms = Maonyo
part-nodes = Vifaa
part-me = Wewe

## role

role-visitor = mgeni
role-helper = msaidizi
role-owner = mmiliki

## state

state-high = Chukua hatua sasa
state-medium = Chukua hatua mapema
state-low = Iangalie
state-beyond = Nje ya kikomo
state-unknown = Haijulikani
state-unguarded = Hailindwi
state-fine = Sawa
state-empty = Tupu
state-over = Limekwisha
state-shelved = Limewekwa kando
state-out_of_service = Limezimwa
state-normal = Hali ya kawaida

## kind

kind-room = Chumba
kind-love_cage = Kizimba cha nzi
kind-hatching_tray = Trei ya kuangulia
kind-grow_out_bin = Pipa la mabuu
kind-pupation_box = Boksi la pupa

## quantity

quantity-air_temperature = Joto la hewa
quantity-air_humidity = Unyevu wa hewa
quantity-substrate_temperature = Joto la lishe
quantity-substrate_moisture = Unyevu wa lishe
# uncertain
quantity-surface_temperature = Joto la ukuta
quantity-light = Mwanga
quantity-battery = Betri
# uncertain
quantity-carbon_dioxide = Kaboni dioksidi
quantity-ammonia = Amonia
quantity-vapour_pressure_deficit = Nguvu ya hewa kukausha
# uncertain
quantity-dew_point = Joto la umande
quantity-substrate_excess = Joto la lishe kuzidi hewa ya chumba
quantity-condensation_margin = Nafasi kabla ya umande
quantity-minutes_to_overheating = Muda kabla ya joto kuzidi
quantity-hours_to_dry = Muda kabla ya kuwa kavu mno
quantity-silent_minutes = Ukimya
quantity-dead_sensor_minutes = Muda bila kipimo kizuri
quantity-silent_node_share = Kiasi cha vifaa vilivyo kimya
quantity-unheard_nodes = Vifaa ambavyo havijasikika bado
quantity-store_fault = Hitilafu ya hifadhidata
quantity-broker_way_fault = Njia kupitia broker
quantity-archive_lag_hours = Ucheleweshaji wa hifadhi ya nje
quantity-copy_age_hours = Umri wa nakala nzuri ya mwisho
quantity-copy_behind_hours = Muda mrefu zaidi wa mahali kusubiri nakala
quantity-unsent_message_minutes = Umri wa ujumbe ambao haujatumwa

## short

short-air_temperature = Hewa
short-air_humidity = Unyevu hewa
short-substrate_temperature = Lishe
short-substrate_moisture = Unyevu
short-surface_temperature = Ukuta
short-light = Mwanga

## way

way-rising = inapanda
way-falling = inashuka
way-steady = haibadiliki

## asked

command-done = Imefanyika.
command-waiting = Imeombwa. Programu haijajibu bado; angalia tena baada ya muda mfupi.
command-refused = Haikufanyika: { $why }
command-not_on_disk = Bado haijaandikwa kwenye diski: hifadhidata haipokei kitu kwa sasa, na programu ikiwashwa upya itasahau.

## span

span-24h = Saa 24
span-7d = Siku 7
span-30d = Siku 30
span-year = Mwaka

## chart

chart-nothing = Hakuna vipimo kwa muda huu.
chart-lowest = Chini kabisa { $value }, { $at }.
chart-highest = Juu kabisa { $value }, { $at }.
chart-safe = Nzuri kuanzia { $low } hadi { $high }.
chart-safe_above = Nzuri juu ya { $low }.
chart-safe_below = Nzuri chini ya { $high }.

## key

key-safe = kiwango kizuri
key-night = usiku
key-mark = onyo lilikuja

## journal

journal-by = na { $who }
journal-nothing = Bado hakuna kitu.

## login

login-heading = Ingia
login-name = Jina lako
login-name_explained = Litaonekana kando ya unachoona na unachoandika.
login-password = Neno la siri
login-do = Ingia
login-wrong = Neno la siri si sahihi.
login-too_often = Umekosea neno la siri mara nyingi mno. Jaribu tena baada ya { $length }.

## me

me-who = Umeingia kama { $name } ({ $role }).
me-who_unnamed = Umeingia kama { $role }.
me-preferences = Unavyotaka ukurasa uwe
me-language = Lugha
me-language_unread = { $language }: hakuna mzungumzaji wa lugha hii aliyeisoma bado. Tuambie kinachosikika vibaya.
me-language_wrong = Chagua moja ya lugha zilizopo.
me-unit = Joto kwa
me-keep = Hifadhi
me-helpers = Wasaidizi
me-helpers_explained = Msaidizi huona kila kitu, husema ameona na huandika, lakini habadilishi mipangilio.
me-helpers_on = Wasaidizi wanaweza kuingia.
me-helpers_off = Wasaidizi hawawezi kuingia bado.
me-helpers_password = Neno jipya la siri la wasaidizi (tupu: hakuna anayeweza kuingia)
me-helpers_keep = Badilisha
me-password_short = Neno la siri linahitaji angalau herufi { $least }.
me-password_guessed = Neno hili la siri ni kati ya yale yanayojaribiwa kwanza. Tumia maneno manne yasiyohusiana.
me-password_own = Wape wasaidizi neno tofauti na lako: aliye nalo ndiye mmiliki.
me-out = Kutoka
me-end_heading = Simu imepotea
me-end_explained = Vipindi vyote vya jina hilo vinaisha, kwenye kila simu na kompyuta; kinachosubiri kwenye simu hiyo hakiwezi kupelekwa. Anayejua neno la siri anaweza kuingia tena: weka neno jipya pia.
me-end_name = Jina
me-end_do = Maliza vipindi vyote vya mtu huyu
me-end_whose = Sema vipindi vya nani viishe.
me-ended = Vipindi vyote vya { $who } vimeisha.
me-log_out = Toka
me-phone = Ukurasa huu kwenye simu: msimbo wa QR na hatua
me-invite = Simu ya msaidizi
me-invite_explained = Kiungo kinachoingiza simu moja kama msaidizi, mara moja, bila nenosiri.
me-invite_do = Tengeneza kiungo
me-invite_copy = Nakili kiungo
me-invite_copied = Kimenakiliwa

## link

link-not_valid = Kiungo hiki hakifanyi kazi tena: kimetumika, au muda wake umekwisha. Ingia uone hali ya sasa.
link-no_alarm = Onyo la kiungo hiki halipo tena kwenye mipangilio.
link-nothing_to_do = Hakuna la kuthibitisha: onyo limeonwa, au limekwisha, au limekuja upya tangu hapo.
link-to_page = Nenda kwenye ukurasa

## once

once-heading = Kutoka simu yako
once-changed = Fomu hii ilishapelekwa, { $at }, ikiwa na maneno mengine. Kilichoandikwa wakati ule kinabaki; hiki hakikuandikwa. Kama ni kitu kingine, fungua fomu upya.
once-see = Ona kilichoandikwa
once-phone_clock = Saa ya simu yako na ya kifuatiliaji zinatofautiana zaidi ya siku moja. Kwa saa ya kifuatiliaji hiki kilifanywa { $at }. Ni kweli?
once-waited_long = Hiki kimesubiri muda mrefu sana kwenye simu yako: kilifanywa { $at }. Angalia kwenye daftari kama kipo tayari. Kiandikwe?
# uncertain
once-clock_set = Saa ya simu yako ilirekebishwa wakati hiki kikisubiri. Kwa kinachojulikana kilifanywa { $at }. Ni kweli?

## phone

phone-waiting = Kinachosubiri kwenye simu hii
phone-gone = Hakuna mtandao. Unachoona ni cha muda uliopita: { $age }.
phone-count = Kinachosubiri kwenye simu hii: { $count }.
phone-of = Kutoka kwa { $who }, { $at }
phone-log_in = Kitapelekwa { $who } akiingia.
phone-asks = Kuna swali.
phone-kept = Kimehifadhiwa kwenye simu hii, kitapelekwa mtandao ukirudi: { $what }
phone-not_sent = Hakuna mtandao: hakuna kilichotumwa. Ulichoandika bado kipo; jaribu tena.
phone-no_page = Hakuna mtandao: ukurasa ule hauwezi kufunguliwa sasa. Huu unaendelea.
phone-answer = Jibu
phone-edit = Badilisha
phone-delete = Futa
phone-sure = Ufute kinachosubiri? { $what }
phone-leave = Bado hakijapelekwa: { $count }. Kinabaki kwenye simu hii hadi uingie tena hapa. Utoke hata hivyo?
phone-back = Mtandao umerudi. Unachoona bado ni cha muda uliopita: { $age }.
# uncertain
phone-keeps_nothing = Kivinjari hiki hakihifadhi kitu (dirisha la faragha, au nafasi imejaa): bila mtandao huwezi kuandika hapa.
phone-twice = Kitu hicho hicho kinasubiri tayari, tangu { $at }. Kihifadhiwe mara nyingine?
phone-maybe = Huenda kimeshafika: angalia kwenye daftari.
phone-no_answer = Hakuna jibu: huenda kimefika. Tuma tena, kitaandikwa mara moja tu.

## problem

problem-heading = Haikufanikiwa
problem-elsewhere = Fomu hii haikutoka kwenye ukurasa huu, kwa hiyo hakuna kilichofanyika. Fungua ukurasa wenyewe ujaribu tena.
problem-form = Fomu hii ni ya zamani mno au haikutoka kwenye ukurasa huu, kwa hiyo hakuna kilichofanyika. Rudi nyuma, fungua ukurasa upya, ujaribu tena.
problem-owner = Mmiliki peke yake ndiye anaweza kufanya hivi. Hakuna kilichobadilishwa.
owner-only_place = Mmiliki anaweza kuweka mahali hapa kando na kusema kwamba ni patupu.
owner-only_alarm = Mwenye shamba anaweza kuweka kando sehemu na maonyo kwa muda, na kuyarudisha: wakati huo hakuna anayeonywa.
owner-only_me = Mmiliki anaweza kuwapa wasaidizi neno la siri na kumaliza vipindi vya mtu.
problem-usage = Hilo haliwezekani.
problem-store = Hifadhidata haiwezi kutumika kwa sasa. Programu inaendelea kwa kumbukumbu; endesha rearing-monitor check kwenye kompyuta yake.
problem-not_here = Hakuna ukurasa kama huo.
problem-not_so = Ukurasa huu hauwezi kuombwa kwa njia hiyo.
problem-back = Rudi mwanzo

## reach

reach-heading = Ukurasa huu kwenye simu
reach-own = Kwa anwani iliyosimbwa, ukurasa unaweza kusakinishwa, na kurasa ulizoziona hufunguka bila mtandao. Kwa hilo simu lazima ijue cheti cha shamba (CA), mara moja tu. Fanya hivi ukiwa kwenye Wi-Fi ya shamba.
reach-get_ca = 1. Cheti cha shamba
reach-ca_file = Pakua cheti
reach-fingerprint = Alama yake ya SHA-256, kama `rearing-monitor page setup` inavyoonyesha pia:
reach-ca_caution = Kwa cheti hiki simu huamini chochote ambacho kompyuta ya shamba inadhamini. Kisakinishe kutoka shamba lako tu, na kiondoe kwenye simu inayoondoka shambani.
reach-android = Kwenye Android
reach-android_1 = Gusa “Pakua cheti” hapo juu. Simu ikitaka kukisakinisha mara moja, endelea na hatua ya 3.
reach-android_2 = Fungua Mipangilio, tafuta “CA certificate”, na uichague (mara nyingi chini ya Usalama, Usimbaji na stakabadhi, Sakinisha cheti).
reach-android_3 = Gusa “Sakinisha tu”, kisha chagua faili farm-ca.crt kati ya vilivyopakuliwa. Simu isiyo na kufuli la skrini itaomba liwekwe.
reach-iphone = Kwenye iPhone na iPad
reach-iphone_1 = Katika Safari, gusa “Pakua cheti” hapo juu na uruhusu kupakua wasifu.
reach-iphone_2 = Fungua Settings, gusa “Profile Downloaded” (au General, VPN & Device Management), kisha Install.
reach-iphone_3 = Fungua Settings, General, About, Certificate Trust Settings, na uwashe cheti cha shamba.
reach-untried = Hatua hizi zimeandikwa kwa kumbukumbu; bado hakuna aliyezijaribu kwenye simu na programu hii. Majina kwenye mipangilio hutofautiana kati ya simu.
reach-then = 2. Fungua ukurasa uliosimbwa
reach-install = Usakinishe
reach-install_android = Android, katika Chrome: menyu (nukta tatu), kisha “Add to Home screen” au “Install app”.
reach-install_iphone = iPhone na iPad, katika Safari: Share, kisha “Add to Home Screen”.
reach-plain = Anwani hii haijasimbwa: ukurasa unafanya kazi na hutunza unachoandika ukiwa umefunguliwa, lakini vivinjari haviruhusu usakinishwe wala kufunguliwa bila mtandao. Mmiliki hubadilisha hilo kwa `rearing-monitor page setup` kwenye kompyuta ya shamba.
reach-another = Simu nyingine
reach-scan_start = Kwa simu ambayo haina cheti bado, hii hufungua hatua hizi. Elekeza kamera yake hapa:
reach-scan_page = Hii hufungua ukurasa. Elekeza kamera ya simu hapa:
reach-qr_start = Msimbo wa QR wa hatua hizi
reach-qr_page = Msimbo wa QR wa ukurasa
reach-no_connection = Hakuna mtandao
reach-not_kept = Ukurasa huu haujawahi kufunguliwa kwenye simu hii, kwa hiyo hauwezi kuonyeshwa sasa. Utapakiwa mara mtandao utakaporudi.

## join

join-qr_title = Msimbo wa QR wa kiungo cha msaidizi
join-scan = Simu ya msaidizi mmoja hufungua hii na huingia. Kiungo hufanya kazi mara moja, hadi { $until }.
join-secret = Anayekifungua kwanza ndiye msaidizi wako. Usimwonyeshe mtu mwingine.
join-paste = Au tuma kiungo:
join-heading = Karibu
join-explained = Kwa kiungo hiki unaingia kwenye simu hii kama msaidizi. Kinafanya kazi mara moja.
join-do = Anza
join-name_needed = Sema jina lako, ili wengine waone nani aliandika nini.
join-not_valid = Kiungo hiki kimeisha: kimetumika, ni cha zamani mno, au hakijakamilika. Mwombe mmiliki kipya.

push-acknowledged = Imeandikwa: umeliona.
push-not_acknowledged = Haikuweza kuandikwa kwamba umeliona: ukurasa wa shamba haujibu kutoka hapa. Onyo bado linasubiri.
push-more = Mengine yako kwenye ukurasa.
push-heading = Jumbe kwenye simu hii
push-explained = Maonyo na ripoti ya usiku huja kwenye skrini ya simu hii, hata ukurasa ukiwa umefungwa. Ukigusa, mahali hufunguka.
push-never_alone = Hupitia intaneti na huduma ya mtengenezaji wa simu: bila intaneti shambani au kwenye simu, hakuna kinachokuja. Usitegemee hizi peke yake; uwe na njia nyingine pia, na king’ora bandani.
push-needs_https = Anwani hii haijasimbwa, na vivinjari huruhusu ukurasa uliosimbwa tu kupokea jumbe. Mmiliki hubadilisha hilo kwenye kompyuta ya shamba kwa `rearing-monitor page setup`; kisha fungua anwani iliyosimbwa kwenye simu hii.
push-needs_library = Programu inayosimba jumbe hizi haijasakinishwa kwenye kompyuta ya shamba. Mmiliki huisakinisha kwa `{ $command }` na kuanzisha upya programu ya ufuatiliaji.
push-needs_people = Mipangilio haitaji mtu yeyote wa kuambiwa. Mmiliki huongeza jedwali [[recipients]] lenye jina na anwani kwenye farm.toml; `{ $address }` ni ukurasa huu peke yake.
push-needs_scripts = Hii inahitaji hati (scripts), na zimezimwa kwenye kivinjari hiki.
push-for_whom = Jumbe za
push-turn_on = Washa jumbe kwenye simu hii
push-turned_on = Zimewashwa. Tuma jaribio hapa chini, uone kama linakuja.
push-turned_off = Zimezimwa: simu hii haipati jumbe tena.
push-this_phone = Simu hii: jumbe zimewashwa. Ukitoka, zinakoma.
push-again = Shamba halijui simu hii tena. Washa jumbe tena.
push-cannot = Kivinjari hiki hakiwezi kupokea jumbe.
push-iphone = Kwenye iPhone au iPad, kwanza weka ukurasa kwenye skrini ya mwanzo (Share, kisha “Add to Home Screen”), na uufungue kutoka hapo.
push-denied = Kivinjari hiki kimeambiwa kisioneshe jumbe za ukurasa huu. Ruhusu arifa katika mipangilio ya kivinjari au ya simu, kisha fungua ukurasa huu tena.
push-no_service = Huduma ya mtengenezaji wa simu haijibu. Angalia kama simu hii ina intaneti, na ujaribu tena.
push-people = Nani huambiwa, na vipi
push-by_address = kwa anwani iliyo kwenye mipangilio ({ $kind })
push-alone = { $name } huambiwa kwa simu zenye ukurasa huu peke yake. Bila intaneti hakuna kinachokuja, na data ya kivinjari ikifutwa, jumbe hukoma kimya kimya. Mpe { $name } njia nyingine pia katika farm.toml.
push-alone_without = Bado hakuna simu inayopokea jumbe za { $name }, kwa hiyo { $name } haambiwi chochote.
push-gone = { $device }: haipokei jumbe tena tangu { $at }. Ziwashe tena juu yake.
push-device_android = Simu ya Android
push-device_iphone = iPhone au iPad
push-device_computer = Kompyuta
push-since = tangu { $at }
push-turned_on_by = zimewashwa na { $name }
push-last = ujumbe wa mwisho { $at }
push-test = Tuma jaribio
push-end = Komesha jumbe hapa
push-whose = Sema simu hii ipate jumbe za nani.
push-too_many = Simu nyingi mno hupokea jumbe tayari. Komesha zile zisizotumika tena.
push-unknown = Simu hii haipokei jumbe tena.
push-not_yours = Mmiliki tu, au aliyewasha jumbe hapo, anaweza kufanya hivyo.
push-phones =
    { $count ->
        [one] simu { $count }
       *[other] simu { $count }
    }
push-failures =
    { $count ->
        [one] ujumbe { $count } haukupokelewa tangu hapo
       *[other] jumbe { $count } hazikupokelewa tangu hapo
    }
