# Alarmes : ce qui est, les règles qui y mènent, leur journal, et les messages.
# Un mot entre {accolades} est mis par le programme : le laisser tel quel.

## trend

trend-rising = Monte de { $rate } par heure, environ { $later } dans une heure si rien ne change.
trend-falling = Baisse de { $rate } par heure, environ { $later } dans une heure si rien ne change.
trend-rising_only = Monte de { $rate } par heure.
trend-falling_only = Baisse de { $rate } par heure.
trend-steady = Stable.

## alarm

alarm-above = { $quantity } { $value }, devrait être sous { $limit }
alarm-below = { $quantity } { $value }, devrait être au-dessus de { $limit }
alarm-minutes_to_overheating = À moins d’un degré de sa limite haute dans environ { $value } si cela continue
alarm-minutes_to_overheating_passed = À moins d’un degré de sa limite haute, et toujours en hausse
alarm-hours_to_dry = Risque d’être trop sec dans { $value }
alarm-hours_to_dry_passed = Peut-être déjà trop sec
alarm-silent_minutes = Rien reçu depuis { $value }
alarm-dead_sensor_minutes = Un de ses capteurs ne donne plus de bonne mesure depuis { $value }
alarm-silent_node_share = { $value } des cartes sont muettes
alarm-unheard_nodes = Cartes pas encore reçues : { $value }
alarm-store_fault = Les mesures ne peuvent pas être conservées
alarm-broker_way_fault = Le courtier prend ce que les cartes envoient, mais ne le transmet pas : sujet ou droits
alarm-archive_lag_hours = L’archive a { $value } de retard
alarm-copy_age_hours = La dernière bonne copie de la base date de { $value }
alarm-copy_behind_hours = Un endroit n’a pas reçu de copie depuis { $value }
alarm-unsent_message_minutes = Un message attend depuis { $value } d’être envoyé
alarm-since = depuis { $at } ({ $length })
alarm-between = de nouveau dans la limite, mais de trop peu pour que ce soit fini
alarm-back = revenu dans la limite
alarm-back_since = revenu dans la limite depuis { $at }
alarm-over_at = fini à { $at } si cela reste ainsi
alarm-comes_at = l’alarme vient à { $at } si cela reste ainsi
alarm-held_back = son alarme est retenue
alarm-was_high = { $quantity } : { $value } au plus haut, limite { $limit }
alarm-was_low = { $quantity } : { $value } au plus bas, limite { $limit }
alarm-over_span = de { $start } à { $end } ({ $length }), fini depuis
alarm-shelved_until = mis de côté jusqu’à { $at }
alarm-acknowledged = quelqu’un l’a vu
alarm-seen_by = vu par { $who }, { $at }
alarm-over_line = { $what } · { $length }, jusqu’à { $end }
alarm-no_newer = pas de mesure plus récente
alarm-last_true = pas de mesure plus récente, vu ainsi pour la dernière fois : { $at }
alarm-do = À faire :
alarm-caution = Attention :
alarm-otherwise = Si personne n’agit :
alarm-acknowledge = J’ai vu
alarm-seen = Vue
alarm-boards = Ce sont { $boards }.
alarm-began_anew = Cette alarme a recommencé { $at }, après ce que vous avez vu. Regardez-la et signalez-la de nouveau.
alarm-aside_anew = { $who } a mis cette alarme de côté { $at }, après que vous l’avez reprise sur votre téléphone. Rien n’a été changé.
alarm-unknown = Cette alarme n’existe pas. Elle a pu disparaître avec un changement des réglages.

## alarms

alarms-none = Aucune alarme
alarms-standing =
    { $count ->
        [one] { $count } alarme
       *[other] { $count } alarmes
    }
alarms-over = Terminé, pas encore vu
alarms-see_all = Tout vu
alarms-aside = Mis de côté ou hors service
alarms-journal = Ce qui s’est passé
alarms-to_health = Ce que valent les alarmes elles-mêmes

## shelve

shelve-heading = Mettre de côté pour un temps
shelve-place = Tout le lieu { $place } pour
shelve-alarm = Seulement cette alarme, pour
shelve-put_back = Remettre en service
shelve-explained = Tant qu’elle est de côté, personne n’en est averti. Elle revient d’elle-même.
shelve-for = Pour
shelve-reason = Pourquoi
shelve-do = Mettre de côté
shelve-end = La reprendre maintenant
shelve-hours_wrong = Choisir une des durées proposées.

## event

event-activate = est venue
event-clear = terminée
event-acknowledge = vue
event-shelve = mise de côté
event-unshelve = reprise à la main
event-shelf_end = reprise
event-suppress = retenue
event-unsuppress = n’est plus retenue
event-take_out_of_service = mise hors service
event-return_to_service = remise en service

## health

health-heading = Ce que valent les alarmes
health-explained = Mesuré sur { $days } jours selon les mesures d’ISA-18.2 / IEC 62682. Une alarme qui vient trop souvent, ou qui dure des jours, est vite ignorée.
health-too_short = Avec moins de { $days } jours de données, ces chiffres ne permettent pas de juger.
health-measure = Mesure
health-figure = Chiffre
health-told = Alarmes annoncées
health-worst_day = Le plus d’alarmes en un jour qui ont duré plus d’un jour
health-top_share = Part des dix plus fréquentes
health-per_day = Alarmes par jour
health-peak = Le plus d’alarmes en dix minutes
health-flood = Part du temps en avalanche (plus de 10 en dix minutes)
health-flood_advice = Chercher la cause commune ; retenir les alarmes qui en découlent.
health-share = { $share } %
health-of_priority = Part de : { $word }
health-times =
    { $count ->
        [one] { $count } fois
       *[other] { $count } fois
    }
health-chatters = va et vient
health-chatters_advice = Élargir sa bande morte ou son délai dans les réglages.
health-stood = a duré { $length }
health-stood_advice = Réparer ce qu’il y a derrière, ou changer le seuil si le lieu va bien.
health-journal = Ce qui s’est passé en { $days } jours
health-back = Retour aux alarmes

## what an alarm watches for

rule-above = { $quantity } au-dessus de { $limit }
rule-below = { $quantity } en dessous de { $limit }
rule-minutes_to_overheating = surchauffe attendue dans les { $limit }
rule-hours_to_dry = risque d’être trop sec dans les { $limit }
rule-silent_minutes = muet depuis plus de { $limit }
rule-dead_sensor_minutes = un capteur sans bonne mesure depuis plus de { $limit }
rule-silent_node_share = plus de { $limit } des cartes muettes à la fois
rule-unheard_nodes = des cartes du fichier pas encore reçues
rule-store_fault = les mesures ne peuvent pas être conservées
rule-broker_way_fault = le courtier ne transmet pas ce que les cartes envoient
rule-archive_lag_hours = l’archive en retard de plus de { $limit }
rule-copy_age_hours = la dernière bonne copie de la base vieille de plus de { $limit }
rule-copy_behind_hours = un endroit sans copie depuis plus de { $limit }
rule-unsent_message_minutes = un message non envoyé depuis plus de { $limit }
rule-condensation_margin = une surface à moins de { $limit } au-dessus du point de rosée
rule-condensation_margin_none = une surface sous le point de rosée
guard-lasting = { $what } pendant { $length }
guard-high = { $what } : vous réveille.
guard-medium = { $what } : envoie un message, hors des heures de repos.
guard-low = { $what } : figure dans le rapport de nuit.
guard-nobody = { $what } : une alarme dont personne n’est averti.
guard-too_slow = { $what } : la carte envoie toutes les { $every }, trop lent pour cela
guard-no_sensor = { $what } : aucun capteur ici
guard-no_sensor_for = { $what } : aucun capteur ici pour { $quantities }
guard-index = { $what } : la sonde donne un indice, pas une humidité, tant qu’elle n’est pas étalonnée (rearing-monitor calibrate probe)

## priority

priority-high = HAUTE
priority-medium = MOYENNE
priority-low = BASSE

## status

status-normal = normale
status-unacknowledged = personne ne l’a vue
status-acknowledged = vue
status-returned_unacknowledged = terminée, mais personne ne l’a vue
status-shelved = mise de côté
status-suppressed_by_design = retenue, comme le veulent les réglages ou un changement récent
status-out_of_service = hors service

## lists of the command line

list-stands = { $priority } { $title } : { $what }
list-name = Nom : { $name }
list-none_open = Aucune alarme n’est active, mise de côté ou hors service.
list-none_made = Les réglages ne font aucune alarme : il n’y a ni table [[places]] ni table [[nodes]].
list-journal = { $priority } { $title } : { $what } : { $event }
list-many = vaut pour { $names }
list-none_happened = Aucune alarme n’a changé pendant ce temps.
list-by = par { $who }
list-health = Ce que valent les alarmes, sur { $days } jours (mesures d’ISA-18.2 / IEC 62682)
list-health_line = { $name } : { $figure }
list-gone = { $name } (n’est plus dans les réglages)

## decisions of a person

decide-done = { $done } : { $what }, par { $who }
decide-kept = gardé pour le moniteur, à faire : { $done } : { $what }
decide-none_waits = Aucune alarme n’attend d’être vue.
decide-none_over = Aucune alarme terminée n’attend d’être vue.
decide-nobody_warned = Personne n’en est plus averti. Pour la remettre :

## messages

message-title = { $priority } { $place } { $what }
message-title_stale = { $priority } { $place } { $what } (pas de mesure récente)
message-title_suspect = { $priority } { $place } { $what } (mesure douteuse)
message-title_still = TOUJOURS { $title }
message-title_returned = RETOUR À LA NORMALE { $place } { $what }
message-title_unguarded = PAS SURVEILLÉ { $place } { $what }
message-unguarded = Aucune alarme n’en vient tant que cela vaut. S’il y a tout de même des animaux, annuler tout de suite.
message-name_air_temperature = air
message-name_substrate_temperature = substrat
message-name_surface_temperature = surface
message-name_substrate_moisture = teneur en eau
message-above = { $quantity } { $value }, limite { $limit }, trop haut
message-below = { $quantity } { $value }, limite { $limit }, trop bas
message-back = { $what }, revenu pour l’instant
message-between = { $what }, à peine revenu
message-over = { $quantity } { $value }, limite { $limit }
message-minutes_to_overheating = approche de sa limite haute dans environ { $value }
message-minutes_to_overheating_passed = approche de sa limite haute, en hausse
message-hours_to_dry = risque d’être trop sec dans { $value }
message-hours_to_dry_passed = peut-être déjà trop sec
message-silent_minutes = pas de mesure depuis { $value }
message-dead_sensor_minutes = pas de bonne mesure depuis { $value }
message-silent_node_share = { $value } des cartes muettes, courant ou réseau en panne
message-unheard_nodes = cartes pas encore reçues : { $value }
message-store_fault = les mesures ne peuvent pas être conservées
message-broker_way_fault = le courtier prend ce que les cartes envoient, mais ne le transmet pas
message-archive_lag_hours = l’archive a { $value } de retard
message-copy_age_hours = pas de bonne copie de la base depuis { $value }
message-copy_behind_hours = un endroit pour les copies n’en a pas reçu depuis { $value }
message-unsent_message_minutes = des messages attendent depuis { $value } d’être envoyés
message-over_minutes_to_overheating = ne va plus vers la surchauffe
message-over_hours_to_dry = ne va plus se dessécher
message-over_silent_minutes = envoie de nouveau des mesures
message-over_dead_sensor_minutes = mesure bien de nouveau
message-over_silent_node_share = les cartes émettent de nouveau
message-over_unheard_nodes = toutes les cartes ont été reçues
message-over_store_fault = les mesures sont de nouveau conservées
message-over_broker_way_fault = le courtier transmet ce que les cartes envoient
message-over_archive_lag_hours = l’archive a rattrapé son retard
message-over_copy_age_hours = la base est de nouveau copiée
message-over_copy_behind_hours = chaque endroit a de nouveau sa copie
message-over_unsent_message_minutes = les messages partent de nouveau
message-since = Depuis { $at } ({ $length }).
message-highest_so_far = Maximum jusqu’ici { $value }.
message-lowest_so_far = Minimum jusqu’ici { $value }.
message-highest = Maximum { $value }.
message-lowest = Minimum { $value }.
message-stale = Pas de mesure récente. À tenir pour toujours vrai.
message-stale_since = Pas de mesure récente : vrai pour la dernière fois ({ $at }). À tenir pour toujours vrai.
message-suspect = La mesure est douteuse. La tenir pour vraie jusqu’à ce que vous ayez regardé, et vérifier le capteur.
message-suspect_returned = La mesure est douteuse : vérifier le capteur.
message-do = À faire : { $text }
message-caution = Attention : { $text }
message-otherwise = Si rien n’est fait : { $text }
message-seen = J’ai vu : { $link }
message-late = Ce message est en retard : il attend depuis { $at }.
message-reminder = Rappel : personne ne l’a encore vue.
message-was_told = { $name } : averti ({ $at }), sans réponse.
message-not_reached = { $name } : impossible à joindre depuis { $at }.
message-returned = Retour à la normale.
message-returned_at = Retour à la normale depuis { $at }.
message-out_of_range = Hors limites de { $start } à { $end } ({ $length }).
message-acknowledged = Vue par { $who } ({ $at }).
message-somebody = quelqu’un
message-came_and_went = Elle est aussi venue et repartie à { $times }.
message-folded_title =
    { $count ->
        [one] { $count } message en un. Premier : { $first }
       *[other] { $count } messages en un. Premier : { $first }
    }
message-folded_reason = Plus de { $most } messages en une heure, ceux-ci viennent donc en un seul :
message-folded_more = et { $count } de plus
message-folded_all = Pour les voir tous : rearing-monitor alarms
message-night_title = Rapport de nuit { $site }, { $day }
message-test_title = ESSAI de { $site } : les messages vous parviennent
message-test = Envoyé à { $at } pour { $name }. Tout va bien. Une alarme vient de la même façon ; elle dit ce qui ne va pas et ce qu’il faut faire.
message-cannot_start_title = { $priority } { $site } le moniteur ne démarre pas
message-cannot_start =
    Rien n’est surveillé, et personne n’est averti de quoi que ce soit.
    { $problem }
    À faire : réparer sur l’ordinateur, et s’occuper des animaux soi-même jusqu’à ce que le moniteur tourne.
guard-heat_warning = Avec une mesure toutes les { $every }, l’alerte de chaleur vient environ { $warning } avant la limite (une fois sur deux plus tôt, une fois sur deux plus tard). Pour l’alerte la plus longue, une carte peut envoyer toutes les { $longest }.
guard-sounded_never = { $what } : n’aurait pas sonné ces { $days } derniers jours.
guard-sounded =
    { $count ->
        [one] { $what } : aurait sonné une fois ces { $days } derniers jours, pendant { $length }.
       *[other] { $what } : aurait sonné { $count } fois ces { $days } derniers jours, pendant { $length } en tout.
    }
