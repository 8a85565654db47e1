# Les mots des bacs.


## part

part-bins = Bacs

## zone

zone-too_dry = Trop sec
zone-dry = Sec
zone-right = Juste
zone-wet = Mouillé
zone-too_wet = Trop mouillé

## left

left-horizon = 10 jours ou plus
left-hour = moins d’une heure
left-beyond = pas avant 10 jours
left-passed = déjà
left-in = dans { $length }
left-about = dans environ { $length }
left-perhaps_now = peut-être maintenant
left-earliest = au plus tôt dans { $length }
left-earliest_at = au plus tôt dans { $length } ({ $at })

## bins

bins-need =
    { $count ->
        [one] { $count } bac a besoin de vous
       *[other] { $count } bacs ont besoin de vous
    }
bins-well = Tous les bacs vont bien
bins-well_count =
    { $count ->
        [one] { $count } bac va bien
       *[other] { $count } bacs vont bien
    }
bins-none = Aucun bac n’est rempli
bins-none_do = Aucun bac n’est rempli d’après le journal. Pour en noter un : { $command }
bins-empty = Vides d’après le journal : en choisir un pour le remplir
bins-is_empty = Il n’y a rien dedans d’après le journal.
bins-explained = Calculé à { $at } d’après le contenu, l’air, la chaleur et le journal. Les bandes tiennent quatre fois sur cinq.
bins-as_of = Calculé à { $at }.
bins-to_place = Ses mesures
bins-unknown = Inconnu
bins-no_air = Son humidité ne peut être calculée : aucune mesure de température et d’humidité de l’air, ni du lieu ni de sa salle.
bins-failed = Son humidité ne peut être calculée : une erreur du programme ({ $kind }) ; son journal en dit plus.
bins-finishing = Sèche exprès
bins-no_dry_alarm = Il sèche exprès et ne donne pas d’alarme de sécheresse.
bins-no_limits = Sans limites
bins-dry_soon = Sec sous peu
bins-hot_soon = Bientôt trop chaud
bins-too_hot = Trop chaud
bins-hot_do = L’étaler plus mince, le remuer, ôter le couvercle et retarder le prochain repas. Un ventilateur peut aider.
bins-left = Trop sec { $left }
bins-warning = Avis de sécheresse ({ $limit }) : { $left }.
bins-limit = Limite sèche ({ $limit }) : { $left }.
bins-likely_dry = Probablement ({ $chance }) trop sec d’ici { $at }.
bins-may_be_dry = Peut-être trop sec d’ici { $at } (probabilité { $chance }).
bins-water = Ajouter { $amount } : retour à { $target }. Par portions, remuer, arrêter avant les flaques.
bins-room = Place pour { $amount } jusqu’à { $target }.
bins-bran = Mélanger { $amount } de son sec : descente à { $target }.
bins-no_water = Pas besoin d’eau.
bins-advice_water = Environ { $amount } le ramènent à { $target }.
bins-advice_hours = Trop sec très probablement dans { $length }.
bins-advice_dry = Il est déjà trop sec.
bins-advice_bran = { $amount } de son sec le ramènent à { $target }.
bins-loss = Il perd { $rate } g d’eau par heure ({ $low } à { $high }).
bins-loss_small = Il perd moins de { $most } g d’eau par heure ; l’air est trop humide pour en dire plus.
bins-condenses = De l’eau se condense dessus, { $rate } g par heure.
bins-never_weighed = Jamais pesé : une pesée rend tout cela bien plus sûr.
bins-filled_in = { $length } sans mesures ont été complétés d’après les jours habituels.
bins-no_usual_day = Trop peu de mesures pour connaître un jour habituel ici ; l’air est supposé rester tel quel.
bins-heat = Chaleur :
bins-above_air = { $excess } au-dessus de l’air
bins-below_air = { $excess } au-dessous de l’air
bins-rising = monte de { $rate } par heure
bins-falling = descend de { $rate } par heure
bins-at_limit = à la limite haute de { $limit } ou au-dessus
bins-limit_in = { $limit } au plus tôt dans { $early }
bins-limit_about = { $limit } dans environ { $middle }, au plus tôt dans { $early }
bins-limit_far = { $limit } pas avant un jour à cette tendance.
bins-heat_made = Environ { $power } W/m² viennent des larves et des microbes.
bins-heat_above = { $hours } h au-dessus de { $level }
bins-heat_past = Au plus { $highest }, { $at } ; { $above } dans les huit derniers jours, ou depuis le remplissage.
bins-heat_usual = C’est habituel : neuf bacs mesurés au rendement habituel ont culminé à { $peaks } °C, et sont restés { $hours_38 } h au-dessus de 38 °C, { $hours_40 } h au-dessus de 40 °C et { $hours_42 } h au-dessus de 42 °C.
bins-heat_unusual = C’est plus que d’habitude : neuf bacs mesurés au rendement habituel ont culminé à { $peaks } °C, et sont restés { $hours_38 } h au-dessus de 38 °C, { $hours_40 } h au-dessus de 40 °C et { $hours_42 } h au-dessus de 42 °C.
harvest-ripe = Larves : environ { $now } maintenant, et environ { $kg } d’ici { $day } ({ $band }), quand elles seront les plus lourdes.
harvest-grows_on = Larves : environ { $now } maintenant, et environ { $kg } d’ici { $day } ({ $band }) ; elles grandiront encore.
harvest-past = Larves : environ { $kg } maintenant ({ $band }). Elles ont atteint leur plus grand poids : récoltez-les.
harvest-band = de { $low } à { $high }
harvest-hungry = Elles ont reçu moins qu’elles ne mangeraient : environ { $feed } d’aliment sec de plus. Sans cela, elles restent à environ { $each } mg.
bins-filled = Rempli { $at }
bins-filled_with = { $kg } de { $substrate } à { $moisture }
bins-surface = { $area } m²
bins-moisture_now = Humidité actuelle : { $moisture }
moisture-probe = d’après la sonde
moisture-entered = calculé d’après ce qui a été noté
bins-figure = Teneur en eau { $moisture }, { $basis }.
bins-moved = Trop sec : avant dans { $before }, maintenant dans { $now }.
bins-gauge = Humidité { $now }, entre { $low } et { $high }
bins-curve = Humidité
bins-curve_said = Calculée jusqu’à { $now }, puis attendue. La bande tient quatre fois sur cinq.
bins-key_limits = entre les limites
bins-key_ahead = à venir
bins-key_added = eau ou nourriture
bins-key_measured = pesé ou testé

## probe

probe-stale = Sonde d’humidité : pas de mesure récente (dernier indice { $index }).
probe-in_air = Sonde d’humidité { $index } : elle est à l’air ou sortie ; la remettre dedans. Elle ne compte pas.
probe-broken = Sonde d’humidité { $index } : câble ou sonde cassé. Elle ne compte pas.
probe-index = Sonde d’humidité : indice { $index }, pas une humidité tant qu’elle n’est pas étalonnée dans ce substrat.
probe-outside = Sonde d’humidité : { $moisture }, au-delà de son étalonnage.
probe-moisture = Sonde d’humidité : { $moisture } d’après son étalonnage dans ce substrat.
probe-calibrate = Pour l’étalonner : rearing-monitor calibrate probe { $sensor }

## substrate

substrate-wheat_bran = son de blé
substrate-chicken_feed = aliment pour poules
substrate-kitchen_waste = déchets de cuisine

## bin_picture

bin_picture-title = { $bin } : humidité
bin_picture-band = Bande : quatre fois sur cinq.
bin_picture-target = cible
bin_picture-dry_limit = limite sèche
bin_picture-dry = sec
bin_picture-wet = mouillé
bin_picture-wet_limit = limite mouillée
bin_picture-temperature = Température :
bin_picture-substrate = substrat
bin_picture-air = air
bin_picture-now = maintenant
bin_picture-marks = point plein : pesé ou testé ; point ouvert : remué ; trait au-dessus : eau ou nourriture
