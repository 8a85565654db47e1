# La nuit : page, rapport, message.


## night

night-wrong_now =
    { $count ->
        [one] { $count } chose ne va pas
       *[other] { $count } choses ne vont pas
    }
night-well_now = Tout va bien maintenant
night-alarms =
    { $count ->
        [one] { $count } alarme dans la nuit
       *[other] { $count } alarmes dans la nuit
    }
night-quiet = une nuit calme
night-span = du { $start } au { $end }
night-other = Autres nuits
night-earlier = nuit d’avant
night-later = nuit d’après
night-date = Nuit jusqu’au
night-show = Montrer
night-wrong_heading = Ne va pas maintenant
night-to_alarms = Que faire
night-alarms_heading = Alarmes de la nuit
night-late_heading = Découvert plus tard ; personne n’a été réveillé
night-monitor_heading = Le moniteur lui-même
night-nodes_heading = Cartes dont il faut s’occuper
night-places_heading = Lieux
night-week_heading = La semaine en un coup d’œil
night-place = Lieu
night-none = rien
night-no_readings = Pas de mesures pendant cette nuit.
night-out = { $length } hors de la plage
night-gap = pas de mesures pendant { $length }
night-drying = pouvoir desséchant { $mean } kPa en moyenne, { $most } kPa au plus
night-condensed = De l’eau s’est condensée sur la surface la plus froide pendant { $length } : ouvrir, essuyer, faire circuler l’air
night-near_condensing = La condensation était proche à { $at } : la surface la plus froide à seulement { $margin } au-dessus du point de rosée
night-degree_days = { $earned } degrés-jours au-dessus de { $threshold }, d’après { $measured }
night-degree_days_missing = { $length } sans mesures non comptées
night-acknowledged = vu par { $who } à { $at }
night-not_acknowledged = personne ne l’a signalé comme vu
night-farthest = est allé jusqu’à { $value }
night-over = terminé à { $at }
night-until = jusqu’à { $at }
night-stands = toujours là
night-not_running = Il n’a pas tourné de { $start } à { $end } ({ $length }).
night-unsent =
    { $count ->
        [one] { $count } message attend d’être envoyé.
       *[other] { $count } messages attendent d’être envoyés.
    }
night-nothing_known = Rien d’anormal n’est connu
night-no_alarm = aucune alarme dans la nuit
night-blind =
    { $count ->
        [one] peu ou rien n’a été mesuré dans { $count } lieu
       *[other] peu ou rien n’a été mesuré dans { $count } lieux
    }
night-from_air = l’air
night-from_substrate = le substrat
night-from_air_in_doubt = un bac dense peut être bien plus chaud que son air
night-dew_point = point de rosée au plus { $value }
night-held_back = retenue à partir de { $at } : { $reason }

## le rapport en texte

night-head = { $title }, nuit jusqu’au { $date } : { $verdict }
night-range = { $name } { $low } ({ $low_at }) à { $high } ({ $high_at })
night-aside_heading = À noter
night-water_heading = Bacs à arroser aujourd’hui, dans cet ordre
night-walls_heading = Parois et couvercles
night-cohorts_today_heading = Lots aujourd’hui
night-cohorts_week_heading = Lots cette semaine
night-no_watering = calcul impossible : { $why }
night-none_needs_water = aucun n’a besoin d’eau avant demain
night-bin_unknown = inconnu, sa teneur en eau ne peut pas être calculée
night-bin_wet = { $title } : { $zone } ({ $share }), mélanger { $bran } de son sec
night-bin_water = { $title } : { $amount }, { $when } ({ $share }, { $low } à { $high })
night-dry_now = maintenant : il est trop sec
night-dry_perhaps_now = maintenant : il est peut-être déjà trop sec
night-dry_before = avant { $at } : il peut être trop sec à ce moment
night-dry_in = trop sec dans { $length } au plus tôt
night-wall_condenses = de l’eau se condense sur sa surface la plus froide ; l’essuyer, faire circuler l’air
night-wall_mould = surface la plus froide à { $humidity } ou plus depuis { $damp } h, des moisissures peuvent pousser dès { $grows } h ; aérer, essuyer, chauffer
night-no_forecast = pas de prévision : { $why }
night-not_entered = pas encore noté : { $due }
night-more_due =
    { $count ->
        [one] et { $count } autre : rearing-monitor forecast
       *[other] et { $count } autres : rearing-monitor forecast
    }
night-not_over = Cette nuit n’est pas encore finie ; le rapport va jusqu’à maintenant.
