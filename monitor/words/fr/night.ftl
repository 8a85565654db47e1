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
night-to_today = Le faire et le cocher sous État
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
night-acknowledged = vue par { $who } à { $at }
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
night-nothing_known_now = Rien d’anormal n’est connu
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
night-wrong_then =
    { $count ->
        [one] { $count } chose n’allait pas à la fin
       *[other] { $count } choses n’allaient pas à la fin
    }
night-well_then = Tout allait bien à la fin
night-nothing_known_then = Rien d’anormal n’était connu à la fin
night-stopped = Le moniteur s’est arrêté, ce qui ne va pas maintenant n’est pas connu
night-quiet_so_far = calme jusqu’ici
night-before_first = le moniteur ne veillait pas encore
night-unknown_now =
    { $count ->
        [one] rien n’est connu de { $count } lieu maintenant
       *[other] rien n’est connu de { $count } lieux maintenant
    }
night-unknown_then =
    { $count ->
        [one] rien n’était connu de { $count } lieu à la fin
       *[other] rien n’était connu de { $count } lieux à la fin
    }
night-out_places =
    { $count ->
        [one] { $count } lieu était hors de la plage, pendant { $length }
       *[other] { $count } lieux étaient hors de la plage, pendant { $length } au plus
    }
night-late =
    { $count ->
        [one] { $count } écart a été découvert plus tard
       *[other] { $count } écarts ont été découverts plus tard
    }
night-down = le moniteur n’a pas tourné pendant { $length }
night-gap_places =
    { $count ->
        [one] des mesures manquent dans { $count } lieu
       *[other] des mesures manquent dans { $count } lieux
    }
night-parts_failed =
    { $count ->
        [one] { $count } partie n’a pas pu être calculée
       *[other] { $count } parties n’ont pas pu être calculées
    }
night-part_failed = n’a pas pu être calculé : une erreur du programme ({ $kind }) ; son journal en dit plus
night-as_known = Tel que c’était connu alors : « maintenant » et « aujourd’hui » sont ce matin-là.
night-wrong_then_heading = N’allait pas à la fin
night-put_aside = mis de côté par { $who } à { $at }
night-again = est revenu à { $at }
night-end_unknown = sa fin n’est pas connue, les réglages ne l’ont plus
night-probe = Sonde d’humidité
night-none_of = pas de mesures de { $quantity }
night-unsent_then =
    { $count ->
        [one] { $count } message du jour et de la nuit d’avant n’était pas encore parti.
       *[other] { $count } messages du jour et de la nuit d’avant n’étaient pas encore partis.
    }
night-heartbeat = L’adresse du battement ne répond plus depuis { $since } : qui la surveille du dehors peut croire le moniteur mort. Voir heartbeat_url dans [messages], et internet.
night-copy_fault = { $place } n’a pas reçu de copie depuis { $since } : { $why }
night-copy_never = { $place } n’a pas encore reçu de copie : { $why }

night-so_far = Cette nuit jusqu’ici
night-day_so_far = Aujourd’hui jusqu’ici
night-last = La nuit dernière
night-earlier_one = Une nuit passée
night-to_day = aujourd’hui jusqu’ici
night-to_last = la nuit dernière
night-span_so_far = de { $start } à maintenant
night-alarms_day =
    { $count ->
        [one] { $count } alarme aujourd’hui
       *[other] { $count } alarmes aujourd’hui
    }
night-no_alarm_day = aucune alarme aujourd’hui
night-alarms_day_heading = Alarmes du jour
night-week_nights = Nuit jusqu’au
night-week_was = Elle était
night-within = dans toutes les limites
night-not_measured = pas de mesures
night-everywhere = partout
night-more_places =
    { $count ->
        [one] { $count } de plus
       *[other] { $count } de plus
    }
mark-hot = chaud
mark-cold = froid
mark-dry = sec
mark-humid = humide
mark-silent = muet
mark-other = hors d’une limite
night-quiet_range = de { $low } ({ $low_at }) à { $high } ({ $high_at })
night-quiet_heading = Lieux calmes
night-full = Montrer chaque lieu en entier
night-brief = Montrer les lieux calmes en une ligne

## le rapport en texte

night-head = { $title }, nuit jusqu’au { $date } : { $verdict }
night-range = { $name } { $low } ({ $low_at }) à { $high } ({ $high_at })
night-aside_heading = À noter
night-water_heading = Bacs
night-yields_heading = Rendement de la semaine passée, et ce qui vient
night-heat_heading = Chaleur des bacs, le pire d’abord
night-walls_heading = Parois et couvercles
night-cohorts_week_heading = Lots cette semaine
night-no_watering = calcul impossible : { $why }
night-none_needs_water = aucun n’a besoin d’eau avant demain
night-bin_unknown = inconnu, sa teneur en eau ne peut pas être calculée
night-bin_wet = { $title } : { $zone } ({ $share }, { $basis }), mélanger { $bran } de son sec
night-bin_water = { $title } : { $amount }, { $when } ({ $share }, { $low } à { $high }, { $basis })
night-dry_now = maintenant : il est trop sec
night-dry_perhaps_now = maintenant : il est peut-être déjà trop sec
night-dry_before = avant { $at } : il peut être trop sec à ce moment ({ $chance } en un jour) ; une pesée ou une poignée séchée au four en dit plus
night-dry_likely = avant { $at } : il est probablement trop sec à ce moment ({ $chance } en un jour)
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
