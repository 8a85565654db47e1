# Les mots de la page en français. Un mot entre {accolades} est mis par le programme : le laisser tel quel.


## format

format-list = { ", " }

## length

length-moment = moins d’une minute
length-minutes = { $count } min
length-hours = { $count } h
length-ago = { $at } (il y a { $length })
length-days =
    { $count ->
        [one] { $count } jour
       *[other] { $count } jours
    }

## unit

unit-RH = %
unit-min = min
unit-h = h

## value

value-none = pas de valeur
value-span = { $low } à { $high }
value-doubtful = douteux
value-not_since = rien reçu depuis { $at }
value-broken = le capteur montre l’impossible

## base

base-skip = Au contenu
base-parts = Parties de la page
base-more = Plus
base-invented = Démonstration

## part

part-now = État
part-night = Nuit
part-alarms = Alarmes
part-nodes = Cartes
part-me = Vous

## role

role-visitor = visiteur
role-helper = aide
role-owner = propriétaire

## state

state-high = Agir maintenant
state-medium = Agir bientôt
state-low = À surveiller
state-unknown = Inconnu
state-fine = Bien
state-empty = Vide
state-over = Terminé
state-shelved = Mis de côté
state-out_of_service = Hors service
state-normal = Revenu à la normale

## board

board-fine = envoie
board-unknown = muette
board-out_of_service = hors service
board-new = nouvelle

## kind

kind-room = Salle
kind-love_cage = Cage de ponte
kind-hatching_tray = Plateau d’éclosion
kind-grow_out_bin = Bac d’élevage
kind-pupation_box = Caisse de nymphose

## quantity

quantity-air_temperature = Température de l’air
quantity-air_humidity = Humidité de l’air
quantity-substrate_temperature = Température du substrat
quantity-substrate_moisture = Teneur en eau du substrat
quantity-surface_temperature = Température de surface
quantity-light = Lumière
quantity-battery = Pile
quantity-carbon_dioxide = Dioxyde de carbone
quantity-ammonia = Ammoniac
quantity-vapour_pressure_deficit = Pouvoir desséchant de l’air
quantity-dew_point = Point de rosée
quantity-condensation_margin = Marge avant condensation
quantity-minutes_to_overheating = Temps avant surchauffe
quantity-hours_to_dry = Temps avant dessèchement
quantity-silent_minutes = Silence
quantity-dead_sensor_minutes = Temps sans bonne mesure
quantity-silent_node_share = Part de cartes muettes
quantity-store_fault = Panne de la base de données
quantity-archive_lag_hours = Retard de l’archive
quantity-unsent_message_minutes = Âge du plus ancien message non envoyé

## short

short-air_temperature = Air
short-air_humidity = Humidité
short-substrate_temperature = Substrat
short-substrate_moisture = Eau
short-surface_temperature = Surface
short-light = Lumière

## way

way-rising = en hausse
way-falling = en baisse
way-steady = stable

## asked

command-done = C’est fait.
command-waiting = Demandé. Le moniteur n’a pas encore répondu ; regardez de nouveau dans un instant.
command-refused = Pas fait : { $why }

## now

now-fine = Tout va bien
now-need =
    { $count ->
        [one] { $count } lieu a besoin de vous
       *[other] { $count } lieux ont besoin de vous
    }
now-unknown =
    { $count ->
        [one] { $count } lieu inconnu
       *[other] { $count } lieux inconnus
    }
now-boards =
    { $count ->
        [one] { $count } alarme d’une carte ou du moniteur
       *[other] { $count } alarmes de cartes ou du moniteur
    }
now-boards_heading = Les cartes et le moniteur lui-même
now-stopped = Le moniteur ne tourne pas
now-stopped_heading = Le moniteur ne tourne pas
now-stopped_since = Son dernier signe de vie date de { $at }. Personne n’est averti, et ce qui suit est ancien.
now-stopped_never = Il n’a jamais tourné. Personne n’est averti.
now-stopped_do = Le démarrer sur son ordinateur : rearing-monitor run, ou le gestionnaire de services.
now-never_heard = Aucun capteur de ce lieu n’a jamais été reçu.
now-never_heard_do = Regarder la carte qui devrait s’y trouver. La partie Cartes montre ce qui a été reçu.
now-last_heard = Pas de mesure utilisable ; la dernière date de { $at }.
now-last_heard_do = Aller voir le lieu. Puis regarder { $nodes } : alimentation, câble, réseau.
now-fine_places =
    { $count ->
        [one] { $count } lieu va bien
       *[other] { $count } lieux vont bien
    }
now-no_places = Les réglages ne nomment encore aucun lieu, donc rien n’est surveillé.

## place

place-in_room = dans { $room }
place-spans = Durée
place-figures = Les chiffres
place-when = Quand
place-low = Le plus bas
place-mean = Moyenne
place-high = Le plus haut
place-no_sensor = Aucun capteur de ce lieu n’a encore rien envoyé.
place-happened = Ce qui s’est passé ici

## span

span-24h = 24 heures
span-7d = 7 jours
span-30d = 30 jours
span-year = Un an

## chart

chart-nothing = Pas de mesures pendant ce temps.
chart-lowest = Le plus bas { $value }, { $at }.
chart-highest = Le plus haut { $value }, { $at }.
chart-safe = Bien de { $low } à { $high }.
chart-safe_above = Bien au-dessus de { $low }.
chart-safe_below = Bien sous { $high }.

## key

key-safe = bonne plage
key-night = nuit
key-mark = alarme survenue

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
night-degree_days = { $earned } degrés-jours au-dessus de { $threshold }
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

## journal

journal-by = par { $who }
journal-nothing = Encore rien.

## nodes

nodes-heard = reçue { $at }
nodes-never = jamais reçue
nodes-battery = pile { $value }
nodes-battery_low = Sa pile est sous { $limit } : la charger ou la changer.
nodes-messages =
    { $count ->
        [one] { $count } message
       *[other] { $count } messages
    }
nodes-not_calibrated = jamais étalonnée
nodes-calibrated = étalonnée il y a { $days }
nodes-calibration_due = étalonnage à refaire : le dernier date de { $days }
nodes-clock = Son horloge est fausse : { $fault }
nodes-missing =
    { $count ->
        [one] { $count } de ses messages n’est jamais arrivé.
       *[other] { $count } de ses messages ne sont jamais arrivés.
    }
nodes-conflicts =
    { $count ->
        [one] { $count } mesure contredit une mesure antérieure du même instant.
       *[other] { $count } mesures contredisent des mesures antérieures du même instant.
    }
nodes-rejected =
    { $count ->
        [one] { $count } message n’a pas été compris : { $why }
       *[other] { $count } messages n’ont pas été compris, le dernier : { $why }
    }
nodes-no_place = dans aucun lieu
nodes-new =
    { $count ->
        [one] { $count } nouvelle carte
       *[other] { $count } nouvelles cartes
    }
nodes-new_explained = Ses mesures sont conservées, mais elle ne surveille rien tant qu’elle n’a pas de lieu.
nodes-in_place = Elle est dans
nodes-choose = choisir un lieu
nodes-put = La placer là
nodes-put_explained = Cela écrit dans le fichier des réglages. Ses commentaires restent, et l’ancien fichier est gardé à côté.
nodes-owner_only = Le propriétaire peut lui donner un lieu.
nodes-lines = Les lignes pour le fichier des réglages
nodes-care = À s’en occuper
nodes-fine = Celles-ci envoient
nodes-none = Aucune carte n’a été reçue, et les réglages n’en nomment aucune.
nodes-placed = { $node } a son lieu. Le moniteur relit les réglages dans un instant.
nodes-choose_place = Choisir un des lieux proposés.
nodes-not_heard = Cette carte n’a pas été reçue et n’est pas dans les réglages.
nodes-no_file = Cette page a été démarrée sans fichier de réglages ; ajouter les lignes à la main.

## login

login-heading = Se connecter
login-name = Votre nom
login-name_explained = Il figure à côté de ce que vous signalez et écrivez.
login-password = Mot de passe
login-do = Se connecter
login-wrong = Ce n’est pas le mot de passe.
login-too_often = Trop de mots de passe faux. Réessayer dans { $length }.

## me

me-who = Vous êtes connecté en tant que { $name } ({ $role }).
me-preferences = Comment vous voulez la page
me-language = Langue
me-language_wrong = Choisir une des langues proposées.
me-unit = Températures en
me-keep = Garder
me-helpers = Aides
me-helpers_explained = Une aide voit tout, signale et note, mais ne change aucun réglage.
me-helpers_on = Les aides peuvent se connecter.
me-helpers_off = Les aides ne peuvent pas encore se connecter.
me-helpers_password = Nouveau mot de passe des aides (vide : aucune ne peut se connecter)
me-helpers_keep = Changer
me-password_short = Un mot de passe a besoin d’au moins { $least } caractères.
me-out = Quitter
me-log_out = Se déconnecter

## link

link-not_valid = Ce lien n’est plus valable : il a servi, ou il a expiré. Connectez-vous pour voir l’état actuel.
link-no_alarm = L’alarme de ce lien n’est plus dans les réglages.
link-nothing_to_do = Il n’y a rien à signaler : elle a été vue, ou elle est terminée, ou elle est revenue depuis.
link-to_page = Vers la page

## problem

problem-heading = Cela n’a pas marché
problem-elsewhere = Ce formulaire ne vient pas de cette page, donc rien n’a été fait. Ouvrir la page elle-même et réessayer.
problem-form = Ce formulaire est trop ancien ou ne vient pas de cette page, donc rien n’a été fait. Revenir en arrière, recharger la page et réessayer.
problem-owner = Seul le propriétaire peut faire cela. Rien n’a été changé.
problem-usage = Cela ne peut pas se faire.
problem-store = La base de données n’est pas utilisable pour l’instant. Le moniteur continue de mémoire ; lancer rearing-monitor check sur son ordinateur.
problem-not_here = Cette page n’existe pas.
problem-not_so = Cette page ne peut pas être demandée ainsi.
problem-back = Au début
