# Les cartes : page, ligne de commande, rapport.


## board

board-fine = envoie
board-unknown = muette
board-unheard = pas encore reçue
board-out_of_service = hors service
board-new = nouvelle

## nodes

nodes-head = { $node } :
nodes-heard = reçue { $at }
nodes-never = pas encore reçue
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
nodes-boot_stands = Elle a redémarré sous le même numéro de démarrage. La carte doit compter chaque démarrage en mémoire flash ; sinon les messages perdus ne se voient pas.
nodes-boots_are_wakes = Chacun de ses derniers démarrages n’a eu qu’un ou deux messages : elle compte les réveils comme des démarrages, ou redémarre sans cesse. Les messages perdus ne se voient pas ainsi.
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
nodes-calibrated_today = étalonnée aujourd’hui
nodes-guards_nothing = Elle n’est dans aucun lieu, donc elle ne surveille rien.
nodes-silent_for = Muette depuis { $length }.
nodes-never_heard = Pas encore reçue.
nodes-not_in_settings = Elle envoie des mesures mais n’est pas dans les réglages : dites sur la page, sous Cartes, où elle est, ou voyez rearing-monitor nodes.
nodes-doubtful = { $sensor } : mesures douteuses pendant { $length } (bloqué, instable ou mouillé).
nodes-none_named = Les réglages ne nomment encore aucune carte.
nodes-new_line = { $facts }. Elle ne surveille rien tant que farm.toml ne contient pas :
nodes-place_line = enlever le premier # et nommer un de : { $places }
nodes-no_places_yet = aucun encore : ajouter d’abord une table [[places]]
nodes-nameless =
    { $count ->
        [one] { $count } message qui ne correspond à aucune carte, { $at } : { $why }
       *[other] { $count } messages qui ne correspondent à aucune carte, le dernier { $at } : { $why }
    }
nodes-column_board = carte
nodes-column_place = lieu
nodes-column_heard = reçue
nodes-column_battery = pile
nodes-column_messages = messages
nodes-column_missing = manquants
nodes-column_calibration = étalonnage
nodes-column_faults = défauts

## report of a board

board_report-age = compte rendu { $at }
board_report-kept = compte rendu plus ancien, gardé par le courtier jusqu’à { $at }
board_report-program = programme { $version }
board_report-program_on = programme { $version } sur { $chip }
board_report-uptime = était alors en marche depuis { $length }
board_report-reset_power = démarrée à l’arrivée du courant
board_report-reset_watchdog = redémarrée après un blocage
board_report-reset_wake = dort entre les mesures
board_report-reset_software = redémarrée par son programme
board_report-reset_brownout = redémarrée après une chute de son alimentation
board_report-clock_monitor = heure reçue du moniteur
board_report-clock_chip = heure de sa puce d’horloge
board_report-clock_kept = heure gardée pendant son sommeil
board_report-clock_none = ne connaît pas l’heure
board_report-signal_good = signal bon ({ $dbm } dBm)
board_report-signal_weak = signal faible ({ $dbm } dBm)
board_report-signal_too_weak = signal trop faible ({ $dbm } dBm)
board_report-heap = { $kb } ko de mémoire libres
board_report-probes = sondes { $probes }
board_report-waiting =
    { $count ->
        [one] { $count } message y attend
       *[other] { $count } messages y attendent
    }
board_report-lost =
    { $count ->
        [one] { $count } message perdu en tout
       *[other] { $count } messages perdus en tout
    }
board_report-damaged =
    { $count ->
        [one] { $count } octet de sa mémoire a été abîmé
       *[other] { $count } octets de sa mémoire ont été abîmés
    }
board_report-settings_in_force = les réglages sont en vigueur
board_report-settings_other = les réglages ne sont pas encore en vigueur
board_report-sensor = Son capteur { $sensor } { $what }.
board_report-fault = a un défaut ({ $code })
board_report-fault_no_answer = ne répond pas : voir le câble, la prise et l’alimentation
board_report-fault_crc = répond de façon brouillée : raccourcir le câble, l’éloigner du secteur, voir la résistance de rappel
board_report-fault_power_on_value = ne dit que sa valeur de mise sous tension : voir l’alimentation et la résistance de rappel
board_report-fault_rail = lit le bout de son échelle : un fil est débranché ou en touche un autre
board_report-fault_saturated = indique tout le temps l’humidité maximale : il est mouillé ou cassé
board_report-fault_range = dit ce qu’il ne peut pas mesurer
board_report-mend_watchdog = Elle s’est bloquée et a redémarré seule. Si cela revient, recopier son programme ou changer la carte.
board_report-mend_brownout = Son alimentation a chuté et elle a redémarré : voir le câble, le chargeur et la pile.
board_report-mend_reset = Elle a redémarré malgré elle dans les dernières 24 heures (blocage ou chute de l’alimentation).
board_report-mend_lost =
    { $count ->
        [one] Elle a perdu { $count } message pour de bon, dans les dernières 24 heures.
       *[other] Elle a perdu { $count } messages pour de bon en tout, dont dans les dernières 24 heures.
    }
board_report-mend_damaged =
    { $count ->
        [one] { $count } octet de sa mémoire a été abîmé dans les dernières 24 heures. Si cela continue, changer la carte.
       *[other] { $count } octets de sa mémoire ont été abîmés en tout, dont dans les dernières 24 heures. Si cela continue, changer la carte.
    }
board_report-mend_weak = Elle capte mal le réseau ({ $dbm } dBm) : tourner, déplacer ou relever son boîtier.
board_report-mend_too_weak = Elle capte trop mal le réseau ({ $dbm } dBm) : rapprocher un répéteur ou le routeur.
board_report-mend_program = Son programme est { $version } ; { $newer } vient avec ce moniteur : le copier par USB en passant.
board_report-mend_refused = Elle refuse ses réglages : { $why }

## archive

archive-head = Archive :
archive-up_to_date = à jour
archive-waiting =
    { $count ->
        [one] { $count } mesure attend
       *[other] { $count } mesures attendent
    }
archive-oldest = la plus ancienne depuis { $length }
archive-refused =
    { $count ->
        [one] { $count } mesure est refusée par le serveur et réessayée chaque heure
       *[other] { $count } mesures sont refusées par le serveur et réessayées chaque heure
    }
archive-trouble = dernier problème : { $error }
archive-compared = relue et comparée jusqu’à { $moment }
archive-begins = elle ne contient rien d’avant { $moment } : le serveur ne garde pas davantage
archive-filled =
    { $count ->
        [one] { $count } mesure que le serveur avait acceptée n’y était pas et a été renvoyée
       *[other] { $count } mesures que le serveur avait acceptées n’y étaient pas et ont été renvoyées
    }
archive-missing =
    { $count ->
        [one] { $count } mesure n’y est pas bien que le serveur l’ait acceptée deux fois, de { $moment }
       *[other] { $count } mesures n’y sont pas bien que le serveur les ait acceptées deux fois, la plus ancienne de { $moment }
    }
archive-unreadable = elle ne peut pas être relue, rien ne prouve donc ce qu’elle contient : { $error }

## battery

battery-count = { $count } jours
battery-row = { $name } : { $value }
battery-days = { $rhythm } : environ { $days } avec un accu de { $capacity } mAh, utilisé à { $used }.
battery-rhythm =
    { $count ->
        [one] Une mesure à intervalle de { $every }, envoyée à chaque fois
       *[other] Des mesures à intervalle de { $every }, envoyées par { $count }
    }
battery-others = À un autre rythme :
battery-power_cut = Toujours allumée, sur le secteur avec l’accu en secours : { $length } de coupure tenues.
battery-voltages = L’accu : plein à { $full } V, à charger à { $charge } V, jamais sous { $cut_off } V.
battery-pin = La broche de l’accu en reçoit la tension divisée par { $ratio } : de { $pin_full } à { $pin_cut_off } V ; elle mesure jusqu’à { $widest } V. Jamais l’accu lui-même.
battery-assumed = Supposé :
battery-measure = Personne n’a mesuré cela sur une de vos cartes. Mesurez, et donnez vos chiffres en options (voir --help).
battery-part_asleep_ma = endormie
battery-part_measuring_ma = éveillée
battery-part_measuring_s = éveillée à chaque mesure
battery-part_sending_ma = pendant l’envoi
battery-part_sending_s = radio allumée à chaque message
battery-part_always_on_ma = toujours allumée
battery-part_used = part utilisée de l’accu
battery-part_lost = perdu de lui-même chaque mois
