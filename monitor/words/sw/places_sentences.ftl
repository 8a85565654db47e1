# Makosa kuhusu sehemu, maonyo, vihisi na usiku.

there-is-no-alarm-and-no-place-called-name-hint-allowed-a-number-or-a-name-from-rearing-monitor-alarms-or-a-place-such-as-bin-1 =
    hakuna onyo wala sehemu inayoitwa "{ $name }"{ $hint }
    Inaruhusiwa: namba au jina kutoka `rearing-monitor alarms`, au sehemu kama bin-1
name-no-alarm-there-can-be-verb-now-see-rearing-monitor-alarms-or-all-with-all =
    { $name }: hakuna onyo hapo linaloweza kuwa { $verb } sasa; angalia `rearing-monitor alarms`, au yote kwa --all
name-several-alarms-can-be-verb-say-which-by-its-number-alarms =
    { $name }: maonyo kadhaa yanaweza kuwa { $verb }; sema lipi kwa namba yake:
    { $alarms }
there-is-no-alarm-number-number-allowed-1-to-most-see-rearing-monitor-alarms-all =
    hakuna onyo namba { $number }; inaruhusiwa: 1 hadi { $most }, angalia `rearing-monitor alarms --all`
did-you-mean-near =
    { "" }; ulimaanisha { $near }?
there-is-no-sensor-called-name-hint-sensors =
    hakuna kihisi kinachoitwa "{ $name }"{ $hint }
    { $sensors }
name-can-mean-count-sensors-say-which-sensors =
    { $name } inaweza kuwa vihisi { $count }; sema kipi
    { $sensors }
no-sensor-is-known-yet-nothing-was-heard-and-the-settings-name-none =
    Hakuna kihisi kinachojulikana bado: hakuna kilichosikika, na mipangilio haitaji chochote
allowed-sensors-and-more-more =
    Inaruhusiwa:
    { $sensors }
    na { $more } zaidi
allowed-sensors =
    Inaruhusiwa:
    { $sensors }
the-night-to-date-has-not-begun-yet-allowed-a-date-up-to-tomorrow =
    usiku hadi { $date } haujaanza bado; inaruhusiwa: tarehe hadi kesho
date-is-written-allowed-a-date-such-as-example =
    --date ni "{ $written }"; inaruhusiwa: tarehe kama { $example }
allowed-one-of-all-journal-and-health-at-a-time =
    inaruhusiwa: moja ya --all, --journal na --health kwa wakati mmoja
