# Les phrases de `board battery` : d’où viennent les chiffres, ce qui est refusé, l’aide.

a-choice-ageing-cold-and-a-regulator-that-stops-early-take-the-rest =
    un choix : l’âge, le froid et un régulateur qui s’arrête tôt prennent le reste
a-maker-s-sheet-of-a-lithium-ion-cell-above-95-is-left-after-30-days-at-25-c-warmer-loses-more =
    fiche d’un fabricant d’accu lithium-ion : plus de 95 % restent après 30 jours à 25 °C ; au chaud il perd davantage
measured-by-others-3-8-to-11-4-ma-asleep-for-regulator-usb-chip-and-light =
    mesuré par d’autres : 3,8 à 11,4 mA endormies, pour le régulateur, la puce USB et la lumière
what-is-value-allowed-allowed = { $what } : { $value } ; permis : { $allowed }
makers-sheets-4-2-v-full-never-below-2-75-v-3-0-and-3-4-v-are-choices =
    fiches de fabricants : 4,2 V plein, jamais sous 2,75 V ; 3,0 et 3,4 V sont des choix
makers-sheets-3-65-v-full-2-5-v-empty-3-0-v-is-a-choice-above-that =
    fiches de fabricants : 3,65 V plein, 2,5 V vide ; 3,0 V est un choix au-dessus
s-10-a-of-the-chip-by-its-data-sheet-20-a-of-a-divider-of-two-100-k-resistors =
    10 µA pour la puce selon sa fiche, 20 µA pour un diviseur de deux résistances de 100 kΩ
measured-by-others-42-ma-awake-without-radio = mesuré par d’autres : 42 mA éveillée sans radio
measured-by-others-0-42-s-until-the-program-runs-three-readings-of-a-ds18b20-add-2-3-s =
    mesuré par d’autres : 0,42 s avant que le programme tourne ; trois mesures d’un DS18B20 ajoutent 2,3 s
measured-by-others-341-mc-in-2-9-s-without-tls = mesuré par d’autres : 341 mC en 2,9 s, sans TLS
the-maker-s-manual-of-the-module-80-to-90-ma-while-the-radio-listens =
    manuel du fabricant du module : 80 à 90 mA quand la radio écoute
a-board-that-is-awake-for-awake-s-cannot-wake-every-interval-s-allowed-a-longer-one =
    une carte éveillée pendant { $awake } s ne peut pas se réveiller toutes les { $interval } s ; permis : un intervalle plus long
the-capacity = la capacité
s-1-to-1-000-000-mah = de 1 à 1 000 000 mAh
the-share-that-is-used = la part utilisée
s-1-to-100 = de 1 à 100 %
the-self-discharge = l’autodécharge
s-0-to-100-a-month = de 0 à 100 % par mois
the-interval = l’intervalle
s-10-s-to-3600-s = de 10 à 3600 s
the-number-of-rounds-for-each-message = le nombre de mesures par message
s-1-to-60 = de 1 à 60
the-current = le courant
above-0-and-at-most-5000-ma = plus de 0 et au plus 5000 mA
the-time-awake = le temps éveillée
above-0-and-at-most-3600-s = plus de 0 et au plus 3600 s
your-own-figure = votre propre chiffre
current-asleep-if-you-measured-it = Courant endormie, si vous l’avez mesuré.
current-awake-without-radio-if-you-measured-it = Courant éveillée sans radio, si vous l’avez mesuré.
how-long-one-measuring-takes-if-you-know-it = Combien de temps prend une mesure, si vous le savez.
current-while-it-sends-if-you-measured-it = Courant pendant l’envoi, si vous l’avez mesuré.
how-long-the-radio-is-on-if-you-know-it = Combien de temps la radio est allumée, si vous le savez.
what-is-printed-on-the-cell-in-mah = Ce qui est imprimé sur l’accu, en mAh.
how-much-of-it-is-used = Quelle part en est utilisée.
what-it-loses-by-itself-in-a-month = Ce qu’il perd de lui-même en un mois.
how-often-it-measures-10-s-to-1-h = À quel rythme elle mesure : de 10 s à 1 h.
how-many-measurings-go-into-one-message = Combien de mesures vont dans un message.
what-is-hung-up = Ce qui est accroché.
what-the-cell-is-made-of = De quoi l’accu est fait.
say-how-many-days-a-board-lives-on-one-cell-and-what-that-rests-on-it-needs-no-settings =
    Dire combien de jours une carte vit d’un accu, et sur quoi cela repose. Aucun réglage n’est nécessaire.
