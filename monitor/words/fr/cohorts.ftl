# Les mots des lots et des cages.


## part

part-cohorts = Lots

## stage

stage-egg = œufs
stage-larva = larves
stage-prepupa = prépupes
stage-pupa = pupes
stage-adult = mouches

## stage_short: under the bar of a cohort, a fifth of a phone wide each

stage_short-egg = œufs
stage_short-larva = larves
stage_short-prepupa = prépupes
stage_short-pupa = pupes
stage_short-adult = mouches

## seen

seen-hatch = éclosion
seen-first_prepupae = premières larves foncées
seen-half_prepupae = moitié des larves foncées
seen-first_motionless = premières pupes immobiles
seen-half_motionless = moitié des pupes immobiles
seen-first_emerged = premières mouches
seen-half_emerged = moitié des mouches sorties
seen-most_emerged = neuf mouches sur dix sorties
seen-first_eggs = premiers œufs

## driven

driven-air = température de l’air
driven-substrate = température du substrat
driven-none = pas encore de température
driven-no_probe = température de l’air : un bac dense peut être bien plus chaud, d’où la fenêtre plus large
driven-egg = température de l’air ; comme larves, comptées comme dans les bacs, aucun déplacement n’étant prévu
driven-tray = il est dans un plateau ; comme larves, comptées comme dans les bacs, aucun déplacement n’étant prévu

## cohorts

cohorts-living =
    { $count ->
        [one] { $count } lot
       *[other] { $count } lots
    }
cohorts-none = Aucun lot en vie
cohorts-none_do = En commencer un avec les œufs, larves ou pupes présents ; la page dit alors quand ils éclosent, migrent et volent.
cohorts-none_yet = Aucun lot dans le journal. En commencer un, par exemple : { $command }
cohorts-today = Aujourd’hui
cohorts-week = Les 7 jours suivants
cohorts-overdue = En retard, ou vu et pas noté
cohorts-nothing_due = Rien n’est attendu dans les sept jours.
cohorts-look = À chercher en premier :
cohorts-due_now = À regarder maintenant
cohorts-others =
    { $count ->
        [one] { $count } lot aux dates plus lointaines
       *[other] { $count } lots aux dates plus lointaines
    }
cohorts-what_for = À quoi servent-ils ?
cohorts-what_for_one = À quoi sert-il ?
cohorts-what_for_more =
    { $count ->
        [one] et { $count } autre
       *[other] et { $count } autres
    }
cohorts-details = Chiffres et termes
cohorts-terms = Les larves foncées sont des prépupes : elles ne mangent plus et cherchent un endroit sec. Les pupes immobiles commencent à se changer en mouches.
cohorts-cage_more = Jour après jour
cohorts-first_name = lot-1
cohorts-assumed_start = Œufs dans un plateau, larves dans un bac, etc. ; dès maintenant. Changer, ou dire plus
cohorts-cage_flies = Mouches sorties depuis le dernier comptage. Noté pour { $cohorts }, selon les mouches que chaque lot a données.
cohorts-i_saw_it = Vu
cohorts-each = Chaque lot, le plus proche en haut
cohorts-next = Ensuite :
cohorts-event = { $event } { $day } ({ $window })
cohorts-day = { $day } ({ $window })
cohorts-due = dans { $place } : { $event } ({ $window })
cohorts-ask = { $event } (vers { $day }). Noter le jour rend sa prévision plus sûre de { $gain }.
cohorts-ask_command = Pour le noter : { $command }
cohorts-bar = { $stage }, { $percent } de ce stade
cohorts-degree_days = { $percent } % du stade, { $done } de { $needed } degrés-jours
cohorts-full_days = { $percent } % du stade, { $done } de { $needed } jours au plein rythme
cohorts-harvest_before = Récolter avant
cohorts-unknown = Son avancement est inconnu : pas de température de son lieu (depuis { $since }). Noter la prochaine chose vue.
cohorts-flies = Environ { $best } mouches le meilleur jour, { $day } ({ $low } à { $high }) ; { $all } en tout.
cohorts-flies_rough = Environ { $best } mouches le meilleur jour, { $day } ({ $low } à { $high }) ; { $all } en tout, d’après un compte approximatif.
cohorts-not_counted = Combien de mouches viennent est inconnu : personne n’a compté le lot (`cohort count`).
cohorts-heat_fail = { $hours } h au-dessus de la limite de chaleur : peu ou pas de mouches peuvent en sortir.
cohorts-heat_warning = { $hours } h au-dessus de la limite de chaleur depuis le début : moins de mouches peuvent sortir.
cohorts-heat_few = { $hours } h au-dessus de la limite de chaleur. Environ { $lives } % ({ $low } à { $high }) des animaux survivent à cette chaleur et à celle qui est à attendre : peu ou pas de mouches peuvent en sortir.
cohorts-heat_some = { $hours } h au-dessus de la limite de chaleur. Environ { $lives } % ({ $low } à { $high }) des animaux survivent à cette chaleur et à celle qui est à attendre : moins de mouches sortent.
cohorts-heat_none = { $hours } h au-dessus de la limite de chaleur : presque aucun animal ne survit à cette chaleur. Aucune mouche n’est à attendre de ce lot.
cohorts-heat_now = Par la chaleur qu’il y fait, la moitié de ceux qui ne peuvent pas fuir meurt en { $length }.
cohorts-stands_cold = N’aboutira pas à cette température : au stade { $stage }, il faudrait plus de { $days } jours. Réchauffez l’endroit ou déplacez le lot.
cohorts-stands_heat = N’aboutira pas à cette température : au stade { $stage }, le lot ne se développe presque pas, ou plus du tout, par une telle chaleur. Rafraîchissez l’endroit ou déplacez le lot.
cohorts-behind = { $days } de retard sur la prévision d’il y a une semaine.
cohorts-ahead = { $days } d’avance sur la prévision d’il y a une semaine.
cohorts-unconfirmed = Déplacement vers { $place } prévu { $day } ; compté comme fait. Le noter, ou retirer le plan.
cohorts-own =
    { $count ->
        [one] chiffres propres de { $count } lot
       *[other] chiffres propres de { $count } lots
    }
cohorts-papers = chiffres des publications, aucun encore de la ferme
cohorts-estimated = dont { $hours } h estimées
cohorts-assumed = dès les prépupes compté comme dans { $place } : supposé, aucun déplacement n’est prévu
cohorts-rests = Repose sur : { $what }.
cohorts-heading = { $title } :
cohorts-what_seen = Qu’avez-vous vu ?
cohorts-events = Ce qui vient et quand
cohorts-event_name = Quoi
cohorts-likely = Probable
cohorts-window = Fenêtre
cohorts-was_seen = vu
cohorts-window_explained = Une fenêtre contient le jour quatre fois sur cinq.
cohorts-curve_flies = Mouches qui sortent, jour après jour
cohorts-curve_share = Part qui sort, jour après jour (%)
cohorts-curve_said = Maximum { $day }, environ { $count }. La bande tient quatre jours sur cinq.
cohorts-ended = Terminé { $day } : { $how }.
cohorts-narrower = La fenêtre des mouches : avant { $before }, maintenant { $now }.
cohorts-as_of = Calculé à { $at } ; à nouveau dès que quelque chose est noté.
cohorts-working_in = La dernière note est en cours de calcul : les jours ci-dessous suivent d’eux-mêmes dans un instant.
cohorts-coming = Les prévisions sont en cours de calcul : elles apparaissent ici d’elles-mêmes dans un instant.

## supply

supply-heading = Mouches dans les cages, 30 jours
supply-no_cage = Aucune cage nommée
supply-none = Aucun lot ne lui est destiné.
supply-no_least = Mettre least_flies dans les réglages, ou donner --least, pour être averti des manques.
supply-most = Maximum { $day }, environ { $flies }.
supply-enough = Assez tous les jours (au moins { $least }).
supply-short = Trop peu pendant { $days }, dès { $day } (au moins { $least }).
supply-some = { $count } { $stage }
supply-too_late = { $what } : trop tard pour commencer avec.
supply-now = { $what } : mettre de côté maintenant ; cela peut arriver trop tard (une chance sur deux jusqu’à { $even }).
supply-by = { $what } : mettre de côté avant { $safe } pour être sûr, { $even } à une chance sur deux.
supply-keep = Ou garder { $cohort } pour la reproduction ; décider avant { $day }, quand il commence à partir.
supply-no_keep = Aucun lot destiné à l’alimentation ne viendrait au bon moment.
supply-least = au moins { $least }
supply-day_short = trop peu
supply-day_eggs = environ { $count } œufs
supply-eggs_rough = Les œufs sont approximatifs : femelles qui vivent assez pour pondre, fois les œufs que donnent les publications.
supply-from = De
supply-uncounted = Laissés de côté, personne ne les ayant comptés : { $names }
supply-undecided = Pas comptés, personne n’ayant dit à quoi ils servent : { $names }.
supply-curve = Mouches vivantes
supply-curve_said = { $days } à partir d’aujourd’hui. La bande tient quatre fois sur cinq.

## learned

learned-heading = Sur quoi reposent les prévisions
learned-taught =
    { $count ->
        [one] Appris de { $count } lot de cette ferme.
       *[other] Appris de { $count } lots de cette ferme.
    }
learned-nothing = Rien appris encore : les prévisions reposent sur des publications. Chaque événement noté les rend propres à la ferme.
learned-more = Les chiffres, et la qualité des prévisions passées
learned-constants = Degrés-jours de chaque stade
learned-on_feed = Degrés-jours de chaque stade, avec { $feed }
learned-stage = Stade
learned-papers = Publications
learned-own = Les vôtres
learned-rests = Repose sur
learned-span = { $middle } ({ $low } à { $high })
learned-cohorts =
    { $count ->
        [one] { $count } lot
       *[other] { $count } lots
    }
learned-papers_only = publications seules
learned-spread =
    { $count ->
        [0] Les animaux d’un lot diffèrent dans leur durée de { $own } % (supposé au début : { $prior } %) ; aucun lot n’a encore été compté jour après jour.
        [one] Les animaux d’un lot diffèrent dans leur durée de { $own } % (supposé au début : { $prior } %), d’après { $count } lot compté jour après jour.
       *[other] Les animaux d’un lot diffèrent dans leur durée de { $own } % (supposé au début : { $prior } %), d’après { $count } lots comptés jour après jour.
    }
learned-scores = Prévisions passées, comparées à ce qui a été vu :
learned-score = { $about } avant : { $score }
learned-by_event = Par événement, { $lead } avant :
learned-should_hold = Huit fenêtres sur dix devraient tenir.
learned-later =
    { $count ->
        [one] { $count } événement, écart de { $off }, { $bias } plus tard que dit ; { $held } % des fenêtres ont tenu.
       *[other] { $count } événements, écart de { $off }, { $bias } plus tard que dit ; { $held } % des fenêtres ont tenu.
    }
learned-earlier =
    { $count ->
        [one] { $count } événement, écart de { $off }, { $bias } plus tôt que dit ; { $held } % des fenêtres ont tenu.
       *[other] { $count } événements, écart de { $off }, { $bias } plus tôt que dit ; { $held } % des fenêtres ont tenu.
    }
learned-no_score = Aucune prévision n’est encore échue ; celles de chaque jour sont gardées et comparées à ce que vous notez.

## mark

mark-published = publié
mark-cited = cité
mark-common_practice = usage, sans source
mark-choice = choix propre
mark-own = propre à cette ferme

## published

published-head = Ce que disent les publications, à côté des nombres employés pour une ferme encore inconnue : la médiane en jours, et la fenêtre qui tient quatre fermes sur cinq. Où une source ne dit aucune température, une est supposée.
published-none = Le fichier de cette espèce n’a pas de durées publiées.
published-stage = Stade
published-temperature = À
published-papers = Publié
published-ours = Employé
published-assumed = { $degrees } supposés
published-to_eggs = mouches aux premiers œufs
published-from_egg = l’œuf
published-from_larva = la larve
published-from_prepupa = la prépupe
published-aged = { $begin } (d’environ { $days } j)
published-to_fly = de { $begin } à la mouche
published-on = { $what } sur { $feed }
published-days = { $span } j
published-least = au moins { $low } j
published-inside = dedans
published-held = la fenêtre le tient
published-outside = dehors
published-reason = Pourquoi : { $reason }

## calendar

calendar-title =
    { $count ->
        [one] Ce qui vient la semaine prochaine
       *[other] Ce qui vient dans les { $count } semaines
    }
calendar-explained = Une marque est le jour le plus probable ; la barre contient l’événement quatre fois sur cinq.
calendar-nothing = Rien n’est attendu d’aucun lot.
calendar-meaning = plein : ce qui demande d’agir (moitié des mouches sorties, les premières quittent le bac)
calendar-now = maintenant
calendar-hatch = éclosion
calendar-half_prepupae = prépupes
calendar-half_motionless = immobiles
calendar-half_emerged = moitié des mouches
calendar-first_eggs = premiers œufs
calendar-feed_hatch = éclosion
calendar-feed_first_prepupae = récolter avant
calendar-feed_half_prepupae = moitié foncée

## emergence

emergence-title = { $cohort } : mouches jour après jour
emergence-half = Moitié sortie { $day } ({ $window }).
emergence-band = Bande : quatre jours sur cinq y tiennent.
emergence-nothing = Aucune sortie ne peut encore être prévue.
emergence-flies = mouches par jour
emergence-share = % du lot par jour
