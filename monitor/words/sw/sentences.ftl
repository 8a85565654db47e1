# Sentensi za kanuni, na sababu za maonyo. Jina ni sentensi ya Kiingereza.

larvae-crawl-out-near-46-to-48-c-they-are-knocked-down-and-die =
    Mabuu wanatoka nje. Karibu na 46 hadi 48 °C wanalegea na kufa.
spread-or-split-the-substrate-so-that-it-is-shallow-stir-it-and-blow-air-over-it-do-not-feed-until-it-is-below-40-c =
    Tandaza au gawanya lishe iwe nyembamba, ikoroge, na uipulizie hewa. Usilishe hadi iwe chini ya 40 °C.
growth-stands-still-and-the-bin-may-go-on-to-the-heat-that-kills =
    Mabuu hawakui, na pipa linaweza kufika joto linaloua.
look-at-the-bin-stir-it-make-it-shallower-and-give-it-more-air-hold-the-next-feed-back =
    Angalia pipa: koroga, lifanye liwe na kina kidogo, na ulipe hewa zaidi. Usilishe kwanza.
prepupae-pupae-and-eggs-cannot-leave-the-heat-they-die-or-no-fly-emerges =
    Mabuu weusi, pupa na mayai hawawezi kukimbia joto: wanakufa, au hakuna nzi atakayetoka.
spread-the-substrate-so-that-it-is-shallow-and-move-the-bin-to-the-coolest-place-blow-air-over-it =
    Tandaza lishe iwe nyembamba, na uhamishe pipa mahali penye baridi zaidi. Lipulizie hewa.
when-it-lasts-hardly-any-of-these-animals-becomes-a-fly =
    Ikidumu, karibu hakuna mdudu kati ya hawa atakayekuwa nzi.
move-the-bin-to-a-cooler-place-make-it-shallower-and-give-it-more-air =
    Hamisha pipa mahali penye baridi zaidi, punguza kina chake, na ulipe hewa zaidi.
at-the-present-trend-the-bin-comes-to-its-high-limit-before-you-can-react-to-it =
    Kwa mwendo wa sasa pipa litafika kikomo cha juu kabla hujaweza kuchukua hatua.
eggs-and-hatchlings-cannot-leave-the-heat-they-dry-out-and-die =
    Mayai na mabuu wachanga hawawezi kukimbia joto: wanakauka na kufa.
move-the-tray-to-the-coolest-shelf-turn-the-heat-mat-off-and-wet-the-cloth =
    Weka trei kwenye rafu yenye baridi zaidi, zima mkeka wa joto, na lowesha kitambaa.
keep-fans-leads-and-plugs-dry-and-off-the-wet-floor-if-a-heater-feeds-this-bin-unplug-it-first =
    Weka feni, waya na plagi zikiwa kavu na mbali na sakafu yenye maji. Kama hita inapasha pipa hili, ichomoe kwanza.
keep-fans-leads-and-plugs-dry-and-off-the-wet-floor =
    Weka feni, waya na plagi zikiwa kavu na mbali na sakafu yenye maji.
larvae-eat-little-growth-takes-far-longer-and-uneaten-feed-spoils =
    Mabuu wanakula kidogo, kukua kunachukua muda mrefu zaidi, na chakula kisicholiwa kinaoza.
cover-the-bin-close-draughts-and-move-it-to-a-warmer-spot-check-that-the-larvae-are-still-feeding =
    Funika pipa, ziba upepo, na ulihamishe mahali penye joto zaidi. Angalia kama mabuu bado wanakula.
use-only-a-heater-with-its-own-cut-out-clear-of-bedding-and-dust-a-licensed-electrician-decides-on-wiring =
    Tumia tu hita inayojizima yenyewe, mbali na matandiko na vumbi. Fundi umeme mwenye leseni ndiye anayeamua kuhusu nyaya.
go-to-the-bin-now-stir-it-spread-it-blow-air-over-it-and-hold-the-next-feed-back =
    Nenda kwenye pipa sasa: koroga, tandaza, lipulizie hewa, na usilishe kwanza.
the-substrate-falls-below-its-dry-limit-before-the-next-round-larvae-stop-growing =
    Lishe itashuka chini ya kikomo cha ukavu kabla ya mzunguko ujao. Mabuu wataacha kukua.
add-water-in-small-portions-and-stir-it-in-stop-before-water-pools-at-the-bottom =
    Ongeza maji kidogo kidogo na uyakoroge ndani. Acha kabla maji hayajatuama chini.
too-dry-to-feed-in-larvae-stop-growing =
    Ni kavu mno kwa kula. Mabuu wanaacha kukua.
squeeze-a-handful-to-confirm-if-no-drop-comes-add-water-in-small-portions-and-stir-it-in =
    Kamua konzi moja kuhakikisha. Kama hakuna tone, ongeza maji kidogo kidogo na uyakoroge ndani.
too-wet-no-air-at-the-bottom-larvae-climb-out-and-harvest-cannot-be-sieved =
    Maji mengi mno: hakuna hewa chini, mabuu wanapanda nje, na mavuno hayawezi kuchekechwa.
mix-in-dry-bran-stir-and-leave-the-cover-open-drain-water-that-stands-at-the-bottom =
    Changanya pumba kavu, koroga, na uache kifuniko wazi. Mwaga maji yaliyotuama chini.
flies-and-young-larvae-die-and-bins-in-this-air-overheat =
    Nzi na mabuu wachanga wanakufa, na mapipa kwenye hewa hii yanapata joto kali.
open-doors-and-vents-start-the-fan-shade-the-roof-and-give-the-flies-water =
    Fungua milango na matundu ya hewa, washa feni, weka kivuli kwenye paa, na uwape nzi maji.
heat-harms-people-too-drink-and-do-not-work-here-alone-unplug-heaters-before-anything-else =
    Joto huumiza watu pia: kunywa maji, na usifanye kazi hapa peke yako. Chomoa hita kabla ya kitu kingine chochote.
above-this-hardly-any-animal-reaches-the-adult-stage-when-it-lasts =
    Juu ya hapa karibu hakuna mdudu anayefika kuwa nzi, ikidumu.
open-vents-start-the-fan-shade-the-roof-and-look-at-the-bins-for-heat =
    Fungua matundu ya hewa, washa feni, weka kivuli kwenye paa, na uangalie kama mapipa yana joto.
keep-fans-leads-and-plugs-dry =
    Weka feni, waya na plagi zikiwa kavu.
flies-stop-laying-eggs-and-young-larvae-stop-developing-and-begin-to-die =
    Nzi wanaacha kutaga, mayai na mabuu wachanga wanaacha kukua na wanaanza kufa.
close-doors-and-vents-cover-cages-and-bins-and-see-whether-the-heater-runs =
    Funga milango na matundu ya hewa, funika vizimba na mapipa, na uangalie kama hita inafanya kazi.
never-use-an-open-flame-in-a-closed-room-if-a-heater-or-its-breaker-is-off-find-out-why-before-you-switch-it-on =
    Kamwe usitumie moto wazi ndani ya chumba kilichofungwa. Kama hita au swichi yake imezimika, tafuta sababu kabla ya kuiwasha.
everything-develops-more-slowly-and-few-flies-mate =
    Kila kitu kinakua polepole zaidi, na nzi wachache hupandana.
close-draughts-at-dusk-and-set-the-heating-earlier-if-this-comes-back-each-night =
    Ziba upepo jioni, na uanze kupasha joto mapema kama hii inarudi kila usiku.
flies-live-shorter-and-the-eggs-that-they-lay-dry-out =
    Nzi wanaishi muda mfupi, na mayai wanayotaga yanakauka.
mist-the-cage-lightly-refill-the-water-and-wet-the-floor-of-the-room =
    Nyunyizia kizimba maji kidogo kama ukungu, jaza maji tena, na lowesha sakafu ya chumba.
keep-mist-away-from-sockets-lamps-and-plugs =
    Weka maji ya kunyunyizia mbali na soketi, taa na plagi.
the-air-is-bad-for-people-who-work-in-it-and-the-room-lacks-fresh-air =
    Hewa ni mbaya kwa watu wanaofanya kazi ndani, na chumba kinakosa hewa safi.
open-doors-and-vents-before-you-go-in-and-stay-out-until-it-has-fallen =
    Fungua milango na matundu ya hewa kabla ya kuingia, na ukae nje hadi ishuke.
feeling-dizzy-or-short-of-breath-leave-at-once-a-cheap-sensor-never-proves-that-a-room-is-safe =
    Ukisikia kizunguzungu au kukosa pumzi: toka mara moja. Kihisi cha bei rahisi hakithibitishi kamwe kwamba chumba ni salama.
ammonia-burns-eyes-and-lungs-of-people-and-tells-of-substrate-that-rots =
    Amonia huchoma macho na mapafu ya watu, na huonyesha lishe inayooza.
open-doors-and-vents-before-you-go-in-then-find-the-bin-that-smells-dry-it-with-bran-and-stir-it =
    Fungua milango na matundu ya hewa kabla ya kuingia. Kisha tafuta pipa linalonuka, likaushe kwa pumba, na ulikoroge.
people-get-used-to-the-smell-smell-is-not-a-monitor-and-a-cheap-sensor-never-proves-that-a-room-is-safe =
    Watu huzoea harufu: pua si kipimo, na kihisi cha bei rahisi hakithibitishi kamwe kwamba chumba ni salama.
eggs-dry-out-and-do-not-hatch =
    Mayai yanakauka na hayaanguliwi.
wet-the-cloth-or-the-bran-beneath-the-eggs-cover-the-tray-and-close-the-draught-do-not-spray-the-eggs-themselves =
    Lowesha kitambaa au pumba chini ya mayai, funika trei, na uzibe upepo. Usinyunyizie mayai yenyewe.
keep-water-away-from-heat-mats-sockets-and-plugs =
    Weka maji mbali na mikeka ya joto, soketi na plagi.
fewer-eggs-hatch =
    Mayai machache zaidi yanaanguliwa.
wet-the-cloth-or-the-bran-beneath-the-eggs-and-cover-the-tray =
    Lowesha kitambaa au pumba chini ya mayai, na ufunike trei.
eggs-and-hatchlings-dry-out-and-die =
    Mayai na mabuu wachanga wanakauka na kufa.
move-the-tray-to-a-cooler-shelf-turn-the-heat-mat-down-and-wet-the-cloth =
    Weka trei kwenye rafu yenye baridi zaidi, punguza mkeka wa joto, na lowesha kitambaa.
unplug-the-mat-before-you-touch-it-with-wet-hands =
    Chomoa mkeka kabla ya kuugusa kwa mikono yenye maji.
hatching-is-late-and-eggs-stay-longer-at-risk-of-drying-and-mould =
    Kuanguliwa kunachelewa, na mayai yanakaa muda mrefu zaidi katika hatari ya kukauka na ukungu.
move-the-tray-to-a-warmer-shelf-close-the-draught-and-see-whether-the-heat-mat-works =
    Weka trei kwenye rafu yenye joto zaidi, ziba upepo, na uangalie kama mkeka wa joto unafanya kazi.
warm-and-dry-together-draw-water-from-the-eggs-even-where-humidity-alone-looks-fair =
    Joto na ukavu pamoja hunyonya maji ya mayai, hata pale unyevu peke yake unapoonekana sawa.
wet-the-cloth-beneath-the-eggs-and-cover-the-tray-or-lower-its-temperature =
    Lowesha kitambaa chini ya mayai na ufunike trei, au punguza joto lake.
drops-form-on-the-lid-or-wall-and-fall-on-eggs-and-hatchlings-mould-follows =
    Matone yanajitokeza kwenye kifuniko au ukuta na kuangukia mayai na mabuu wachanga; ukungu hufuata.
lift-the-lid-a-little-wipe-it-dry-and-keep-the-tray-off-the-cold-wall =
    Inua kifuniko kidogo, kifute kikauke, na weka trei mbali na ukuta baridi.
pupae-die-hardly-any-fly-emerges-when-this-lasts =
    Pupa wanakufa: karibu hakuna nzi atakayetoka ikidumu.
move-the-box-to-the-coolest-dark-place-open-its-cover-and-give-it-air =
    Hamisha boksi mahali penye giza na baridi zaidi, fungua kifuniko chake, na ulipe hewa.
fewer-flies-emerge =
    Nzi wachache zaidi wanatoka.
move-the-box-to-a-cooler-place-and-keep-it-shaded =
    Hamisha boksi mahali penye baridi zaidi, na uliweke kivulini.
emergence-is-late =
    Nzi wanachelewa kutoka.
move-the-box-to-a-warmer-place-and-close-the-draught =
    Hamisha boksi mahali penye joto zaidi, na uzibe upepo.
use-only-a-heater-with-its-own-cut-out-clear-of-dry-bedding-and-dust =
    Tumia tu hita inayojizima yenyewe, mbali na matandiko makavu na vumbi.
pupae-dry-out-and-flies-emerge-with-crumpled-wings-or-not-at-all =
    Pupa wanakauka, na nzi wanatoka na mabawa yaliyokunjamana au hawatoki kabisa.
mist-the-medium-lightly-and-cover-the-box-damp-is-enough-wet-brings-mould =
    Nyunyizia matandiko maji kidogo kama ukungu na ufunike boksi. Unyevu kidogo unatosha, maji mengi huleta ukungu.
power-or-network-has-probably-failed-most-nodes-fell-silent-within-three-minutes-fans-and-heaters-may-be-off-too-and-nothing-is-watched-until-it-is-back =
    Huenda umeme au mtandao umekatika: vifaa vingi vilinyamaza ndani ya dakika tatu. Feni na hita pia huenda zimezimika, na hakuna kinachoangaliwa hadi urudi.
go-and-look-whether-the-rooms-have-power-if-they-do-look-at-the-network-box-then-check-the-bins-and-trays-by-hand =
    Nenda uangalie kama vyumba vina umeme. Kama vina, angalia kisanduku cha mtandao; kisha kagua mapipa na trei kwa mkono.
do-not-open-a-board-or-a-plug-that-is-wet-mains-supply-is-work-for-a-licensed-electrician =
    Usifungue kifaa au plagi yenye maji. Umeme wa nyumba ni kazi ya fundi umeme mwenye leseni.
readings-are-not-being-kept-alarms-go-on-from-memory-but-a-restart-would-forget-them =
    Vipimo havihifadhiwi. Maonyo yanaendelea kwa kumbukumbu, lakini programu ikiwashwa upya itasahau.
run-rearing-monitor-check-on-the-computer-it-says-whether-the-disk-is-full-or-the-file-damaged-and-how-to-mend-it =
    Endesha `rearing-monitor check` kwenye kompyuta: inasema kama diski imejaa au faili imeharibika, na jinsi ya kurekebisha.
messages-do-not-reach-anybody-the-sounder-and-this-computer-still-tell =
    Jumbe hazimfikii mtu yeyote. King'ora na kompyuta hii bado vinaonya.
look-whether-the-internet-works-if-it-does-run-rearing-monitor-send-test-and-read-what-it-says =
    Angalia kama intaneti inafanya kazi. Kama inafanya, endesha `rearing-monitor send-test` na usome inachosema.
nothing-that-was-written-since-the-last-good-copy-would-be-left-if-this-computer-or-its-memory-card-failed =
    Chochote kilichoandikwa tangu nakala nzuri ya mwisho kingepotea kama kompyuta hii au kadi yake ya kumbukumbu ingeharibika.
see-whether-the-stick-or-disk-for-the-copies-is-plugged-in-and-has-room-then-run-rearing-monitor-backup-on-the-computer-it-says-what-is-wrong =
    Angalia kama flashi au diski ya nakala imechomekwa na ina nafasi. Kisha endesha `rearing-monitor backup` kwenye kompyuta: inasema tatizo ni nini.
one-place-for-copies-has-had-none-for-days-if-the-others-were-lost-together-with-this-computer-nothing-that-was-written-since-would-be-left =
    Mahali pamoja pa nakala hapajapata nakala kwa siku kadhaa. Kama pengine pangepotea pamoja na kompyuta hii, chochote kilichoandikwa tangu hapo kingepotea.
run-rearing-monitor-backup-on-the-computer-it-says-which-place-it-is-and-what-is-wrong-there =
    Endesha `rearing-monitor backup` kwenye kompyuta: inasema ni mahali gani na tatizo ni nini hapo.
the-archive-does-not-have-all-readings-nothing-is-lost-they-are-kept-on-this-computer =
    Hifadhi ya nje haina vipimo vyote. Hakuna kilichopotea: vimehifadhiwa kwenye kompyuta hii.
see-whether-the-archive-server-runs-and-the-network-reaches-it-rearing-monitor-nodes-shows-its-last-answer =
    Angalia kama seva ya hifadhi ya nje inafanya kazi na mtandao unaifikia; `rearing-monitor nodes` inaonyesha jibu lake la mwisho.
nobody-is-watching-what-this-node-measures =
    Hakuna anayeangalia kinachopimwa na kifaa hiki.
look-at-its-supply-its-lead-and-its-light-if-it-lives-look-at-the-network-until-it-is-back-check-the-place-by-hand =
    Angalia umeme wake, waya wake na taa yake. Kama kiko hai, angalia mtandao; hadi kirudi, kagua sehemu kwa mkono.
nobody-is-watching-what-this-sensor-measures-the-rest-of-the-board-still-sends =
    Hakuna anayeangalia kinachopimwa na kihisi hiki; sehemu nyingine za kifaa bado zinatuma.
look-at-the-probe-and-its-cable-pulled-out-wet-bitten-or-loose-until-it-is-mended-check-the-place-by-hand =
    Angalia kihisi na waya wake: umetolewa, umelowa, umetafunwa au umelegea. Hadi kirekebishwe, kagua sehemu kwa mkono.
the-node-will-fall-silent-within-days =
    Kifaa kitanyamaza ndani ya siku chache.
change-or-charge-its-battery-on-the-next-round =
    Badilisha au chaji betri yake kwenye mzunguko ujao.
use-a-cell-of-the-type-that-the-holder-names-and-do-not-charge-one-that-is-swollen-or-warm =
    Tumia betri ya aina iliyotajwa na kishikio, na usichaji iliyovimba au yenye joto.
the-feed-beneath-the-eggs-falls-below-its-dry-limit-hatchlings-dry-out-first =
    Chakula chini ya mayai kinashuka chini ya kikomo cha ukavu. Mabuu wachanga hukauka kwanza.
sprinkle-water-beside-the-eggs-not-on-them-in-small-portions =
    Nyunyizia maji kando ya mayai, si juu yake, kidogo kidogo.
a-low-alarm-is-acknowledged-by-clearing =
    onyo dogo huonwa kwa kwisha
the-place-is-suppressed-by-design =
    sehemu imezuiwa kwa makusudi
its-shelf-still-runs =
    muda wake wa kuwekwa kando bado haujaisha
still-out-of-limits =
    bado iko nje ya kikomo
it-was-said-that-no-animals-are-in-it =
    ilisemwa kwamba hakuna wadudu ndani
farm-toml-says-that-no-animals-are-in-it =
    farm.toml inasema kwamba hakuna wadudu ndani
if-animals-are-in-it-nobody-is-warned-when-they-get-too-hot-or-too-dry =
    Kama kuna wadudu ndani, hakuna atakayeonywa wakipata joto kali au ukavu.
look-into-it-if-animals-are-in-it-say-so-on-the-page-of-the-place-or-place-in-use =
    Angalia ndani. Kama kuna wadudu, sema: kwenye ukurasa wa sehemu, au `place in-use`.
the-board-was-put-aside-for-a-while =
    kifaa kiliwekwa kando kwa muda
the-place-was-put-aside-for-a-while =
    sehemu iliwekwa kando kwa muda
the-bin-is-finishing-and-meant-to-dry =
    pipa linamalizika na linapaswa kukauka
its-setpoint-was-changed-or-its-place-newly-filled-a-short-while-ago =
    kikomo chake kilibadilishwa au sehemu yake ilijazwa upya muda mfupi uliopita
the-place-is-in-use =
    sehemu inatumika
the-high-limit-itself-is-passed-and-its-own-alarm-stands =
    kikomo cha juu chenyewe kimepitwa, na onyo lake lenyewe lipo
one-alarm-about-power-or-network-stands-for-it =
    onyo moja kuhusu umeme au mtandao lipo badala yake
it-came-anew-after-it-was-looked-at-so-it-still-waits-to-be-acknowledged =
    limekuja upya baada ya kutazamwa, kwa hiyo bado linasubiri kuonwa
nothing-guards-what-these-boards-are-to-measure-they-have-never-been-heard =
    Hakuna kinacholinda kile ambacho vifaa hivi vinapaswa kupima. Havijawahi kusikika.
hang-them-up-and-give-them-power-or-take-out-of-the-settings-what-is-not-wanted-the-page-boards-shows-each-until-then-look-at-their-places-by-hand =
    Vitundike na uvipe umeme, au ondoa kwenye mipangilio visivyohitajika. Ukurasa wa Vifaa unaonyesha kila kimoja. Hadi hapo angalia sehemu zao mwenyewe.
it-was-never-heard-one-alarm-names-all-such-boards =
    hakijawahi kusikika; onyo moja linataja vifaa vyote vya namna hiyo
the-logbook-says-that-the-bin-is-finishing-and-meant-to-dry =
    daftari linasema kwamba pipa linamalizika na linapaswa kukauka
the-bin-is-in-use =
    pipa linatumika
the-reading-is-marked-suspect =
    kipimo kimewekwa alama ya mashaka
not-known-when-it-sent-while-the-monitor-was-away-the-time-of-arrival-was-used =
    haijulikani kilituma lini programu ilipokuwa haipo; wakati wa kufika umetumika
