# Maonyo na jumbe: kinachokataliwa na programu, na kwa nini. Jina ni sentensi ya Kiingereza.

acknowledged =
    limeonwa
shelved =
    limewekwa kando
shelved-until-at =
    limewekwa kando hadi { $at }
taken-from-the-shelf =
    limerudishwa
taken-out-of-service =
    limezimwa
put-back-into-service =
    limewashwa tena
no-alarm-waits-to-be-done =
    hakuna onyo linalosubiri { $done }
count-alarms-can-be-done-say-which-by-its-number-or-all-choices =
    maonyo { $count } yanaweza kuwa { $done }; sema lipi kwa namba yake, au --all:
    { $choices }
the-shelf-would-end-at-at-allowed-an-end-that-is-ahead-at-most-days-days-for-longer-rearing-monitor-take-out =
    kuwekwa kando kungeisha { $at }; inaruhusiwa: mwisho ulio mbele, zaidi kabisa siku { $days }. Kwa muda mrefu zaidi: rearing-monitor take-out
this-cannot-be-done-now-states-see-rearing-monitor-alarms =
    hili haliwezi kuwa { $done } sasa: { $states }. Angalia `rearing-monitor alarms`
event-cannot-be-asked-for-it-follows-from-readings-or-from-the-clock =
    { $event } haiwezi kuombwa; hutokana na vipimo au na saa
to-shelve-an-alarm-give-an-end-that-is-ahead-at-most-days-days =
    kuweka onyo kando toa mwisho ulio mbele, zaidi kabisa siku { $days }
this-link-is-not-valid-acknowledge-the-alarm-on-the-page-or-with-rearing-monitor-ack =
    kiungo hiki si sahihi; sema umeona kwenye ukurasa au kwa: rearing-monitor ack
this-link-has-expired-acknowledge-the-alarm-on-the-page-or-with-rearing-monitor-ack =
    muda wa kiungo hiki umekwisha; sema umeona kwenye ukurasa au kwa: rearing-monitor ack
this-link-has-been-used-already-the-alarm-is-acknowledged-unless-it-has-come-again-since =
    kiungo hiki kimetumika tayari; onyo limeonwa isipokuwa limekuja tena tangu hapo
the-inbox-folder-cannot-be-written-reason =
    folda ya kupokelea haiandikiki: { $reason }
the-address-cannot-be-used =
    anwani haiwezi kutumika
service-the-message-was-refused-kind =
    { $service }: ujumbe ulikataliwa ({ $kind })
service-reason =
    { $service }: { $reason }
the-message-was-not-taken-status =
    ujumbe haukupokelewa ({ $status })
it-is-not-an-address-like-mailtos-tgram-or-folder-home-me-inbox =
    si anwani kama mailtos://..., tgram://... au folder:///home/me/inbox
a-folder-needs-its-whole-path-folder-home-me-inbox =
    folda inahitaji njia yake kamili: folder:///home/me/inbox
nothing-is-known-that-begins-in-this-way-see-the-list-of-services-of-apprise =
    hakuna kinachojulikana kinachoanza hivi; angalia orodha ya huduma za apprise
the-service-service-does-not-take-it-compare-it-with-apprise-s-page-on-that-service =
    huduma { $service } haiipokei; ilinganishe na ukurasa wa apprise wa huduma hiyo
the-address-of-recipient-cannot-be-used-problem =
    anwani ya { $recipient } haiwezi kutumika: { $problem }
neither-or-both-of-place-and-place-kind =
    hakuna au zote mbili: place na place_kind
name-one-place-or-one-kind-of-place =
    taja sehemu moja, au aina moja ya sehemu
write-one-of-the-allowed-names =
    andika jina moja la yanayoruhusiwa
name-a-place-that-places-lists =
    taja sehemu iliyo kwenye [[places]]
take-a-kind-that-places-uses-or-remove-the-rule =
    chagua aina inayotumika kwenye [[places]], au ondoa kanuni
quantity-side-side-priority-priority =
    { $quantity }, upande { $side }, uzito { $priority }
a-removal-of-rule-which-is-not-there =
    kuondolewa kwa { $rule }, ambayo haipo
a-rule-that-exists =
    kanuni iliyopo
delete-this-table =
    futa jedwali hili
missing-in-a-new-rule-rule =
    inakosekana kwenye kanuni mpya ({ $rule })
add-key-or-change-a-rule-that-exists =
    ongeza { $key }, au badilisha kanuni iliyopo
at-most-limit-the-priority-limit =
    zaidi kabisa { $limit } (kikomo cha { $priority })
at-least-limit-the-priority-limit =
    angalau { $limit } (kikomo cha { $priority })
below-limit-the-lowest-high-limit =
    chini ya { $limit } (kikomo cha juu kilicho chini zaidi)
the-setpoint-of-alarm =
    kikomo cha { $alarm }
change-one-of-the-two-limits-in-rules =
    badilisha kimoja cha vikomo viwili kwenye [[rules]]
no-reading-reaches-this-computer-so-no-place-is-guarded-boards-do-not-notice-the-broker-confirms-what-they-send-and-drops-it =
    Hakuna kipimo kinachofika kwenye kompyuta hii, kwa hiyo hakuna sehemu inayolindwa. Vifaa havitambui: broker inathibitisha vinachotuma, kisha inakitupa.
run-rearing-monitor-check-broker-on-the-computer-then-compare-the-site-id-topic-root-and-username-in-farm-toml-with-the-access-rules-of-the-broker =
    Endesha `rearing-monitor check --broker` kwenye kompyuta. Kisha linganisha id ya site, topic_root na username kwenye farm.toml na kanuni za ruhusa za broker.
