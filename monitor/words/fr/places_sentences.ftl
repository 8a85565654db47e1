# Les phrases d’erreur sur les lieux, les alarmes, les capteurs et les nuits.

there-is-no-alarm-and-no-place-called-name-hint-allowed-a-number-or-a-name-from-rearing-monitor-alarms-or-a-place-such-as-bin-1 =
    aucune alarme ni aucun lieu ne s’appelle « { $name } »{ $hint }
    Permis : un numéro ou un nom de `rearing-monitor alarms`, ou un lieu tel que bin-1
name-no-alarm-there-can-be-verb-now-see-rearing-monitor-alarms-or-all-with-all =
    { $name } : là, aucune alarme ne peut être { $verb } maintenant ; voir `rearing-monitor alarms`, ou toutes avec --all
name-several-alarms-can-be-verb-say-which-by-its-number-alarms =
    { $name } : plusieurs alarmes peuvent être { $verb } ; dire laquelle par son numéro :
    { $alarms }
there-is-no-alarm-number-number-allowed-1-to-most-see-rearing-monitor-alarms-all =
    il n’y a pas d’alarme numéro { $number } ; permis : de 1 à { $most }, voir `rearing-monitor alarms --all`
did-you-mean-near = { "" } ; vouliez-vous dire { $near } ?
there-is-no-sensor-called-name-hint-sensors =
    aucun capteur ne s’appelle « { $name } »{ $hint }
    { $sensors }
name-can-mean-count-sensors-say-which-sensors =
    { $name } peut désigner { $count } capteurs ; dire lequel
    { $sensors }
no-sensor-is-known-yet-nothing-was-heard-and-the-settings-name-none =
    Aucun capteur n’est encore connu : rien n’a été reçu, et les réglages n’en nomment aucun
allowed-sensors-and-more-more =
    Permis :
    { $sensors }
    et { $more } autres
allowed-sensors =
    Permis :
    { $sensors }
the-night-to-date-has-not-begun-yet-allowed-a-date-up-to-tomorrow =
    la nuit jusqu’au { $date } n’a pas encore commencé ; permis : une date jusqu’à demain
date-is-written-allowed-a-date-such-as-example =
    --date vaut « { $written } » ; permis : une date telle que { $example }
allowed-one-of-all-journal-and-health-at-a-time =
    permis : un seul de --all, --journal et --health à la fois
