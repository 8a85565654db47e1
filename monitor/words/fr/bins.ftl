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
bins-empty = Vides d’après le journal : en choisir un pour le remplir
bins-is_empty = Il n’y a rien dedans d’après le journal.
bins-explained = Calculé à { $at } d’après le contenu, l’air, la chaleur et le journal. Les bandes tiennent quatre fois sur cinq.
bins-as_of = Calculé à { $at }.
bins-to_place = Ses mesures
bins-unknown = Inconnu
bins-no_air = Son humidité ne peut être calculée : aucune mesure de température et d’humidité de l’air, ni du lieu ni de sa salle.
bins-finishing = Sèche exprès
bins-no_limits = Sans limites
bins-soon = Sec sous peu
bins-is_hot = Bientôt trop chaud
bins-over_limit = Trop chaud
bins-hot_do = L’étaler plus mince, le remuer, ôter le couvercle et retarder le prochain repas. Un ventilateur peut aider.
bins-left = Trop sec { $left }
bins-warning = Avis de sécheresse ({ $limit }) : { $left }.
bins-water = Ajouter { $amount } : retour à { $target }. Par portions, remuer, arrêter avant les flaques.
bins-room = Place pour { $amount } jusqu’à { $target }.
bins-bran = Mélanger { $amount } de son sec : descente à { $target }.
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
bins-filled = Rempli { $at }
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
