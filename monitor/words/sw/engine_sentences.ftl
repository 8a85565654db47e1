# Makosa ya broker, ukurasa na hifadhidata yanayoonekana kwenye ukurasa au kwenye ujumbe. Jina ni sentensi ya Kiingereza.

the-broker-refused-the-user-name-or-password =
    broker ilikataa jina la mtumiaji au neno la siri
the-broker-has-banned-this-client =
    broker imezuia programu hii
the-broker-says-that-it-is-not-available-now =
    broker inasema haipatikani sasa
the-broker-says-that-it-is-busy =
    broker inasema ina kazi nyingi
nothing-answers-at-where-error-is-the-broker-running-and-are-host-and-port-right =
    hakuna kinachojibu huko { $where }: { $error }; je, broker inafanya kazi, na host na port ni sahihi?
the-connection-to-the-broker-was-lost-reason =
    muunganisho na broker ulikatika: { $reason }
the-connection-to-the-broker-was-lost =
    muunganisho na broker ulikatika
the-broker-refused-the-connection-reason =
    broker ilikataa muunganisho: { $reason }
the-broker-did-not-answer-within-seconds-seconds =
    broker haikujibu ndani ya sekunde { $seconds }
too-many-messages-wait-this-one-stays-in-the-broker =
    jumbe nyingi mno zinasubiri; huu unabaki kwenye broker
the-service-stops-it-is-copied-after-the-next-start =
    programu inasimama; nakala itafanywa ikiwashwa tena
there-is-no-recipient-recipient-the-settings-name-known =
    hakuna mpokeaji '{ $recipient }'; mipangilio inataja { $known }
there-is-no-alarm-alarm-rearing-monitor-alarms-lists-those-that-are-active =
    hakuna onyo '{ $alarm }'; `rearing-monitor alarms` inaonyesha yanayoendelea
nobody =
    hakuna mtu
an-alarm-that-is-state-cannot-take-the-event-event-nothing-was-changed =
    onyo lililo { $state } haliwezi kupokea tukio { $event }; hakuna kilichobadilishwa
the-books-of-the-bin-do-not-close-water-water-kg-where-water-due-kg-should-be-dry-matter-dry-kg-where-dry-due-kg-should-be =
    hesabu za pipa hazilingani: maji kg { $water } badala ya kg { $water_due }, kikavu kg { $dry } badala ya kg { $dry_due }
path-what-error-to-mend-remedy =
    { $path }: { $what } ({ $error }). Kurekebisha: { $remedy }.
free-some-room-on-that-disk-old-backups-first-or-move-the-database-to-a-larger-one-nodes-and-broker-keep-their-readings-meanwhile-and-the-service-goes-on-by-itself =
    ongeza nafasi kwenye diski hiyo (nakala za zamani kwanza) au hamisha hifadhidata kwenye kubwa zaidi; vifaa na broker vinaweka vipimo vyao kwa muda huo na programu itaendelea yenyewe
the-disk-has-no-room-left =
    diski haina nafasi tena
another-program-holds-the-database =
    programu nyingine inashikilia hifadhidata
close-the-other-program-that-has-this-file-open-then-try-again =
    funga programu nyingine iliyofungua faili hii, kisha jaribu tena
the-database-refused =
    hifadhidata ilikataa
report-this-text-to-whoever-maintains-the-monitor =
    mpe maandishi haya anayetunza programu
the-database-file-is-damaged =
    faili ya hifadhidata imeharibika
this-file-is-not-a-database =
    faili hii si hifadhidata
give-another-file-in-store-path-or-put-this-one-back-from-a-backup =
    toa faili nyingine kwenye [store] path, au rudisha hii kutoka nakala
the-database-cannot-be-opened =
    hifadhidata haifunguki
the-database-may-not-be-opened =
    hairuhusiwi kufungua hifadhidata
the-database-may-not-be-written-to =
    hairuhusiwi kuandika kwenye hifadhidata
the-disk-does-not-read-or-write-this-file =
    diski haisomi wala kuandika faili hii
look-at-the-memory-card-or-disk-and-its-cable-copy-the-file-away-before-anything-else =
    angalia kadi ya kumbukumbu au diski na waya wake; nakili faili mahali pengine kabla ya kitu kingine
path-the-database-file-is-damaged-error-to-mend-remedy =
    { $path }: faili ya hifadhidata imeharibika ({ $error }). Kurekebisha: { $remedy }.
path-exists-already-nothing-was-written-to-mend-give-another-name =
    { $path } tayari ipo; hakuna kilichoandikwa. Kurekebisha: toa jina jingine.
the-folder-folder-does-not-exist-to-mend-create-it =
    folda { $folder } haipo. Kurekebisha: iunde.
folder-takes-the-copies-of-another-site-site-and-nothing-was-written-to-mend-give-each-site-a-folder-of-its-own =
    { $folder } hupokea nakala za shamba jingine ({ $site }), na hakuna kilichoandikwa. Kurekebisha: kila shamba lipe folda yake.
folder-was-not-prepared-for-copies-and-nothing-was-written-if-it-is-on-a-stick-or-disk-see-whether-that-is-plugged-in-and-mounted-if-it-is-the-right-folder-run-command =
    { $folder } haikuandaliwa kwa nakala, na hakuna kilichoandikwa. Kama iko kwenye flashi au diski, angalia kama imechomekwa na kuunganishwa. Kama ni folda sahihi, endesha: { $command }
the-folder-folder-does-not-exist-and-nothing-was-written-if-it-is-on-a-stick-or-disk-see-whether-that-is-plugged-in-and-mounted-else-create-it-then-run-command =
    folda { $folder } haipo, na hakuna kilichoandikwa. Kama iko kwenye flashi au diski, angalia kama imechomekwa na kuunganishwa; la sivyo iunde. Kisha endesha: { $command }
path-cannot-be-copied-why-to-mend-run-rearing-monitor-check =
    { $path } haiwezi kunakiliwa: { $why }. Kurekebisha: endesha `rearing-monitor check`.
path-cannot-be-read-why =
    { $path } haisomeki: { $why }
path-the-copy-does-not-hold-what-the-database-holds-tables-it-was-thrown-away-to-mend-try-again-when-it-happens-twice-use-another-stick-or-disk =
    { $path }: nakala haina kilichomo kwenye hifadhidata ({ $tables }); ilitupwa. Kurekebisha: jaribu tena; ikitokea mara mbili, tumia flashi au diski nyingine.
the-broker-refuses-what-this-program-sends-to-itself-and-no-board-is-heard-rights-checks =
    broker inakataa kinachotumwa na programu hii kwa yenyewe, na hakuna kifaa kinachosikika: ruhusa. { $checks }
the-broker-takes-what-boards-send-but-does-not-pass-it-on-topic-or-rights-checks =
    broker inapokea vinachotuma vifaa, lakini haipitishi: mada au ruhusa. { $checks }
the-broker-does-not-answer =
    broker haijibu
an-error-of-the-program-kind-its-log-tells-more =
    hitilafu ya programu ({ $kind }); kumbukumbu zake zinasema zaidi
the-monitor-itself-could-not-do-it-kind =
    programu yenyewe haikuweza kuifanya ({ $kind })
the-channel-broke-kind =
    njia ya kutuma ilivunjika ({ $kind })
a-phone-of-name-takes-messages-no-more-since-at-to-mend-open-the-page-on-it-choose-you-and-turn-on-messages-on-this-phone-again =
    simu moja ya { $name } haipokei jumbe tena, tangu { $at }. Suluhisho: fungua ukurasa juu yake, chagua Wewe, na uwashe tena jumbe kwenye simu hii.
host-cannot-be-reached-see-whether-the-internet-works =
    { $host } haifikiki; angalia kama intaneti inafanya kazi
host-did-not-take-it-answer-status =
    { $host } haikuupokea (jibu { $status })
host-does-not-answer =
    { $host } haijibu
host-says-that-this-phone-takes-messages-no-more =
    { $host } inasema simu hii haipokei jumbe tena
messages-to-phones-need-a-library-that-is-not-installed-to-mend-pip-install-package =
    jumbe kwa simu zinahitaji maktaba ya programu ambayo haijasakinishwa. Suluhisho: pip install { $package }
name-is-told-by-the-page-on-the-phone-alone-that-goes-over-the-internet-and-the-push-service-of-the-phone-s-maker-and-ends-without-a-word-when-the-page-s-data-are-deleted-give-name-another-way-as-well-an-address-in-place-of-webpush-phones-stay =
    { $name } huambiwa kwa ukurasa wa simu peke yake. Hilo hupitia intaneti na huduma ya mtengenezaji wa simu, na hukoma kimya kimya data ya ukurasa ikifutwa. Mpe { $name } njia nyingine pia: anwani mahali pa webpush://, simu hubaki.
name-is-told-nothing-no-phone-takes-messages-to-mend-open-the-page-over-https-on-the-phone-choose-you-and-turn-on-messages-on-this-phone =
    { $name } haambiwi chochote: hakuna simu inayopokea jumbe. Suluhisho: fungua ukurasa kwa HTTPS kwenye simu, chagua Wewe, na uwashe jumbe kwenye simu hii.
no-phone-takes-messages-yet-open-the-page-over-https-on-the-phone-choose-you-and-turn-on-messages-on-this-phone =
    bado hakuna simu inayopokea jumbe: fungua ukurasa kwa HTTPS kwenye simu, chagua Wewe, na uwashe jumbe kwenye simu hii
the-message-to-the-phone-could-not-be-encrypted =
    ujumbe kwa simu haukuweza kusimbwa
the-push-service-has-no-address-on-the-internet-so-nothing-is-sent-there-host-is-of-the-own-network =
    huduma ya jumbe haina anwani kwenye intaneti, kwa hiyo hakuna kinachotumwa huko: { $host } ni ya mtandao wa ndani
what-the-browser-says-of-its-push-service-cannot-be-used-turn-it-on-again =
    kile kivinjari kinachosema kuhusu huduma yake ya jumbe hakiwezi kutumika; ziwashe jumbe tena
stop-the-service-then-go-on-from-the-newest-backup-rearing-monitor-restore-folder-it-keeps-the-damaged-file-beside-it-when-it-happens-twice-replace-the-memory-card-or-disk =
    simamisha programu, kisha endelea kutoka nakala mpya zaidi: `rearing-monitor restore FOLDA` (faili iliyoharibika inabaki kando yake); ikitokea mara mbili, badilisha kadi ya kumbukumbu au diski
path-written-by-version-version-of-this-program-and-this-is-version-own-schema-found-this-one-knows-known-nothing-was-changed-to-mend-install-version-version-or-a-newer-one-back =
    { $path }: imeandikwa na toleo { $version } la programu hii, na hili ni toleo { $own } (muundo { $found }; hili linajua { $known }). Hakuna kilichobadilishwa. Suluhisho: sakinisha toleo { $version } au jipya zaidi. { $back }
a-copy-from-before-the-update-will-do-too-what-was-written-since-is-not-in-it =
    Nakala ya kabla ya sasisho inafaa pia; kilichoandikwa tangu hapo hakimo.
to-stay-with-this-version-instead-put-copy-in-its-place-what-was-written-since-the-update-is-not-in-it =
    Ili kubaki na toleo hili, weka { $copy } mahali pake; kilichoandikwa tangu sasisho hakimo.
path-the-monitor-that-runs-on-it-process-number-is-still-the-older-version-and-nothing-was-changed-to-mend-start-it-again-such-as-sudo-systemctl-restart-rearing-monitor =
    { $path }: programu inayoifanyia kazi (mchakato { $number }) bado ni toleo la zamani, na hakuna kilichobadilishwa. Suluhisho: ianzishe upya, kama: sudo systemctl restart rearing-monitor
path-no-copy-could-be-made-before-the-update-why-and-nothing-was-changed-to-mend-let-the-user-that-runs-the-program-write-in-folder =
    { $path }: hakuna nakala iliyoweza kufanywa kabla ya sasisho ({ $why }), na hakuna kilichobadilishwa. Suluhisho: ruhusu mtumiaji anayeendesha programu aandike kwenye { $folder }.
path-before-the-update-a-copy-is-made-beside-it-which-needs-wanted-mb-free-mb-are-free-and-nothing-was-changed-to-mend-free-some-room-on-that-disk-or-install-the-version-of-before-again-meanwhile =
    { $path }: kabla ya sasisho nakala inafanywa kando yake, nayo inahitaji MB { $wanted }; MB { $free } ziko huru, na hakuna kilichobadilishwa. Suluhisho: ongeza nafasi kwenye diski hiyo, au kwa sasa sakinisha tena toleo la awali.
path-the-copy-that-is-made-before-an-update-came-out-damaged-error-and-nothing-was-changed-to-mend-run-rearing-monitor-check-when-it-happens-twice-replace-the-disk =
    { $path }: nakala inayofanywa kabla ya sasisho imeharibika ({ $error }), na hakuna kilichobadilishwa. Suluhisho: endesha `rearing-monitor check`; ikitokea mara mbili, badilisha diski.
